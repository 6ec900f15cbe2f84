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
