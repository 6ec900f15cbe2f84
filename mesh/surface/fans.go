package surface

import (
	"context"
	"fmt"

	"shutline/mesh"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// vertexRun is the number of vertices per parallel chunk.
const vertexRun = 1 << 14

// fans lists the faces around every vertex: those of v are
// face[start[v]:start[v+1]], in ascending order.
type fans struct {
	start []uint32
	face  []uint32
	rim   []bool // the vertex has an open edge
}

func newFans(ctx context.Context, m *mesh.Mesh, threads int) (fans, error) {
	start := pages.Make[uint32](len(m.Vertices) + 1)
	for i, t := range m.Faces {
		for _, v := range t {
			if int(v) >= len(m.Vertices) {
				return fans{}, fmt.Errorf("surface: face %d names vertex %d of %d", i, v, len(m.Vertices))
			}
			start[v+1]++
		}
	}
	for v := range m.Vertices {
		start[v+1] += start[v]
	}
	f := fans{start: start, face: pages.Make[uint32](3 * len(m.Faces)), rim: make([]bool, len(m.Vertices))}
	next := pages.Make[uint32](len(m.Vertices))
	copy(next, start)
	for i, t := range m.Faces {
		for _, v := range t {
			f.face[next[v]] = uint32(i)
			next[v]++
		}
	}
	err := parallel.Chunks(ctx, len(m.Vertices), vertexRun, threads, nil, func(_, _, lo, hi int) {
		for v := lo; v < hi; v++ {
			f.rim[v] = f.open(m, uint32(v))
		}
	})
	return f, err
}

func (f *fans) of(v uint32) []uint32 { return f.face[f.start[v]:f.start[v+1]] }

// open reports whether an edge of v has a single face.
func (f *fans) open(m *mesh.Mesh, v uint32) bool {
	for _, g := range f.of(v) {
		for _, w := range m.Faces[g] {
			if w != v && f.sharing(m, v, w) == 1 {
				return true
			}
		}
	}
	return false
}

// sharing counts the faces that have both v and w.
func (f *fans) sharing(m *mesh.Mesh, v, w uint32) int {
	n := 0
	for _, g := range f.of(v) {
		if t := &m.Faces[g]; t[0] == w || t[1] == w || t[2] == w {
			n++
		}
	}
	return n
}
