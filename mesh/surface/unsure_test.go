package surface_test

import (
	"context"
	"math"
	"testing"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// A piece of a sphere of 1 m radius with facets 60 mm wide, open all round. Within it the corners' normals are the sphere's; at the border
// half of the facets that would make them so is missing, and the skin errs by hundredths of a millimetre that the ends of an edge do not show by
// disagreeing. The truth is the sphere.
func TestUnsureHoldsTheErrorsAtOpenBorders(t *testing.T) {
	const r, step, n = 1000.0, 60.0, 8
	m := &mesh.Mesh{}
	for y := range n {
		for x := range n {
			// Not on a square grid, whose border errs by the same at both ends and on both sides.
			p := geom.Vec{X: step * (float64(x-n/2) + 0.35*float64(y%2)), Y: step * float64(y-n/2)}
			p.Z = math.Sqrt(r*r - p.X*p.X - p.Y*p.Y)
			m.Vertices = append(m.Vertices, p)
		}
	}
	for y := range n - 1 {
		for x := range n - 1 {
			a := uint32(y*n + x)
			m.Faces = append(m.Faces, [3]uint32{a, a + 1, a + n + 1}, [3]uint32{a, a + n + 1, a + n})
		}
	}
	s, err := surface.New(context.Background(), m, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	skin := s.Skin(1)
	const numeric = 0.003 // mm: what cubics leave of the sphere's sags within
	hidden, sure := 0, 0
	for f, c := range m.Faces {
		a, b, d := m.Vertices[c[0]], m.Vertices[c[1]], m.Vertices[c[2]]
		normal := b.Sub(a).Cross(d.Sub(a)).Unit()
		for i := 1; i < 8; i++ {
			for k := 1; i+k < 8; k++ {
				q := a.AddScaled(float64(i)/8, b.Sub(a)).AddScaled(float64(k)/8, d.Sub(a))
				// From q along the normal to the sphere.
				along := q.Dot(normal)
				truth := math.Sqrt(along*along-q.Norm2()+r*r) - along
				rise, _, smooth := skin.At(uint32(f), q)
				unsure, _ := skin.Unsure(uint32(f), q)
				most, _ := skin.AtMost(uint32(f), q)
				if !smooth {
					t.Fatal("a facet of the sphere is taken for one beside an edge")
				}
				off := math.Abs(rise - truth)
				if off > unsure+numeric {
					t.Errorf("facet %d at %v: the skin is off by %.4f mm and said to be sure to %.4f", f, q, off, unsure)
				}
				if most-math.Abs(rise) < 0.01 && off > 0.02 {
					hidden++
				}
				if unsure < 0.01 {
					sure++
				}
			}
		}
	}
	if hidden == 0 {
		t.Error("no place was off where the ends of its edges agree, so that nothing was tried")
	}
	if sure == 0 {
		t.Error("nothing within is sure")
	}
}
