package shade

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// hills is a sheet of n by n quads, 2 m wide, with its height as deviation.
func hills(n int) (*mesh.Mesh, []float64) {
	m := &mesh.Mesh{}
	var height []float64
	for i := range n + 1 {
		for j := range n + 1 {
			x, y := 2000*float64(i)/float64(n), 2000*float64(j)/float64(n)
			z := 40 * math.Sin(x/200) * math.Cos(y/250)
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: y, Z: z})
			height = append(height, z/40)
			if i > 0 && j > 0 {
				k := uint32(i*(n+1) + j)
				l := k - uint32(n+1)
				m.Faces = append(m.Faces, [3]uint32{l - 1, k - 1, k}, [3]uint32{l - 1, k, l})
			}
		}
	}
	return m, height
}

// What stands in while the view moves looks like the part to within little, whether it was painted before
// or after, and what is picked is the part itself.
func TestStandInLooksLikeThePart(t *testing.T) {
	m, height := hills(420)
	full := NewModel(m, nil)
	require.True(t, full.Large())
	scale := NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3})
	c := Camera{Target: geom.Vec{X: 1000, Y: 1000}, Right: geom.Vec{X: 1}, Up: geom.Vec{Y: 1}, Height: 2300}
	const w, h = 640, 400
	_, ok := StandIns([]*Model{full}, c, h, CoarsestCell)
	require.False(t, ok, "there is none yet")
	full.Paint(height, nil, scale)
	require.NoError(t, full.Coarsen(context.Background(), full.StandInCell(), 2))
	drawn, ok := StandIns([]*Model{full}, c, h, CoarsestCell)
	require.True(t, ok)
	require.Less(t, drawn[0].Triangles(), full.Triangles()/2*3)
	near := c
	near.Height = 100
	_, ok = StandIns([]*Model{full}, near, h, CoarsestCell)
	require.False(t, ok, "from so near the cells would show")
	var r Renderer
	differ := func() int {
		want := append([]uint8(nil), r.Render([]*Model{full}, c, LightTheme(), w, h, 1).Image.Pix...)
		got := r.RenderMoving([]*Model{full}, c, LightTheme(), w, h, CoarsestCell, 1)
		n := 0
		for i := range want {
			if d := int(want[i]) - int(got.Image.Pix[i]); d > 40 || d < -40 {
				n++
			}
		}
		hit, ok := got.PickHit(w/2, h/2)
		require.True(t, ok)
		require.Less(t, int(hit.Face), len(m.Faces))
		require.InDelta(t, 0, hit.At.Sub(geom.Vec{X: 1000, Y: 1000}).Norm(), 40)
		return n
	}
	require.Less(t, differ(), 4*w*h/50)
	for i := range height {
		height[i] = -height[i]
	}
	full.Paint(height, nil, scale)
	require.Less(t, differ(), 4*w*h/50)
	full.Paint(nil, nil, scale)
	require.Less(t, differ(), 4*w*h/50)
}

// A vertex that is nowhere takes no more than its own faces with it.
func TestAVertexNowhereSpoilsNoStandIn(t *testing.T) {
	m, _ := hills(300)
	whole := NewModel(m, nil)
	require.NoError(t, whole.Coarsen(context.Background(), 10, 0))
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		m, _ := hills(300)
		m.Vertices[5000].X = bad
		full := NewModel(m, nil)
		require.NoError(t, full.Coarsen(context.Background(), 10, 0))
		level := full.standIn.Load().level
		require.GreaterOrEqual(t, len(level.Mesh.Vertices), len(whole.standIn.Load().level.Mesh.Vertices)-1)
		for _, v := range level.Mesh.Vertices {
			require.True(t, v.IsFinite())
		}
	}
}

// What stands in for a mesh that is none but specks is drawn as points.
func TestSpecksAreDrawnAsPoints(t *testing.T) {
	m := &mesh.Mesh{}
	for i := range 400 {
		at, n := geom.Vec{X: float64(i%20)*10 + 1, Y: float64(i/20)*10 + 1}, uint32(len(m.Vertices))
		m.Vertices = append(m.Vertices, at, at.Add(geom.Vec{X: 0.01}), at.Add(geom.Vec{Y: 0.01}))
		m.Faces = append(m.Faces, [3]uint32{n, n + 1, n + 2})
	}
	full := NewModel(m, nil)
	full.Paint(make([]float64, len(m.Vertices)), nil, NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3}))
	require.NoError(t, full.Coarsen(context.Background(), 4, 0))
	points := full.standIn.Load().model
	require.Len(t, points.position, 400)
	require.Zero(t, points.Triangles())
}

// What stands in for faces too wide for clusters joins what stands in for the rest: a border is where the part's is.
func TestStandInOfWideFaces(t *testing.T) {
	m, _ := hills(120)
	n := uint32(len(m.Vertices))
	m.Vertices = append(m.Vertices, geom.Vec{X: -3e5, Z: -1}, geom.Vec{X: 3e5, Y: -2e5, Z: -1}, geom.Vec{X: 3e5, Y: 2e5, Z: -1})
	m.Faces = append(m.Faces, [3]uint32{n, n + 1, n + 2})
	full := NewModel(m, nil)
	require.Len(t, full.wide, 1)
	full.Paint(make([]float64, len(m.Vertices)), nil, NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3}))
	require.NoError(t, full.Coarsen(context.Background(), 50, 0))
	level := full.standIn.Load().level
	want, got := m.Bounds(), geom.BoxOf(level.Mesh.Vertices)
	for k := range 2 {
		require.InDelta(t, want.Lo.At(k), got.Lo.At(k), full.grid.step)
		require.InDelta(t, want.Hi.At(k), got.Hi.At(k), full.grid.step)
	}
	require.InDelta(t, m.Area(), level.Mesh.Area(), 1e-4*m.Area())
}
