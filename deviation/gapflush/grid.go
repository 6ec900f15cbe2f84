package gapflush

import "math"

// grid holds things by the cell they lie in, in ascending order within each. Cells have numbers:
// by where they lie in a box, where that has few more cells than things, else as they come.
type grid struct {
	ids    []int32
	starts []int32 // by number, and one more
	lo     cell
	n      [3]int
	number map[cell]int // nil for a box
}

// densest is how many cells a box may have for each thing in it, at four bytes a cell.
const densest = 4

// nowhere is the cell of a thing that a grid leaves out.
var nowhere = cell{math.MaxInt32, math.MaxInt32, math.MaxInt32}

// newGrid sorts things by where they lie.
func newGrid(at []cell) *grid {
	g := &grid{lo: nowhere}
	hi := cell{math.MinInt32, math.MinInt32, math.MinInt32}
	for _, c := range at {
		if c != nowhere {
			g.lo = cell{min(g.lo.x, c.x), min(g.lo.y, c.y), min(g.lo.z, c.z)}
			hi = cell{max(hi.x, c.x), max(hi.y, c.y), max(hi.z, c.z)}
		}
	}
	if g.lo == nowhere {
		return g
	}
	g.n = [3]int{int(hi.x) - int(g.lo.x) + 1, int(hi.y) - int(g.lo.y) + 1, int(hi.z) - int(g.lo.z) + 1}
	cells := g.n[0] * g.n[1] * g.n[2]
	if box := float64(g.n[0]) * float64(g.n[1]) * float64(g.n[2]); box > densest*float64(len(at)) {
		g.number = make(map[cell]int)
		for _, c := range at {
			if _, ok := g.number[c]; !ok && c != nowhere {
				g.number[c] = len(g.number)
			}
		}
		cells = len(g.number)
	}
	g.starts = make([]int32, cells+1)
	for _, c := range at {
		if k, ok := g.index(c); ok {
			g.starts[k+1]++
		}
	}
	for i := 1; i < len(g.starts); i++ {
		g.starts[i] += g.starts[i-1]
	}
	g.ids = make([]int32, g.starts[cells])
	next := append([]int32{}, g.starts...)
	for i, c := range at {
		if k, ok := g.index(c); ok {
			g.ids[next[k]] = int32(i)
			next[k]++
		}
	}
	return g
}

// index returns a cell's number; ok is false where nothing lies in or near it.
func (g *grid) index(c cell) (k int, ok bool) {
	if g.number != nil {
		k, ok = g.number[c]
		return k, ok
	}
	x, y, z := int(c.x)-int(g.lo.x), int(c.y)-int(g.lo.y), int(c.z)-int(g.lo.z)
	if x < 0 || y < 0 || z < 0 || x >= g.n[0] || y >= g.n[1] || z >= g.n[2] {
		return 0, false
	}
	return (x*g.n[1]+y)*g.n[2] + z, true
}

// run is a stretch of things side by side.
type run struct{ from, to int32 }

// run returns what lies in a cell of a grid whose things have taken the places that it gives them.
func (g *grid) run(c cell) run {
	k, ok := g.index(c)
	if !ok {
		return run{}
	}
	return run{g.starts[k], g.starts[k+1]}
}

// of returns what lies in a cell.
func (g *grid) of(c cell) []int32 {
	k, ok := g.index(c)
	if !ok {
		return nil
	}
	return g.ids[g.starts[k]:g.starts[k+1]]
}
