package align

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// borderLeast in mm: a shorter stretch of border may lie along another by chance.
	borderLeast = 30.0
	// borderStep in mm between the stations along a border.
	borderStep = 4.0
	// borderWindow in mm, and borderEdges in edges: over the greater of them a border is averaged, since that of a mesh is as ragged as its facets.
	borderWindow = 12.0
	borderEdges  = 2.5
)

// station is a place on a border, averaged along it.
type station struct {
	p     geom.Vec
	along geom.Vec // unit, with the face on the left
	out   geom.Vec // unit, square to along in the skin, away from the face
	n     geom.Vec // unit normal of the skin
	chain int
	s     float64 // mm along the chain
}

// border is one chain of border edges.
type border struct {
	at     []geom.Vec // the vertices passed
	n      []geom.Vec // unit normal of the face at each edge
	length float64
	closed bool
}

// bordersOf returns the chains of border edges that are long enough, in the order of the
// mesh, and the mean length of their edges in mm. Where edges branch a chain ends.
func bordersOf(ctx context.Context, m *mesh.Mesh) (chains []border, spacing float64, err error) {
	t, err := mesh.NewEdges(ctx, m)
	if err != nil {
		return nil, 0, err
	}
	type step struct{ to, face uint32 }
	next := map[uint32]step{}
	branch, entered := map[uint32]bool{}, map[uint32]bool{}
	var starts []uint32
	for e := range t.Ends {
		if !t.Border(uint32(e)) {
			continue
		}
		side := t.Sides(uint32(e))[0]
		from, to := t.Ends[e][0], t.Ends[e][1]
		if !side.Forward() {
			from, to = to, from
		}
		if _, double := next[from]; double || entered[to] {
			branch[from], branch[to] = true, true
		}
		if _, double := next[from]; !double {
			next[from] = step{to, side.Face()}
			starts = append(starts, from)
		}
		entered[to] = true
	}
	if err := ctx.Err(); err != nil {
		return nil, 0, err
	}
	seen := map[uint32]bool{}
	edges, total := 0, 0.0
	walk := func(from uint32) {
		b := border{at: []geom.Vec{m.Vertices[from]}}
		for v := from; ; {
			s, ok := next[v]
			if !ok || seen[v] {
				break
			}
			seen[v] = true
			b.length += m.Vertices[v].Dist(m.Vertices[s.to])
			b.at, b.n = append(b.at, m.Vertices[s.to]), append(b.n, m.AreaNormal(s.face).Unit())
			v = s.to
			if v == from {
				b.closed = true
				break
			}
			if branch[v] {
				break
			}
		}
		if b.length >= borderLeast {
			chains = append(chains, b)
			edges += len(b.n)
			total += b.length
		}
	}
	for _, v := range starts { // chains that have an end first, from there
		if !seen[v] && (branch[v] || !entered[v]) {
			walk(v)
		}
	}
	for _, v := range starts {
		if !seen[v] {
			walk(v)
		}
	}
	return chains, total / float64(max(edges, 1)), nil
}

// stations returns places along the chains, averaged over a window in mm.
func stations(chains []border, window float64) []station {
	var out []station
	for c := range chains {
		out = append(out, chains[c].stations(c, window)...)
	}
	return out
}

func (b *border) stations(chain int, window float64) []station {
	window = min(window, b.length/8)
	// Integrals of place and normal from the start to each vertex.
	n := len(b.n)
	s := make([]float64, n+1)
	place, normal := make([]geom.Vec, n+1), make([]geom.Vec, n+1)
	for k := range n {
		d := b.at[k].Dist(b.at[k+1])
		s[k+1] = s[k] + d
		place[k+1] = place[k].AddScaled(d/2, b.at[k]).AddScaled(d/2, b.at[k+1])
		normal[k+1] = normal[k].AddScaled(d, b.n[k])
	}
	// upTo returns the integrals to t, and the place there, for t within one turn beyond both ends.
	upTo := func(t float64) (at, sum, turned geom.Vec) {
		var wrapped float64
		if b.closed {
			for t < 0 {
				t, wrapped = t+b.length, wrapped-1
			}
			for t > b.length {
				t, wrapped = t-b.length, wrapped+1
			}
		}
		lo, hi := 0, n-1
		for lo < hi {
			if mid := (lo + hi) / 2; s[mid+1] < t {
				lo = mid + 1
			} else {
				hi = mid
			}
		}
		d := s[lo+1] - s[lo]
		u := 0.0
		if d > 0 {
			u = min(max((t-s[lo])/d, 0), 1)
		}
		at = b.at[lo].Lerp(b.at[lo+1], u)
		sum = place[lo].AddScaled(u*d/2, b.at[lo]).AddScaled(u*d/2, at).AddScaled(wrapped, place[n])
		return at, sum, normal[lo].AddScaled(u*d, b.n[lo]).AddScaled(wrapped, normal[n])
	}
	var out []station
	half := float64(window / 2)
	first, last := half, b.length-half
	if b.closed {
		first, last = 0, b.length-float64(borderStep/2)
	}
	for t := first; t <= last; t += borderStep {
		a, sumA, turnA := upTo(t - half)
		z, sumZ, turnZ := upTo(t + half)
		q := station{p: sumZ.Sub(sumA).Scale(1 / window), along: z.Sub(a).Unit(), n: turnZ.Sub(turnA).Unit(), chain: chain, s: t}
		q.out = q.along.Cross(q.n).Unit()
		if q.out != (geom.Vec{}) && q.along != (geom.Vec{}) {
			out = append(out, q)
		}
	}
	return out
}

// stationGrid finds stations near a place.
type stationGrid struct {
	cell float64
	at   map[[3]int32][]int32
	all  []station
}

func newStationGrid(all []station, cell float64) *stationGrid {
	g := &stationGrid{cell: cell, at: map[[3]int32][]int32{}, all: all}
	for i := range all {
		k := cellOf(all[i].p, cell)
		g.at[k] = append(g.at[k], int32(i))
	}
	return g
}

const (
	cosBorder = 0.9659 // 15 degrees, between the tangents and between the outward directions
	// borderOff in mm: how far a border may lie from the skin beside the other border.
	borderOff = 1.0
)

// nearest returns the station nearest to s among those that run and look alike, -1 for none within the cell's size.
func (g *stationGrid) nearest(s *station) int {
	best, d2 := -1, g.cell*g.cell
	k := cellOf(s.p, g.cell)
	for z := k[2] - 1; z <= k[2]+1; z++ {
		for y := k[1] - 1; y <= k[1]+1; y++ {
			for x := k[0] - 1; x <= k[0]+1; x++ {
				for _, i := range g.at[[3]int32{x, y, z}] {
					q := &g.all[i]
					d := s.p.Sub(q.p)
					if n := d.Norm2(); n < d2 && q.along.Dot(s.along) > cosBorder && q.out.Dot(s.out) > cosBorder && math.Abs(d.Dot(q.n)) < borderOff {
						best, d2 = int(i), n
					}
				}
			}
		}
	}
	return best
}
