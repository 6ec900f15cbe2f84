package lod_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/lod"
	"shutline/mesh/surface"
)

func normals(m *mesh.Mesh) func(vertex uint32) geom.Vec {
	n := m.VertexNormals()
	return func(vertex uint32) geom.Vec { return n[vertex] }
}

func cluster(t testing.TB, m *mesh.Mesh, cell float64, threads int) *lod.Level {
	l, err := lod.Cluster(context.Background(), m, normals(m), cell, threads, nil)
	require.NoError(t, err)
	return l
}

// Every vertex stands within a cell's diagonal of those it stands for, and on a
// sphere the coarser mesh lies within that of the sphere.
func TestErrorIsBounded(t *testing.T) {
	const cell = 4.0
	m := bodywork.SpherePatch(200, 0.6, 0.8)
	l := cluster(t, m, cell, 0)
	require.Less(t, len(l.Mesh.Faces), len(m.Faces)/10)
	require.Greater(t, len(l.Mesh.Faces), 100)
	require.LessOrEqual(t, l.Moved, math.Sqrt(3)*cell)
	members := 0
	for i, v := range l.Of {
		require.LessOrEqual(t, l.Mesh.Vertices[v].Dist(m.Vertices[i]), l.Moved)
	}
	for _, n := range l.Members {
		members += int(n)
	}
	require.Equal(t, len(m.Vertices), members)
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
	l := cluster(t, m, 7, 0)
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
	l := cluster(t, m, 5, 0)
	for i := range up.Vertices {
		require.NotEqual(t, l.Of[i], l.Of[uint32(i)+n])
	}
	require.InDelta(t, 2*up.Area(), l.Mesh.Area(), 4*4*25)
}

func TestTheSameForAnyThreads(t *testing.T) {
	m := bodywork.SpherePatch(200, 0.6, 0.8)
	want := cluster(t, m, 3, 1)
	for _, threads := range []int{2, 5} {
		require.Equal(t, want, cluster(t, m, 3, threads))
	}
}

func TestCarriesMeansOfWhatIsKnown(t *testing.T) {
	m := bodywork.Plane(40, 40, 1)
	l := cluster(t, m, 10, 0)
	mean, any := l.Carry(func(i uint32) (uint16, bool) {
		if m.Vertices[i].X < 20 {
			return uint16(1 + 2*(i&1)), true
		}
		return math.MaxUint16, false
	}, 3)
	sums, counts := make([]float64, len(mean)), make([]float64, len(mean))
	for i, v := range l.Of {
		if m.Vertices[i].X < 20 {
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
	m := bodywork.Plane(40, 40, 1)
	for _, cell := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := lod.Cluster(context.Background(), m, normals(m), cell, 0, nil)
		require.ErrorIs(t, err, lod.ErrCell)
	}
	_, err := lod.Cluster(context.Background(), m, normals(m), 1e-6, 0, nil)
	require.ErrorContains(t, err, "too small")
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = lod.Cluster(stopped, m, normals(m), 1, 0, nil)
	require.ErrorIs(t, err, context.Canceled)
	none, err := lod.Cluster(context.Background(), &mesh.Mesh{}, nil, 1, 0, nil)
	require.NoError(t, err)
	require.Empty(t, none.Mesh.Faces)
}

// BenchmarkCluster makes 5 million triangles some 300 thousand.
func BenchmarkCluster(b *testing.B) {
	m := bodywork.Plane(1600, 1600, 1)
	normal := normals(m)
	var l *lod.Level
	for b.Loop() {
		var err error
		if l, err = lod.Cluster(context.Background(), m, normal, 4.2, 0, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(m.Faces))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mtri/s")
	b.ReportMetric(float64(len(l.Mesh.Faces))/1e3, "ktri")
}

// A vertex that is nowhere takes no more than its own cell with it.
func TestAVertexNowhereSpoilsNothingElse(t *testing.T) {
	whole := cluster(t, bodywork.Plane(300, 200, 1), 7, 0)
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		m := bodywork.Plane(300, 200, 1)
		m.Vertices[5000].X = bad
		l := cluster(t, m, 7, 0)
		finite := 0
		for _, v := range l.Mesh.Vertices {
			if v.IsFinite() {
				finite++
			}
		}
		require.GreaterOrEqual(t, finite, len(whole.Mesh.Vertices)-1)
	}
	m := &mesh.Mesh{Vertices: []geom.Vec{{X: math.NaN()}}}
	l := cluster(t, m, 7, 0)
	require.Len(t, l.Mesh.Vertices, 1)
}
