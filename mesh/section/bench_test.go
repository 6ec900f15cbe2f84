package section_test

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/section"
)

// The benchmarks cut a wavy sheet or, with SHUTLINE_BENCH_CASE naming a folder, its ref.stl.
var benchIndex = sync.OnceValue(func() *section.Index {
	var m *mesh.Mesh
	if dir := os.Getenv("SHUTLINE_BENCH_CASE"); dir != "" {
		read, err := meshio.Read(context.Background(), filepath.Join(dir, "ref.stl"), meshio.Options{})
		if err != nil {
			panic(err)
		}
		m = read.Mesh
	} else {
		m = grid(700)
	}
	tree, err := bvh.Build(context.Background(), m, 0, nil)
	if err != nil {
		panic(err)
	}
	x, err := section.New(context.Background(), m, tree)
	if err != nil {
		panic(err)
	}
	benchMesh = m
	return x
})

var benchMesh *mesh.Mesh

// BenchmarkWhole cuts square to the longest axis at fifty places.
func BenchmarkWhole(b *testing.B) {
	c := benchIndex().NewCutter()
	box := benchMesh.Bounds()
	points, cuts := 0, 0
	for b.Loop() {
		for i := range 50 {
			p := box.Lo.Lerp(box.Hi, (float64(i)+0.5)/50)
			lines, err := c.Whole(p, geom.Vec{X: 1})
			if err != nil {
				b.Fatal(err)
			}
			cuts++
			for _, l := range lines {
				points += len(l.Points)
			}
		}
	}
	b.ReportMetric(float64(cuts)/b.Elapsed().Seconds(), "sections/s")
	b.ReportMetric(float64(points)/float64(cuts), "points/section")
}

// BenchmarkNear cuts within 30 mm of points a millimetre apart along the mesh's
// longest axis, as stations along a seam are.
func BenchmarkNear(b *testing.B) {
	c := benchIndex().NewCutter()
	box := benchMesh.Bounds()
	var path []geom.Vec
	whole, err := c.Whole(box.Center(), geom.Vec{Z: 1})
	if err != nil {
		b.Fatal(err)
	}
	for _, l := range whole {
		for i := 1; i < len(l.Points); i++ {
			for s := 0.0; s < l.Points[i].Dist(l.Points[i-1]); s++ {
				path = append(path, l.Points[i-1].Add(l.Points[i].Sub(l.Points[i-1]).Unit().Scale(s)))
			}
		}
	}
	points, cuts := 0, 0
	for b.Loop() {
		for _, p := range path {
			lines, err := c.Near(p, geom.Vec{X: 1}, 30)
			if err != nil {
				b.Fatal(err)
			}
			cuts++
			for _, l := range lines {
				points += len(l.Points)
			}
		}
	}
	b.ReportMetric(float64(cuts)/1e3/b.Elapsed().Seconds(), "kcuts/s")
	b.ReportMetric(float64(points)/float64(cuts), "points/cut")
}
