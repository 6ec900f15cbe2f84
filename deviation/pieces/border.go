package pieces

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// rimOf returns which vertices lie on an open border.
func rimOf(ctx context.Context, m *mesh.Mesh) ([]bool, error) {
	twins, err := mesh.Twins(ctx, m)
	if err != nil {
		return nil, err
	}
	rim := make([]bool, len(m.Vertices))
	for s, t := range twins {
		if t == mesh.NoTwin {
			f := m.Faces[s/3]
			rim[f[s%3]], rim[f[(s+1)%3]] = true, true
		}
	}
	return rim, nil
}

// fan lists the faces around every vertex: those of v are face[start[v]:start[v+1]].
type fan struct{ start, face []uint32 }

func newFan(m *mesh.Mesh) fan {
	f := fan{start: make([]uint32, len(m.Vertices)+1), face: make([]uint32, 3*len(m.Faces))}
	for _, t := range m.Faces {
		for _, v := range t {
			f.start[v+1]++
		}
	}
	for v := range m.Vertices {
		f.start[v+1] += f.start[v]
	}
	next := append([]uint32(nil), f.start[:len(m.Vertices)]...)
	for i, t := range m.Faces {
		for _, v := range t {
			f.face[next[v]] = uint32(i)
			next[v]++
		}
	}
	return f
}

// farFrom returns how far, mm along edges, each vertex lies from the nearest seed, most where it is farther or there is none. It is
// Dijkstra's algorithm (1959). The error is ctx's.
func farFrom(ctx context.Context, m *mesh.Mesh, f *fan, seeds []uint32, most float64) ([]float64, error) {
	far := make([]float64, len(m.Vertices))
	for v := range far {
		far[v] = most
	}
	h := heap{}
	for _, v := range seeds {
		if far[v] > 0 {
			far[v] = 0
			h.push(0, v)
		}
	}
	for n := 0; len(h.of) > 0; n++ {
		if n%(1<<16) == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		d, v := h.pop()
		if d > far[v] {
			continue
		}
		p := m.Vertices[v]
		for _, face := range f.face[f.start[v]:f.start[v+1]] {
			for _, w := range m.Faces[face] {
				if w == v {
					continue
				}
				if e := d + p.Dist(m.Vertices[w]); e < far[w] {
					far[w] = e
					h.push(e, w)
				}
			}
		}
	}
	return far, ctx.Err()
}

// heap is a binary heap of vertices by distance.
type heap struct {
	at []float64
	of []uint32
}

func (h *heap) push(d float64, v uint32) {
	h.at, h.of = append(h.at, d), append(h.of, v)
	for k := len(h.of) - 1; k > 0; {
		up := (k - 1) / 2
		if h.at[up] <= h.at[k] {
			return
		}
		h.swap(k, up)
		k = up
	}
}

func (h *heap) pop() (float64, uint32) {
	d, v := h.at[0], h.of[0]
	last := len(h.of) - 1
	h.swap(0, last)
	h.at, h.of = h.at[:last], h.of[:last]
	for k := 0; ; {
		down := 2*k + 1
		if down >= last {
			return d, v
		}
		if down+1 < last && h.at[down+1] < h.at[down] {
			down++
		}
		if h.at[k] <= h.at[down] {
			return d, v
		}
		h.swap(k, down)
		k = down
	}
}

func (h *heap) swap(i, k int) {
	h.at[i], h.at[k] = h.at[k], h.at[i]
	h.of[i], h.of[k] = h.of[k], h.of[i]
}

// within returns the value of a linear function on a face at a point of it.
func within(m *mesh.Mesh, face uint32, p geom.Vec, values []float64) float64 {
	t := m.Faces[face]
	a, b, c := m.Corners(face)
	n := b.Sub(a).Cross(c.Sub(a))
	l2 := n.Norm2()
	if !(l2 > 0) {
		return values[t[0]]
	}
	wa := c.Sub(b).Cross(p.Sub(b)).Dot(n) / l2
	wb := a.Sub(c).Cross(p.Sub(c)).Dot(n) / l2
	wa, wb = min(max(wa, 0), 1), min(max(wb, 0), 1)
	wc := math.Max(0, 1-wa-wb)
	return float64(wa*values[t[0]]) + float64(wb*values[t[1]]) + float64(wc*values[t[2]])
}
