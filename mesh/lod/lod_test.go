package lod_test

import (
	"context"
	"math"
	"sort"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/lod"
	"shutline/mesh/surface"
)

// cut is a mesh cut into pieces of some faces in their order.
type cut struct {
	grid   lod.Grid
	pieces []lod.Piece
	count  int      // vertices of the pieces
	vertex []uint32 // of the mesh, for each of them
}

func (c *cut) Grid() lod.Grid                { return c.grid }
func (c *cut) Count() (pieces, vertices int) { return len(c.pieces), c.count }
func (c *cut) Piece(i int, to *lod.Piece) {
	p := &c.pieces[i]
	to.First, to.At, to.Normals, to.Rim, to.Faces = p.First, p.At, p.Normals, p.Rim, p.Faces
}

// at returns where a vertex of the pieces lies.
func (c *cut) at(vertex int) geom.Vec {
	after := sort.Search(len(c.pieces), func(i int) bool { return int(c.pieces[i].First) > vertex })
	p := &c.pieces[after-1]
	at := p.At[vertex-int(p.First)]
	return c.grid.Zero.AddScaled(c.grid.Step, geom.Vec{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])})
}

// cutUp cuts a mesh up; what is on a border is told by edges that one face has.
func cutUp(m *mesh.Mesh) *cut {
	const faces = lod.MostVertices / 3
	box := m.Bounds()
	_, e := math.Frexp(box.Diagonal())
	c := &cut{grid: lod.Grid{Zero: box.Lo, Step: math.Ldexp(1, e-24), Reach: 1 << 24}}
	edges := map[[2]uint32]int{}
	for _, f := range m.Faces {
		for k := range f {
			edges[[2]uint32{f[k], f[(k+1)%3]}]++
			edges[[2]uint32{f[(k+1)%3], f[k]}]--
		}
	}
	rim := make([]bool, len(m.Vertices))
	for e, n := range edges {
		if n != 0 {
			rim[e[0]], rim[e[1]] = true, true
		}
	}
	normals := m.VertexNormals()
	for from := 0; from < len(m.Faces); from += faces {
		p := lod.Piece{First: uint32(len(c.vertex))}
		local := map[uint32]uint8{}
		for _, f := range m.Faces[from:min(from+faces, len(m.Faces))] {
			var t [3]uint8
			for k, v := range f {
				if _, ok := local[v]; !ok {
					local[v] = uint8(len(local))
					d, n := m.Vertices[v].Sub(box.Lo).Scale(1/c.grid.Step), normals[v].Scale(127)
					p.At = append(p.At, [3]int32{int32(math.Round(d.X)), int32(math.Round(d.Y)), int32(math.Round(d.Z))})
					p.Normals = append(p.Normals, [3]int8{int8(math.Round(n.X)), int8(math.Round(n.Y)), int8(math.Round(n.Z))})
					p.Rim = append(p.Rim, rim[v])
					c.vertex = append(c.vertex, v)
				}
				t[k] = local[v]
			}
			p.Faces = append(p.Faces, t)
		}
		c.pieces = append(c.pieces, p)
	}
	c.count = len(c.vertex)
	return c
}

func cluster(t testing.TB, p lod.Pieces, cell float64, threads int) *lod.Level {
	l, err := lod.Cluster(context.Background(), p, cell, threads)
	require.NoError(t, err)
	return l
}

// Every vertex stands within a cell's diagonal of those it stands for, and on a
// sphere the coarser mesh lies within that of the sphere.
func TestErrorIsBounded(t *testing.T) {
	const cell = 4.0
	m := bodywork.SpherePatch(200, 0.6, 0.8)
	p := cutUp(m)
	l := cluster(t, p, cell, 0)
	require.Less(t, len(l.Mesh.Faces), len(m.Faces)/10)
	require.Greater(t, len(l.Mesh.Faces), 100)
	stands := make([]int, len(l.Mesh.Vertices))
	of, apart, farthest := map[uint32]uint32{}, 0, 0.0
	for i, v := range p.vertex {
		stands[l.Of(i)]++
		farthest = max(farthest, l.Mesh.Vertices[l.Of(i)].Dist(p.at(i)))
		if before, ok := of[v]; ok && before != l.Of(i) {
			apart++
		}
		of[v] = l.Of(i)
	}
	require.LessOrEqual(t, farthest, math.Sqrt(3)*cell)
	require.Zero(t, apart, "what pieces share stays one")
	for v, n := range l.Members {
		require.EqualValues(t, stands[v], n)
	}
	s, err := surface.New(context.Background(), l.Mesh, 0, nil)
	require.NoError(t, err)
	near := s.NewFinder()
	for _, p := range m.Vertices {
		hit, ok := near.Closest(p, math.Inf(1))
		require.True(t, ok)
		require.LessOrEqual(t, hit.Distance, math.Sqrt(3)*cell)
	}
}

// The border of a rectangle stays on its border.
func TestBordersAreKept(t *testing.T) {
	m := bodywork.Plane(300, 200, 1)
	l := cluster(t, cutUp(m), 7, 0)
	box := geom.BoxOf(l.Mesh.Vertices)
	for _, side := range []float64{box.Lo.X, 300 - box.Hi.X, box.Lo.Y, 200 - box.Hi.Y} {
		require.InDelta(t, 0, side, 1e-9)
	}
	require.InDelta(t, m.Area(), l.Mesh.Area(), 4*7*7) // corners are cut by less than a cell
}

// The two sides of a thin sheet do not become one.
func TestSidesOfASheetStayApart(t *testing.T) {
	up := bodywork.Plane(100, 100, 1)
	n := uint32(len(up.Vertices))
	m := &mesh.Mesh{Vertices: append([]geom.Vec(nil), up.Vertices...), Faces: append([][3]uint32(nil), up.Faces...)}
	for _, v := range up.Vertices {
		m.Vertices = append(m.Vertices, v.Add(geom.Vec{Z: -0.8}))
	}
	for _, f := range up.Faces {
		m.Faces = append(m.Faces, [3]uint32{f[0] + n, f[2] + n, f[1] + n})
	}
	p := cutUp(m)
	l := cluster(t, p, 5, 0)
	upper := map[uint32]bool{}
	for i, v := range p.vertex {
		if v < n {
			upper[l.Of(i)] = true
		}
	}
	for i, v := range p.vertex {
		if v >= n {
			require.False(t, upper[l.Of(i)])
		}
	}
	require.InDelta(t, 2*up.Area(), l.Mesh.Area(), 4*4*25)
}

func TestTheSameForAnyThreads(t *testing.T) {
	p := cutUp(bodywork.SpherePatch(200, 0.6, 0.8))
	want := cluster(t, p, 3, 1)
	for _, threads := range []int{2, 5} {
		require.Equal(t, want, cluster(t, p, 3, threads))
	}
}

func TestCarriesMeansOfWhatIsKnown(t *testing.T) {
	p := cutUp(bodywork.Plane(40, 40, 1))
	l := cluster(t, p, 10, 0)
	mean, any := l.Carry(func(i uint32) (uint16, bool) {
		if p.at(int(i)).X < 20 {
			return uint16(1 + 2*(i&1)), true
		}
		return math.MaxUint16, false
	}, 3)
	sums, counts := make([]float64, len(mean)), make([]float64, len(mean))
	for i := range p.vertex {
		if v := l.Of(i); p.at(i).X < 20 {
			sums[v], counts[v] = sums[v]+float64(1+2*(i&1)), counts[v]+1
		}
	}
	for i, v := range l.Mesh.Vertices {
		switch {
		case any[i]:
			require.InDelta(t, sums[i]/counts[i], mean[i], 1e-12)
		default:
			require.GreaterOrEqual(t, v.X, 20.0)
		}
	}
}

func TestBadCells(t *testing.T) {
	p := cutUp(bodywork.Plane(40, 40, 1))
	for _, cell := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := lod.Cluster(context.Background(), p, cell, 0)
		require.ErrorIs(t, err, lod.ErrCell)
	}
	_, err := lod.Cluster(context.Background(), p, 1e-6, 0)
	require.ErrorContains(t, err, "too small")
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = lod.Cluster(stopped, p, 1, 0)
	require.ErrorIs(t, err, context.Canceled)
	none, err := lod.Cluster(context.Background(), &cut{}, 1, 0)
	require.NoError(t, err)
	require.Empty(t, none.Mesh.Faces)
}

// Cells of which many lie in a run of pieces, and as few as they can be, are what they are in runs of any length.
func TestCellsOfAnySize(t *testing.T) {
	m := bodywork.Plane(200, 200, 1)
	p := cutUp(m)
	fine := cluster(t, p, 0.9, 0)
	require.Len(t, fine.Mesh.Vertices, len(m.Vertices))
	require.Len(t, fine.Mesh.Faces, len(m.Faces))
	require.InDelta(t, m.Area(), fine.Mesh.Area(), 1e-6)
	one := cluster(t, p, 1000, 0)
	require.Len(t, one.Mesh.Vertices, 1)
	require.Empty(t, one.Mesh.Faces)
}

// BenchmarkCluster makes 5 million triangles some 300 thousand.
func BenchmarkCluster(b *testing.B) {
	m := bodywork.Plane(1600, 1600, 1)
	p := cutUp(m)
	var l *lod.Level
	for b.Loop() {
		var err error
		if l, err = lod.Cluster(context.Background(), p, 4.2, 0); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Faces))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mtri/s")
	b.ReportMetric(float64(len(l.Mesh.Faces))/1e3, "ktri")
}
