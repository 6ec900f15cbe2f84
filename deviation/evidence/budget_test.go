package evidence_test

import (
	"context"
	"encoding/csv"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// The contributions of every station add up as the GUM (JCGM 100:2008, 5.1.2 and
// 6.2.1) says: U is twice the root sum of their squares.
func TestBudgetAddsUp(t *testing.T) {
	smooth := bodywork.NewSeamPiece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.3, Noise: 0.03, Jitter: 0.3, Seen: [2]float64{1, 0}})
	r := record(4)
	r.Seams, r.SeamPictures = nil, nil
	for _, m := range []bool{false, true} {
		scan := smooth.Mesh
		if m {
			scan = bodywork.Smoothed(scan, 1, 1)
		}
		s := gapflush.DefaultSeam("seam, \"smoothed\"", smooth.Path)
		s.Radius = [2]float64{1.5, 1.5}
		res, err := gapflush.Measure(context.Background(), scan, nil, s, gapflush.Settings{ScalePPM: 50, HasTemperature: true, Temperature: 30, Expansion: 11.5e-6}, nil)
		require.NoError(t, err)
		r.Seams, r.SeamPictures = append(r.Seams, res), append(r.SeamPictures, "none")
	}
	dir := filepath.Join(t.TempDir(), "out")
	write(t, r, dir, evidence.Options{})
	rows, err := csv.NewReader(strings.NewReader(read(t, dir, "stations-budget.csv"))).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"seam", "station", "quantity", "contribution", "u_mm", "U_mm", "k"}, rows[0])
	number := func(cell string) float64 {
		v, err := strconv.ParseFloat(cell, 64)
		require.NoError(t, err)
		return v
	}
	squares, sums := 0.0, 0
	named := map[string]bool{}
	for _, row := range rows[1:] {
		u := number(row[4])
		named[row[3]] = true
		if row[3] != "sum" {
			require.Equal(t, "1", row[6])
			require.Empty(t, row[5])
			squares += u * u
			continue
		}
		sums++
		require.Equal(t, "2", row[6])
		require.InDelta(t, math.Sqrt(squares), u, 1e-7)
		require.InDelta(t, 2*math.Sqrt(squares), number(row[5]), 1e-6)
		squares = 0
	}
	given := 0
	for _, s := range r.Seams {
		for _, st := range s.Stations {
			for _, ok := range []bool{st.Gap.OK, st.Flush.OK} {
				if ok {
					given++
				}
			}
		}
	}
	require.Equal(t, given, sums)
	require.Positive(t, sums)
	for _, name := range []string{"height of face A", "direction of face B", "curvature of face A", "scatter of edge B", "radius of edge A", "nose carried on A", "smoothing of the scan A", "form of the edges", "scale of the scan", "temperature"} {
		require.True(t, named[name], name)
	}
}
