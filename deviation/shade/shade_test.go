package shade_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// sphere is a ball of radius r about c, cut into n by 2n patches along its parallels and meridians.
func sphere(c geom.Vec, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := 0; i <= n; i++ {
		theta := math.Pi * float64(i) / float64(n)
		for j := range 2 * n {
			phi := math.Pi * float64(j) / float64(n)
			d := geom.Vec{X: math.Sin(theta) * math.Cos(phi), Y: math.Sin(theta) * math.Sin(phi), Z: math.Cos(theta)}
			m.Vertices = append(m.Vertices, c.AddScaled(r, d))
		}
	}
	at := func(i, j int) uint32 { return uint32(i*2*n + j%(2*n)) }
	for i := range n {
		for j := range 2 * n {
			if i > 0 {
				m.Faces = append(m.Faces, [3]uint32{at(i, j), at(i+1, j), at(i, j+1)})
			}
			if i < n-1 {
				m.Faces = append(m.Faces, [3]uint32{at(i+1, j), at(i+1, j+1), at(i, j+1)})
			}
		}
	}
	return m
}

// sheet is a wavy sheet of n by n quads over x and z, seen from the left (-y).
func sheet(n int, size float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			x, z := size*float64(j)/float64(n), size*float64(i)/float64(n)
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: 0.05 * size * math.Sin(6*x/size) * math.Cos(5*z/size), Z: z})
		}
	}
	for i := range n {
		for j := range n {
			a := uint32(i*(n+1) + j)
			b, c, d := a+1, a+uint32(n)+1, a+uint32(n)+2
			m.Faces = append(m.Faces, [3]uint32{a, b, d}, [3]uint32{a, d, c})
		}
	}
	return m
}

func tolerance(t float64) verdict.Tolerance { return verdict.Tolerance{Lo: -t, Hi: t} }

func BenchmarkRender(b *testing.B) {
	for _, n := range []int{224, 387, 707, 1000} {
		m := shade.NewModel(sheet(n, 1000), nil)
		mm := make([]float64, len(m.Mesh().Vertices))
		for i, v := range m.Mesh().Vertices {
			mm[i] = math.Sin(v.X/70) * math.Cos(v.Z/90)
		}
		m.Paint(mm, nil, shade.NewScale(tolerance(0.4)))
		c, _ := shade.ViewOf("three-quarter", m.Box(), 1.6)
		b.Run(fmt.Sprintf("%dk", m.Triangles()/1000), func(b *testing.B) {
			var r shade.Renderer
			for b.Loop() {
				r.Render([]*shade.Model{m}, c, shade.LightTheme(), 1280, 800, 0)
			}
			b.ReportMetric(float64(m.Triangles())*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
		})
	}
}

func BenchmarkPick(b *testing.B) {
	m := shade.NewModel(sheet(1000, 1000), nil)
	c, _ := shade.ViewOf("three-quarter", m.Box(), 1.6)
	p := shade.Render([]*shade.Model{m}, c, shade.LightTheme(), 1280, 800, 0)
	for b.Loop() {
		_, ok := p.PickHit(640, 400)
		require.True(b, ok)
	}
}

func BenchmarkNewModel(b *testing.B) {
	m := sheet(1000, 1000)
	normals := m.VertexNormals()
	for b.Loop() {
		shade.NewModel(m, normals)
	}
}
