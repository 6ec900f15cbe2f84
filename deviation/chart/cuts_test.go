package chart_test

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/chart"
	"shutline/deviation/crosscut"
	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// A ball's equator seen from above a little: its near half is drawn, the far half is hidden by the ball.
func TestCutsAreHiddenByThePart(t *testing.T) {
	m := &mesh.Mesh{}
	const n = 60
	at := func(i, j int) geom.Vec {
		st, ct := math.Sincos(math.Pi * float64(i) / n)
		sp, cp := math.Sincos(math.Pi * float64(j) / n)
		return geom.Vec{X: 100 * st * cp, Y: 100 * st * sp, Z: 100 * ct}
	}
	for i := range n + 1 {
		for j := range 2 * n {
			m.Vertices = append(m.Vertices, at(i, j))
			if i > 0 {
				k, l := uint32(i*2*n+j), uint32(i*2*n+(j+1)%(2*n))
				m.Faces = append(m.Faces, [3]uint32{k - 2*n, k, l - 2*n}, [3]uint32{k, l, l - 2*n})
			}
		}
	}
	curve := crosscut.Curve{Closed: true}
	for j := range 2 * n {
		curve.Places = append(curve.Places, at(n/2, j))
	}
	const w, h = 400, 400
	c := shade.Camera{Right: geom.Vec{X: 1}, Up: geom.Vec{Y: 0.5, Z: math.Sqrt(0.75)}, Height: 240}
	th := chart.Light()
	for name, render := range map[string]func([]*shade.Model, shade.Camera, shade.Theme, int, int, int) *shade.Picture{"plain": shade.Render, "still": shade.RenderStill} {
		pic := render([]*shade.Model{shade.NewModel(m, nil)}, c, shade.LightTheme(), w, h, 2)
		plain := append([]uint8(nil), pic.Image.Pix...)
		chart.Cuts(pic.Image, pic, []*crosscut.Section{{Scan: []crosscut.Curve{curve}}, nil}, nil, th, 1)
		changed := func(p geom.Vec) bool {
			x, y, _ := c.Project(p, w, h)
			for _, d := range []image.Point{{}, {X: 1}, {Y: 1}, {X: -1}, {Y: -1}} {
				i := pic.Image.PixOffset(int(x)+d.X, int(y)+d.Y)
				if pic.Image.Pix[i] != plain[i] {
					return true
				}
			}
			return false
		}
		for j := range 2 * n {
			p := at(n/2, j)
			if math.Abs(p.Y) < 25 { // near the outline a pixel decides
				continue
			}
			require.Equal(t, p.Y < 0, changed(p), "%s: the equator at %v", name, p)
		}
	}
}
