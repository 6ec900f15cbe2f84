package bvh_test

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/parallel"
)

// The benchmarks run on a wavy sheet, or, with SHUTLINE_BENCH_CASE naming a
// folder, on its ref.stl (the index) and scan_aligned.stl (the points).
var benchCase = sync.OnceValue(func() [2]*mesh.Mesh {
	dir := os.Getenv("SHUTLINE_BENCH_CASE")
	if dir == "" {
		return [2]*mesh.Mesh{sheet(700, 3.4, 0), sheet(945, 2.5, 0.03)}
	}
	var out [2]*mesh.Mesh
	for k, name := range []string{"ref.stl", "scan_aligned.stl"} {
		m, err := meshio.Read(context.Background(), filepath.Join(dir, name), meshio.Options{})
		if err != nil {
			panic(err)
		}
		out[k] = m.Mesh
	}
	return out
})

// sheet is a wavy square of n x n points with noise across it, row by row.
func sheet(n int, step, noise float64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(1, 2))
	m := &mesh.Mesh{}
	for i := range n {
		for j := range n {
			x, y := float64(i)*step, float64(j)*step
			z := 20*math.Sin(x/300)*math.Cos(y/200) + noise*r.NormFloat64()
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: y, Z: z})
			if i > 0 && j > 0 {
				a, b, c, d := uint32((i-1)*n+j-1), uint32(i*n+j-1), uint32(i*n+j), uint32((i-1)*n+j)
				m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
			}
		}
	}
	return m
}

func indexed(b *testing.B) *bvh.Tree {
	t, err := bvh.Build(context.Background(), benchCase()[0], 0, nil)
	if err != nil {
		b.Fatal(err)
	}
	return t
}

func BenchmarkBuild(b *testing.B) {
	m := benchCase()[0]
	for _, threads := range []int{1, runtime.GOMAXPROCS(0)} {
		b.Run(map[bool]string{true: "one", false: "all"}[threads == 1], func(b *testing.B) {
			var t *bvh.Tree
			for b.Loop() {
				t, _ = bvh.Build(context.Background(), m, threads, nil)
			}
			b.ReportMetric(float64(len(m.Faces))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mtri/s")
			b.ReportMetric(float64(t.Bytes())/float64(t.Len()), "B/tri")
		})
	}
}

func BenchmarkClosest(b *testing.B) {
	t := indexed(b)
	points := benchCase()[1].Vertices
	shuffled := append([]geom.Vec(nil), points...)
	rand.New(rand.NewPCG(3, 4)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	far := make([]geom.Vec, len(points)/4)
	for i := range far {
		far[i] = points[i].Add(geom.Vec{Y: 60})
	}
	buffer := make([]geom.Vec, 0, 1024)
	for _, c := range []struct {
		name   string
		points []geom.Vec
	}{{"file-order", points}, {"random", shuffled}, {"60mm-away", far}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				near := t.NewFinder()
				order := bvh.Order(c.points)
				for lo := 0; lo < len(c.points); lo += 1024 {
					for _, p := range bvh.Gather(c.points, order, lo, min(lo+1024, len(c.points)), buffer[:0]) {
						near.Closest(p, math.Inf(1), nil)
					}
				}
			}
			b.ReportMetric(float64(len(c.points))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mq/s")
		})
	}
	b.Run("plain-Go", func(b *testing.B) {
		bvh.WithoutVector(func() {
			for b.Loop() {
				near := t.NewFinder()
				for _, p := range points {
					near.Closest(p, math.Inf(1), nil)
				}
			}
		})
		b.ReportMetric(float64(len(points))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mq/s")
	})
	b.Run("file-order-all", func(b *testing.B) {
		for b.Loop() {
			_ = parallel.Chunks(context.Background(), len(points), 4096, 0, nil, func(_, _, lo, hi int) {
				near := t.NewFinder()
				for _, p := range points[lo:hi] {
					near.Closest(p, math.Inf(1), nil)
				}
			})
		}
		b.ReportMetric(float64(len(points))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mq/s")
	})
}
