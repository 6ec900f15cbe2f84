package meshio_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func readJoined(t *testing.T, m *mesh.Mesh, mm float64, threads int) *meshio.Loaded {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, meshio.WritePLY(&b, m, meshio.PLYOptions{}))
	l, err := meshio.Read(context.Background(), save(t, "a.ply", b.Bytes()), meshio.Options{Unit: "mm", Join: mm, Threads: threads})
	require.NoError(t, err)
	return l
}

// soup takes a mesh apart into triangles whose corners are moved by up to mm along each axis.
func soup(m *mesh.Mesh, mm float64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(1, 2))
	out := &mesh.Mesh{}
	for _, f := range m.Faces {
		for _, v := range f {
			shift := geom.Vec{X: r.Float64() - 0.5, Y: r.Float64() - 0.5, Z: r.Float64() - 0.5}.Scale(2 * mm)
			out.Vertices = append(out.Vertices, m.Vertices[v].Add(shift))
		}
		n := uint32(len(out.Vertices))
		out.Faces = append(out.Faces, [3]uint32{n - 3, n - 2, n - 1})
	}
	return out
}

func TestJoinWithinATolerance(t *testing.T) {
	whole := wave(40)
	torn := soup(whole, 0.001)
	l := readJoined(t, torn, 0, 1)
	require.Len(t, l.Mesh.Vertices, len(torn.Vertices), "only exactly equal vertices unless asked")
	const mm = 0.004 // corners of one vertex are up to 2 · 0.001 · √3 apart
	l = readJoined(t, torn, mm, 1)
	require.Len(t, l.Mesh.Vertices, len(whole.Vertices))
	require.Len(t, l.Mesh.Faces, len(whole.Faces))
	require.Equal(t, len(torn.Vertices)-len(whole.Vertices), l.VerticesNear)
	require.Contains(t, l.Notices(), "7,919 vertices joined with others within the tolerance")
	for f := range torn.Faces {
		a, b, c := torn.Corners(uint32(f))
		p, q, r := l.Mesh.Corners(uint32(f))
		require.LessOrEqual(t, max(a.Dist(p), b.Dist(q), c.Dist(r)), mm, "no vertex moves farther")
	}
	require.Equal(t, torn.Vertices[0], l.Mesh.Vertices[0], "the first of a group stays where it is")
	require.Equal(t, l, func() *meshio.Loaded { o := readJoined(t, torn, mm, 3); o.Path = l.Path; return o }())
}

// The slow way, point by point, over points so dense that chains form.
func TestJoinEqualsThePlainWay(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	m := &mesh.Mesh{}
	for range 3000 {
		m.Vertices = append(m.Vertices, geom.Vec{X: r.Float64(), Y: r.Float64(), Z: r.Float64()}.Sub(geom.Vec{X: 0.5, Y: 0.5, Z: 0.5}))
	}
	const mm = 0.11
	var kept []geom.Vec
	for _, v := range m.Vertices {
		alone := true
		for _, k := range kept {
			alone = alone && v.Sub(k).Norm2() > float64(mm*mm)
		}
		if alone {
			kept = append(kept, v)
		}
	}
	l := readJoined(t, m, mm, 1)
	require.Equal(t, kept, l.Mesh.Vertices)
	require.Greater(t, len(kept), 100)
}

func TestJoinDropsFacesWithoutAreaAndRefusesNonsense(t *testing.T) {
	m := &mesh.Mesh{
		Vertices: []geom.Vec{{}, {X: 10}, {X: 10.0001}, {Y: 10}},
		Faces:    [][3]uint32{{0, 1, 3}, {1, 2, 3}},
		Colours:  [][3]uint8{{1}, {2}, {3}, {4}},
	}
	l := readJoined(t, m, 0.001, 1)
	require.Equal(t, [][3]uint32{{0, 1, 2}}, l.Mesh.Faces)
	require.Equal(t, [][3]uint8{{1}, {2}, {4}}, l.Mesh.Colours)
	require.Equal(t, []int{1, 1}, []int{l.DroppedNoArea, l.VerticesNear})

	path := save(t, "a.stl", binarySTL("", [9]float32{0, 0, 0, 0.5, 0, 0, 0, 0.5, 0}))
	for _, mm := range []float64{-1, 1e-9, 2} {
		_, err := meshio.Read(context.Background(), path, meshio.Options{Unit: "mm", Join: mm})
		require.ErrorContains(t, err, "not between 1e-6 and 1 mm")
	}
	_, err := meshio.Read(context.Background(), path, meshio.Options{Unit: "mm", Join: 1})
	requireFault(t, err, 0)
	require.ErrorContains(t, err, "no face is left when vertices within 1 mm are joined")
}
