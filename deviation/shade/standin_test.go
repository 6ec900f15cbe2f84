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
	require.NoError(t, full.Coarsen(context.Background(), StandInCell(m), 2))
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
