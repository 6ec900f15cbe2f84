package app_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// The scan is the reference itself, lifted by less than noise: what its pairs leave, they alone have made. A scan
// that is bent by millimetres leaves much by the best fit as well, and is still doubted.
func TestBadPairsDoNotBlameTheScan(t *testing.T) {
	scan := dish(0.02, 1)
	i := job(t, scan, dish(0, 1))
	i.Place.Method = inspection.Pairs
	for _, k := range []int{0, 60, 1220, 2440, 2500} {
		at := scan.Vertices[k]
		i.Place.Pairs = append(i.Place.Pairs, align.Pair{Scan: at, Reference: at.Add(geom.Vec{Z: 1.5})})
	}
	notes := func(i *inspection.Inspection) string {
		parts, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
		require.NoError(t, err)
		placed, err := app.Place(context.Background(), i, parts, app.Settings{}, nil)
		require.NoError(t, err)
		return strings.Join(placed.Placement.Notes, "\n")
	}
	said := notes(i)
	require.Regexp(t, `The best fit leaves 0\.0\d mm: the pairs are off, not the scan\.`, said)
	require.NotContains(t, said, "drifted")

	bent := dish(0, 1)
	for k := range bent.Vertices {
		bent.Vertices[k].Z += 4 * math.Sin(bent.Vertices[k].X/60)
	}
	i.Scan.File = job(t, bent, nil).Scan.File
	said = notes(i)
	require.Contains(t, said, "the scan has drifted")
	require.NotContains(t, said, "not the scan")

	// Beside a matrix alone no best fit is tried: both may be to blame.
	i = job(t, scan, dish(0, 1))
	i.Place.Method, i.Place.HasMatrix, i.Place.Given = inspection.Given, true, geom.Rigid{R: geom.Identity3(), T: geom.Vec{Z: 1.5}}
	require.Contains(t, notes(i), "the matrix in [place] is off, the scan has drifted")
}
