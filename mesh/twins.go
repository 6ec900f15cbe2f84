package mesh

import (
	"context"
	"math"

	"shutline/mesh/pages"
)

// NoTwin marks a side that has no twin.
const NoTwin = math.MaxUint32

// longFan is how many sides at a vertex are sorted instead of compared with one another.
const longFan = 24

// Twins returns, for side k of face f (from its corner k to the next) at index
// 3f+k, the index of the side of the other face that shares its edge, or NoTwin where
// the edge has one face or more than two. It takes 12 bytes a face, and some 36 more
// while it works. m must have fewer than 2^32/3 faces. The error is ctx's.
func Twins(ctx context.Context, m *Mesh) ([]uint32, error) {
	// Sides are sorted by their lower vertex; those that share the higher one too are twins.
	begin := make([]uint32, len(m.Vertices)+1)
	for f := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		t := &m.Faces[f]
		begin[min(t[0], t[1])+1]++
		begin[min(t[1], t[2])+1]++
		begin[min(t[2], t[0])+1]++
	}
	for v := range m.Vertices {
		begin[v+1] += begin[v]
	}
	type half struct{ high, side uint32 }
	scratch := pages.NewScratch[half](3*len(m.Faces), 3*len(m.Faces))
	defer scratch.Release()
	halves := scratch.Data
	for f := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		t := &m.Faces[f]
		for k := range 3 {
			a, b := t[k], t[(k+1)%3]
			if a > b {
				a, b = b, a
			}
			halves[begin[a]] = half{b, uint32(3*f + k)}
			begin[a]++
		}
	}
	twin := make([]uint32, 3*len(m.Faces))
	pages.Huge(twin)
	for i := range twin {
		twin[i] = NoTwin
	}
	lo := uint32(0)
	for v := range m.Vertices {
		if v%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		// Filling moved every beginning to its end.
		at := halves[lo:begin[v]]
		lo = begin[v]
		if len(at) > longFan {
			if err := sortStable(ctx, at, func(a, b half) int { return int(a.high) - int(b.high) }); err != nil {
				return nil, err
			}
			for i := 0; i < len(at); {
				j := i + 1
				for j < len(at) && at[j].high == at[i].high {
					j++
				}
				if j == i+2 {
					twin[at[i].side], twin[at[i+1].side] = at[i+1].side, at[i].side
				}
				i = j
			}
			continue
		}
		for i := range at {
			mate, more := -1, false
			for j := range at {
				if j != i && at[j].high == at[i].high {
					more = mate >= 0
					mate = j
				}
			}
			if mate >= 0 && !more {
				twin[at[i].side] = at[mate].side
			}
		}
	}
	return twin, nil
}
