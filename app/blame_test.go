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
	"shutline/deviation/verdict"
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
	require.Contains(t, said, "The pairs and the surface contradict one another: the best fit would lie up to 1.5")
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

	// Beside a matrix, and beside a scan that is taken to lie there already, the best fit tells as well.
	i = job(t, scan, dish(0, 1))
	i.Place.Method, i.Place.HasMatrix, i.Place.Given = inspection.Given, true, geom.Rigid{R: geom.Identity3(), T: geom.Vec{Z: 1.5}}
	require.Regexp(t, `The best fit leaves 0\.0\d mm: the matrix is off, not the scan\.`, notes(i))
	i.Scan.File = job(t, bent, nil).Scan.File
	require.Contains(t, notes(i), "the matrix in [place] is off, the scan has drifted")
}

// Five pairs of which one is 25 mm off, and five that are all 5 mm off along the part: neither decides the surface.
func TestPairsThatContradictDecideNothing(t *testing.T) {
	scan := dish(0.02, 1)
	for name, off := range map[string]func(k int) geom.Vec{
		"one": func(k int) geom.Vec {
			if k == 2 {
				return geom.Vec{X: 25}
			}
			return geom.Vec{}
		},
		"all": func(int) geom.Vec { return geom.Vec{X: 5} },
	} {
		i := job(t, scan, dish(0, 1))
		i.Place.Method, i.Surface.HasShare, i.Surface.Share = inspection.Pairs, true, 0.95
		for n, k := range []int{0, 60, 1220, 2440, 2500} {
			at := scan.Vertices[k]
			i.Place.Pairs = append(i.Place.Pairs, align.Pair{Scan: at, Reference: at.Add(off(n))})
		}
		o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
		require.NoError(t, err, name)
		require.True(t, o.Placed.PairsOff, name)
		require.Equal(t, verdict.Undecided, o.Compared.Verdict, name)
		require.Contains(t, strings.Join(o.Compared.Field.Notes, " "), "nothing of the surface is decided", name)
	}
}
