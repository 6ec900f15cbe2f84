package shade

import (
	"bytes"
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// quarter turns by a right angle about z and shifts by whole millimetres: in floating point without rounding.
func quarter() geom.Rigid {
	return geom.Rigid{R: geom.Mat3{{0, -1, 0}, {1, 0, 0}, {0, 0, 1}}, T: geom.Vec{X: 512, Y: -64, Z: 32}}
}

// A moved model seen by a camera that was moved along is the same picture; what is picked lies where it was moved to.
func TestMovedIsSeenAsTheCameraMovedAlong(t *testing.T) {
	m, height := hills(420)
	g := quarter()
	full := NewModel(m, nil)
	carried := m.Moved(g)
	moved := full.Moved(carried, g)
	scale := NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3})
	full.Paint(height, nil, scale)
	moved.Paint(height, nil, scale)
	c := Camera{Target: geom.Vec{X: 1000, Y: 1000}, Right: geom.Vec{X: 1}, Up: geom.Vec{Y: 1}, Height: 2300}
	along := Camera{Target: g.Apply(c.Target), Right: g.ApplyDir(c.Right), Up: g.ApplyDir(c.Up), Height: c.Height}
	const w, h = 640, 400
	want := Render([]*Model{full}, c, LightTheme(), w, h, 2)
	got := Render([]*Model{moved}, along, LightTheme(), w, h, 2)
	require.True(t, bytes.Equal(want.Image.Pix, got.Image.Pix))
	for _, at := range [][2]int{{320, 200}, {200, 90}, {441, 333}} {
		from, ok := want.PickHit(at[0], at[1])
		require.True(t, ok)
		to, ok := got.PickHit(at[0], at[1])
		require.True(t, ok)
		require.Equal(t, from.Face, to.Face)
		require.InDelta(t, 0, g.Apply(from.At).Dist(to.At), 1e-9)
	}

	require.NoError(t, moved.Coarsen(context.Background(), full.StandInCell(), 2))
	_, ok := StandIns([]*Model{full}, c, h, CoarsestCell)
	require.True(t, ok, "what stands in for the one is made of what stands in for the other")
	var r, s Renderer
	coarse := r.RenderMoving([]*Model{full}, c, LightTheme(), w, h, CoarsestCell, 2)
	same := s.RenderMoving([]*Model{moved}, along, LightTheme(), w, h, CoarsestCell, 2)
	require.True(t, bytes.Equal(coarse.Image.Pix, same.Image.Pix))
	require.False(t, bytes.Equal(coarse.Image.Pix, want.Image.Pix))

	twice := moved.Moved(carried.Moved(g), g)
	twice.Paint(height, nil, scale)
	along = Camera{Target: g.Apply(along.Target), Right: g.ApplyDir(along.Right), Up: g.ApplyDir(along.Up), Height: c.Height}
	again := Render([]*Model{twice}, along, LightTheme(), w, h, 2)
	require.True(t, bytes.Equal(want.Image.Pix, again.Image.Pix))
	require.Panics(t, func() { full.Moved(ball(20), g) })
}

// Paint is each model's own.
func TestMovedIsPaintedByItself(t *testing.T) {
	m, height := hills(40)
	bare := NewModel(m, nil)
	painted := bare.Moved(m, geom.Identity())
	painted.Paint(height, nil, NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3}))
	c := Camera{Target: geom.Vec{X: 1000, Y: 1000}, Right: geom.Vec{X: 1}, Up: geom.Vec{Y: 1}, Height: 2300}
	grey := Render([]*Model{bare}, c, LightTheme(), 200, 200, 1).Image.Pix
	for i := 0; i < len(grey); i += 4 {
		require.InDelta(t, float64(grey[i]), float64(grey[i+2]), 12, "a colour on what is bare")
	}
	require.False(t, bytes.Equal(grey, Render([]*Model{painted}, c, LightTheme(), 200, 200, 1).Image.Pix))
}
