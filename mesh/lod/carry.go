package lod

import (
	"context"

	"shutline/mesh/parallel"
)

// total is a sum of codes: whole numbers add up to the same in any order.
type total struct {
	codes uint64
	count uint32
}

// Carry returns the means, over the vertices of the pieces that each vertex of the level stands for, of those of their codes that are
// known, and whether most were; code is asked by many threads at once. They serve pictures; peaks shrink.
func (l *Level) Carry(code func(vertex uint32) (code uint16, known bool), threads int) ([]float64, []bool) {
	groups := make([]total, len(l.vertex))
	parallel.Chunks(context.Background(), len(l.begin), 1, threads, nil, func(_, i, _, _ int) {
		lo, hi := l.begin[i].vertex, len(l.group)
		if i+1 < len(l.begin) {
			hi = l.begin[i+1].vertex
		}
		mine := groups[l.begin[i].group:]
		for k, g := range l.group[lo:hi] {
			if c, known := code(uint32(lo + k)); known {
				mine[g].codes += uint64(c)
				mine[g].count++
			}
		}
	})
	totals := make([]total, len(l.Members))
	for k, v := range l.vertex {
		totals[v].codes += groups[k].codes
		totals[v].count += groups[k].count
	}
	means, most := make([]float64, len(totals)), make([]bool, len(totals))
	for v, all := range totals {
		if all.count > 0 {
			means[v] = float64(all.codes) / float64(all.count)
			most[v] = 2*uint64(all.count) >= uint64(l.Members[v])
		}
	}
	return means, most
}
