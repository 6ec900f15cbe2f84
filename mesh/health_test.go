package mesh_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// cube returns the unit cube of 12 triangles, wound outward.
func cube() *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Vertices = append(m.Vertices, geom.Vec{X: float64(i & 1), Y: float64(i >> 1 & 1), Z: float64(i >> 2)})
	}
	for _, q := range [][4]uint32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]uint32{q[0], q[1], q[2]}, [3]uint32{q[0], q[2], q[3]})
	}
	return m
}

// sheet returns an n by n grid of unit squares, two triangles each, without the squares in holes.
func sheet(n int, holes ...[2]int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for y := 0; y <= n; y++ {
		for x := 0; x <= n; x++ {
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(x), Y: float64(y)})
		}
	}
	for y := range n {
	square:
		for x := range n {
			for _, h := range holes {
				if h == [2]int{x, y} {
					continue square
				}
			}
			a := uint32(y*(n+1) + x)
			b, c, d := a+1, a+uint32(n)+2, a+uint32(n)+1
			m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
		}
	}
	return m
}

func examine(t *testing.T, m *mesh.Mesh) mesh.Report {
	t.Helper()
	r, err := mesh.Health(context.Background(), m)
	require.NoError(t, err)
	return r
}

// The cube's figures are elementary: 12 faces, 18 edges (Euler: V - E + F = 2), area 6, volume 1.
func TestHealthOfACube(t *testing.T) {
	r := examine(t, cube())
	require.Equal(t, 18, r.Edges)
	require.Equal(t, 2, r.Vertices-r.Edges+r.Faces)
	require.Equal(t, 1, r.Components)
	require.Zero(t, r.BorderEdges)
	require.True(t, r.Closed)
	require.Equal(t, 6.0, r.Area)
	require.InDelta(t, 1, r.VolumeMM3, 1e-15)
	require.Equal(t, 1.0, r.MedianEdge) // 12 sides of 1, 6 diagonals
	require.Equal(t, 1.0, r.FineEdge)
	require.Empty(t, r.Faults())
}

func TestHealthTellsACubeInsideOut(t *testing.T) {
	r := examine(t, cube().Mirrored(0))
	require.InDelta(t, 1, r.VolumeMM3, 1e-15)
	m := cube()
	for i, f := range m.Faces {
		m.Faces[i] = [3]uint32{f[0], f[2], f[1]}
	}
	r = examine(t, m)
	require.InDelta(t, -1, r.VolumeMM3, 1e-15)
	require.Contains(t, r.Faults()[0], "inside out")
}

func TestHealthFindsBorderLoops(t *testing.T) {
	r := examine(t, sheet(5, [2]int{1, 1}, [2]int{3, 3}))
	require.Equal(t, []mesh.Loop{{20, 20, true}, {4, 4, true}, {4, 4, true}}, r.BorderLoops)
	require.Equal(t, 28, r.BorderEdges)
	require.Equal(t, 28.0, r.BorderLength)
	require.Zero(t, r.PinchedVertices)
}

func TestHealthJoinsHolesThatTouchInAPoint(t *testing.T) {
	r := examine(t, sheet(5, [2]int{1, 1}, [2]int{2, 2}))
	require.Equal(t, 1, r.PinchedVertices)
	require.Equal(t, 28, r.BorderEdges)
	// Turning about the pinched vertex inside the sheet joins the two holes' borders into one of 8 edges.
	require.Equal(t, []mesh.Loop{{20, 20, true}, {8, 8, true}}, r.BorderLoops)
}

func TestHealthCountsFaults(t *testing.T) {
	flipped := sheet(3)
	f := flipped.Faces[8] // an inner face: three neighbours
	flipped.Faces[8] = [3]uint32{f[0], f[2], f[1]}
	r := examine(t, flipped)
	require.Equal(t, 3, r.FlippedEdges)

	doubled := sheet(3)
	f = doubled.Faces[8]
	doubled.Faces = append(doubled.Faces, [3]uint32{f[1], f[2], f[0]}, [3]uint32{f[1], f[0], f[2]})
	r = examine(t, doubled)
	require.Equal(t, 2, r.DuplicateFaces)
	require.Zero(t, r.BranchingEdges)
	require.Zero(t, r.FlippedEdges)
	whole := sheet(3)
	twice := &mesh.Mesh{Vertices: whole.Vertices, Faces: append(append([][3]uint32{}, whole.Faces...), whole.Faces...)}
	r = examine(t, twice)
	once := examine(t, whole)
	require.Equal(t, len(whole.Faces), r.DuplicateFaces)
	require.Equal(t, 2*once.Area, r.Area)
	require.Equal(t, once.BorderLoops, r.BorderLoops, "a sheet written twice is no closed surface")
	require.False(t, r.Closed)
	require.Empty(t, r.Grave())

	twins := &mesh.Mesh{Vertices: sheet(1).Vertices, Faces: [][3]uint32{{0, 1, 2}, {2, 1, 0}}}
	r = examine(t, twins)
	require.Equal(t, 1, r.DuplicateFaces)
	require.Equal(t, 1, r.LooseVertices)

	touching := &mesh.Mesh{Vertices: make([]geom.Vec, 5), Faces: [][3]uint32{{0, 1, 2}, {2, 3, 4}}}
	for i := range touching.Vertices {
		touching.Vertices[i] = geom.Vec{X: float64(i), Y: float64(i * i)}
	}
	r = examine(t, touching)
	require.Equal(t, 2, r.Components)
	require.Equal(t, 1, r.PinchedVertices)
	require.Len(t, r.BorderLoops, 2)
	require.NotEmpty(t, r.Faults())
}

func TestHealthOfABranchingBorder(t *testing.T) {
	// Three triangles on one edge: no border can be followed past its ends.
	m := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 1}, {Y: 1}, {Z: 1}, {Y: -1}}, Faces: [][3]uint32{{0, 1, 2}, {0, 1, 3}, {0, 1, 4}}}
	r := examine(t, m)
	require.Equal(t, 1, r.BranchingEdges)
	require.Equal(t, 6, r.BorderEdges)
	require.Len(t, r.BorderLoops, 3)
	for _, l := range r.BorderLoops {
		require.False(t, l.Closed)
		require.Equal(t, 2, l.Edges)
	}
}

func TestEdgesAnswerForEverySide(t *testing.T) {
	m := sheet(4)
	e, err := mesh.NewEdges(context.Background(), m)
	require.NoError(t, err)
	for f, corners := range m.Faces {
		for k, edge := range e.OfFace[f] {
			a, b := corners[k], corners[(k+1)%3]
			require.Equal(t, [2]uint32{min(a, b), max(a, b)}, e.Ends[edge])
			found := 0
			for _, s := range e.Sides(edge) {
				if s.Face() == uint32(f) {
					found++
					require.Equal(t, a < b, s.Forward())
				}
			}
			require.Equal(t, 1, found)
			if other, ok := e.Across(edge, uint32(f)); ok {
				require.NotEqual(t, uint32(f), other)
				back, _ := e.Across(edge, other)
				require.Equal(t, uint32(f), back)
			} else {
				require.True(t, e.Border(edge))
			}
		}
	}
}

func TestHealthStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := mesh.Health(ctx, cube())
	require.ErrorIs(t, err, context.Canceled)
}

func TestHealthOfPoints(t *testing.T) {
	r := examine(t, &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 2}}})
	require.Equal(t, 2, r.LooseVertices)
	require.Len(t, r.Faults(), 1)
	r = examine(t, &mesh.Mesh{})
	require.True(t, r.Box.Empty())
}

func BenchmarkHealth(b *testing.B) {
	m := sheet(1000)
	for b.Loop() {
		if _, err := mesh.Health(context.Background(), m); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Faces))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}
