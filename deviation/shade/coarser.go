package shade

import (
	"context"
	"slices"

	"shutline/mesh/lod"
	"shutline/mesh/parallel"
)

// remnant is what is left of a cluster on a coarser level: a run of its faces.
type remnant struct {
	at       [3]int32 // twice the cluster's middle, steps of the grid
	from, to uint32
}

// blockRuns is about how many runs of clusterSize faces a block of a coarser level has.
const blockRuns = 16

// coarserOrder orders the faces of a coarser level of m so that runs of them, from where blocks begin, lie close together, and returns
// where the blocks end. What is left of a cluster is moved as one: that is much less to sort than the faces are.
func (m *Model) coarserOrder(level *lod.Level) (order []uint32, ends []int) {
	pieces, faces := len(level.From)-1, len(level.Mesh.Faces)
	size := max(blockRuns, pieces*blockRuns*clusterSize/faces)
	for at := 0; at < pieces; at += size {
		ends = append(ends, int(level.From[min(at+size, pieces)]))
	}
	order = make([]uint32, faces)
	parallel.Chunks(context.Background(), pieces, size, 0, nil, func(_, _, lo, hi int) {
		list := make([]remnant, 0, hi-lo)
		for i := lo; i < hi; i++ {
			r := remnant{from: level.From[i], to: level.From[i+1]}
			if r.from == r.to {
				continue
			}
			if i < len(m.clusters) {
				c := &m.clusters[i]
				for k := range 3 {
					r.at[k] = 2*c.base[k] + int32(c.extent[k])
				}
			}
			list = append(list, r)
		}
		from, to := int(level.From[lo]), int(level.From[hi])
		layOut(list, order[from:from:to], to-from)
	})
	// Blocks of which nothing is left are none.
	from := 0
	return order, slices.DeleteFunc(ends, func(to int) bool {
		none := to == from
		from = to
		return none
	})
}

// layOut appends the n faces of the list to an order, halving it again and again across its longest axis.
func layOut(list []remnant, order []uint32, n int) []uint32 {
	for n > clusterSize {
		lo, hi := list[0].at, list[0].at
		for i := range list {
			at := &list[i].at
			widen(&lo[0], &hi[0], at[0])
			widen(&lo[1], &hi[1], at[1])
			widen(&lo[2], &hi[2], at[2])
		}
		axis := longestAxis(&lo, &hi)
		slices.SortFunc(list, func(a, b remnant) int {
			if a.at[axis] != b.at[axis] {
				return int(a.at[axis] - b.at[axis])
			}
			return int(a.from) - int(b.from)
		})
		runs := (n + clusterSize - 1) / clusterSize
		low := (runs + 1) / 2 * clusterSize
		i, rest := 0, uint32(low)
		for ; list[i].to-list[i].from <= rest; i++ {
			rest -= list[i].to - list[i].from
		}
		cut := list[i] // some of it is low, or none
		list[i].to = cut.from + rest
		order = layOut(list[:i+1], order, low)
		cut.from += rest
		list[i] = cut
		list, n = list[i:], n-low
	}
	for _, r := range list {
		for f := r.from; f < r.to; f++ {
			order = append(order, f)
		}
	}
	return order
}
