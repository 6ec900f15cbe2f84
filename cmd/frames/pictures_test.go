package main

import (
	"fmt"
	"testing"
)

// BenchmarkPicture draws the peer's meshes without the peer, for looking where the time goes.
func BenchmarkPicture(b *testing.B) {
	for _, l := range workloads {
		if l.triangles > 1_000_000 {
			continue
		}
		b.Run(fmt.Sprintf("%s-%d", l.shape, l.triangles), func(b *testing.B) {
			p := prepare(makeShape(l.shape, l.triangles))
			best := 0.0
			for b.Loop() {
				best = least(best, p.plain())
			}
			b.ReportMetric(best, "least-ms/frame")
		})
	}
}

// BenchmarkStandIn makes what stands in for a large mesh while the view moves.
func BenchmarkStandIn(b *testing.B) {
	p := prepare(makeShape("sheet", 5_000_000))
	best := 0.0
	for b.Loop() {
		took, err := p.standIn(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		best = least(best, took)
	}
	b.ReportMetric(best, "least-ms/op")
}
