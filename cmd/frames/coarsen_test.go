package main

import (
	"context"
	"testing"
)

// BenchmarkCoarsen makes what stands in, while the view moves, for the sheet of 5 million triangles.
func BenchmarkCoarsen(b *testing.B) {
	p := prepare(makeShape("sheet", 5_000_000))
	for b.Loop() {
		if err := p.model.Coarsen(context.Background(), p.model.StandInCell(), 2); err != nil {
			b.Fatal(err)
		}
	}
}
