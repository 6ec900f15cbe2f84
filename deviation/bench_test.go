package deviation

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// BenchmarkMeasure compares a scan of 320,000 points with a reference of
// 320,000 triangles, coverage included, on all processors.
func BenchmarkMeasure(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	wavy := func(n int, noise float64) *mesh.Mesh {
		return sheet(n, n, func(i, j int) geom.Vec {
			x, y := 1600*float64(i)/float64(n), 1600*float64(j)/float64(n)
			return geom.Vec{X: x, Y: y, Z: 20*math.Sin(x/300)*math.Cos(y/200) + noise*r.NormFloat64()}
		})
	}
	ref, scan := surfaceOf(b, wavy(400, 0)), wavy(565, 0.03)
	for b.Loop() {
		if _, err := Measure(context.Background(), scan, ref, Settings{Reach: 10}, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(scan.Vertices))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
}
