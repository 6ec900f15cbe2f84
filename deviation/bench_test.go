package deviation

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// BenchmarkMeasure compares a scan of 320,000 points with a reference of
// 320,000 triangles, coverage included, on all processors.
func BenchmarkMeasure(b *testing.B) {
	ref, scan := benchPair(b)
	for b.Loop() {
		if _, err := Measure(context.Background(), scan, ref, Settings{Reach: 10}, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(scan.Vertices))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
}

// BenchmarkSignedDistance is the search alone, with states, on one thread: on the sheets of BenchmarkMeasure
// or, with SHUTLINE_BENCH_CASE naming a folder, on its ref.stl and scan_aligned.stl.
func BenchmarkSignedDistance(b *testing.B) {
	ref, scan := benchPair(b)
	normals := scan.VertexNormals()
	for b.Loop() {
		if _, err := MeasurePoints(context.Background(), scan.Vertices, normals, ref, Settings{Reach: 10, Threads: 1}, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(scan.Vertices))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
}

func benchPair(b *testing.B) (*surface.Surface, *mesh.Mesh) {
	if dir := os.Getenv("SHUTLINE_BENCH_CASE"); dir != "" {
		var m [2]*mesh.Mesh
		for k, name := range []string{"ref.stl", "scan_aligned.stl"} {
			l, err := meshio.Read(context.Background(), filepath.Join(dir, name), meshio.Options{Unit: meshio.Millimetre})
			if err != nil {
				b.Fatal(err)
			}
			m[k] = l.Mesh
		}
		return surfaceOf(b, m[0]), m[1]
	}
	r := rand.New(rand.NewPCG(1, 2))
	wavy := func(n int, noise float64) *mesh.Mesh {
		return sheet(n, n, func(i, j int) geom.Vec {
			x, y := 1600*float64(i)/float64(n), 1600*float64(j)/float64(n)
			return geom.Vec{X: x, Y: y, Z: 20*math.Sin(x/300)*math.Cos(y/200) + noise*r.NormFloat64()}
		})
	}
	return surfaceOf(b, wavy(400, 0)), wavy(565, 0.03)
}
