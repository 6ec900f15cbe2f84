package gapflush_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// BenchmarkStations measures a 2 m seam every 5 mm; stations/s counts both passes and the extraction.
func BenchmarkStations(b *testing.B) {
	p := bodywork.NewSeamPiece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Length: 2000, Spacing: 1.2, Noise: 0.03, Jitter: 0.3})
	s := gapflush.DefaultSeam("piece", p.Path)
	s.Radius, s.Every = [2]float64{1.5, 1.5}, 5
	n := 0
	for b.Loop() {
		r, err := gapflush.Measure(context.Background(), p.Mesh, nil, s, gapflush.Settings{}, nil)
		require.NoError(b, err)
		n += len(r.Stations)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "stations/s")
}
