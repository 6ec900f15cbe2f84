package ui

import (
	"testing"

	"shutline/app/bench"
)

// BenchmarkStages walks through the stages, for looking at what holds the drawing thread.
func BenchmarkStages(b *testing.B) {
	r := newRig(b)
	r.open()
	r.paint()
	for b.Loop() {
		for _, s := range bench.Stages() {
			r.bench.Show(s)
			r.win.Canvas().Content().Refresh()
		}
	}
}
