package gapflush_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// tried measures a trial as it is stated.
func tried(t *testing.T, trial *bodywork.Trial) *gapflush.Result {
	t.Helper()
	s := gapflush.DefaultSeam("trial", trial.Path)
	s.Every, s.Radius = trial.Every, trial.Radius
	for k, f := range trial.Form {
		s.Edges[k] = map[bodywork.Form]gapflush.EdgeKind{bodywork.Round: gapflush.Round, bodywork.Chamfered: gapflush.Chamfer, bodywork.SharpCorner: gapflush.Sharp}[f]
	}
	r, err := gapflush.Measure(context.Background(), trial.Scan, trial.Reference, s, gapflush.Settings{Noise: trial.Noise}, nil)
	require.NoError(t, err)
	return r
}

// kindOf finds a kind of trial by its row and name.
func kindOf(t *testing.T, row, name string) bodywork.TrialKind {
	t.Helper()
	for _, r := range bodywork.Trials() {
		for _, k := range r.Kinds {
			if r.Name == row && k.Name == name {
				return k
			}
		}
	}
	require.Fail(t, "no such trial", "%s, %s", row, name)
	return bodywork.TrialKind{}
}

// Every kind of seam has its gap and flush within U, or a state: the truth is the
// generator's formula. `goals stations` tries all kinds over seeds; these are the
// ones that differ most.
func TestEveryKindOfSeam(t *testing.T) {
	for _, c := range []struct {
		row, kind string
		given     float64 // share of the stations that must have a gap
		noted     bool    // what was stated is contradicted, or the path slants
	}{
		{"two hems", "radius from a reference", 1, false},
		{"unequal hems", "0.5 and 5 mm", 1, false},
		{"chamfer and corner", "chamfer to hem", 1, false},
		{"chamfer and corner", "two corners", 1, false},
		{"faces at an angle", "-10 degrees", 1, false},
		{"gap", "1 mm", 1, false},
		{"gap", "12 mm", 1, false},
		{"flush", "-5 mm", 1, false},
		{"overlap", "3 mm", 1, false},
		{"hem with a long return", "13 mm", 1, false},
		{"hem with a long return", "20 mm", 1, false},
		{"other things scanned", "inner panel 15 mm below", 1, false},
		{"bent faces", "radius 300 mm", 1, false},
		{"path drawn slantwise", "20 degrees", 0.95, true},
		{"round a wheel arch", "radius 250 mm, B inside", 1, false},
		{"corner of three panels", "A ends", 0.9, false},
		{"noise", "0.1 mm", 1, false},
		{"nose seen part of the way", "60 degrees", 1, false},
		{"other things scanned", "debris", 0.8, false},
		{"other things scanned", "seal in the gap", 1, false},
		{"smoothed scan", "1 of the way, 1 passes, spacing 0.8, noise 0.03, radius 1.5", 1, true},
		{"smoothed scan", "0.5 of the way, 1 passes, spacing 1.2, noise 0.03, radius 1.5", 1, true},
		{"smoothed scan", "reference", 1, true},
		{"smoothed scan", "without noise, seen to 70 degrees", 1, true},
		{"edge of another form than stated", "round, stated sharp", 1, true},
		{"edge of another form than stated", "round, stated chamfered", 1, true},
		{"edge of another form than stated", "chamfered, stated round of 1.5 mm", 1, true},
		{"edge of another form than stated", "chamfered, stated sharp", 1, true},
		{"edge of another form than stated", "sharp, stated round of 1.5 mm", 1, true},
		{"edge of another form than stated", "sharp, stated chamfered", 1, true},
		{"radius stated wrong", "by -0.5 mm, seen to 60 degrees", 1, true},
		{"radius stated wrong", "by +0.3 mm, seen to 180 degrees", 1, true},
		{"radius stated wrong", "3 mm, 2 times as large, seen to 50 degrees", 1, true},
		{"radius stated wrong", "3 mm, 0.3 times as large, seen to 180 degrees", 1, true},
		{"radius stated wrong", "2 mm, 1.7 times as large, seen to 56 degrees", 1, true},
		{"radius stated wrong", "10 times too large", 1, true},
	} {
		t.Run(c.row+", "+c.kind, func(t *testing.T) {
			trial := kindOf(t, c.row, c.kind).Make(1)
			r := tried(t, trial)
			n, inside := 0, 0
			check := func(v, u, want float64, ok bool) {
				if !ok {
					return
				}
				n++
				e := math.Abs(v - want)
				require.LessOrEqual(t, e, 3*u)
				require.Less(t, u, 1.0, "an uncertainty that says nothing")
				if e <= u {
					inside++
				}
			}
			for _, st := range r.Stations {
				check(st.Gap.V, st.Gap.U, trial.Gap, st.Gap.OK)
				check(st.Flush.V, st.Flush.U, trial.Flush, st.Flush.OK)
				if st.State != gapflush.Measured {
					require.NotEmpty(t, st.Why)
				}
			}
			// Of 40 figures at 95 % each one in forty has six outside.
			require.GreaterOrEqual(t, float64(inside), 0.85*float64(n))
			require.GreaterOrEqual(t, float64(r.Measured), c.given*float64(len(r.Stations)))
			require.Equal(t, c.noted, len(r.Notes) > 0, "%v", r.Notes)
		})
	}
}

// A radius that is far too large is no chamfer: what was stated and what the scan shows are told, and the seam is measured with the
// latter. A true chamfer stated as round is told as one all the same.
func TestARadiusFarTooLargeIsTold(t *testing.T) {
	for _, c := range []struct {
		kind   string
		stated string
	}{{"3 times too large", "4.5 mm"}, {"10 times too large", "15.0 mm"}} {
		for seed := range uint64(3) {
			r := tried(t, kindOf(t, "radius stated wrong", c.kind).Make(seed+1))
			said := strings.Join(r.Notes, "\n")
			require.NotContains(t, said, "chamfered", "%s, seed %d", c.kind, seed)
			require.Regexp(t, c.stated, said)
			require.Regexp(t, "(which is one of|has a radius of) 1\\.[456] mm", said)
			require.Equal(t, len(r.Stations), r.Measured)
		}
	}
	r := tried(t, kindOf(t, "edge of another form than stated", "chamfered, stated round of 1.5 mm").Make(1))
	require.Contains(t, strings.Join(r.Notes, "\n"), "on a chamfered one: it was measured as that.")
	require.Contains(t, strings.Join(r.Notes, "\n"), "the radius stated, 1.5 mm, does not fit what the scan shows: check it (radius).")
}

// Smoothing has a line of its own in the budget, and so has a form that does not fit.
func TestSmoothingHasALine(t *testing.T) {
	r := tried(t, kindOf(t, "smoothed scan", "1 of the way, 1 passes, spacing 1.2, noise 0.03, radius 1.5").Make(2))
	for _, st := range r.Stations {
		require.True(t, slices.ContainsFunc(st.GapBudget, func(l gapflush.BudgetLine) bool {
			return l.Source == "smoothing of the scan A" && l.U > 0
		}), "%v", st.GapBudget)
	}
	r = tried(t, kindOf(t, "two hems", "radius stated").Make(2))
	for _, st := range r.Stations {
		require.False(t, slices.ContainsFunc(st.GapBudget, func(l gapflush.BudgetLine) bool { return l.Source == "smoothing of the scan A" }))
	}
}

// Of many stations only some say what a seam's edges are; all are measured with it.
func TestManyStations(t *testing.T) {
	trial := kindOf(t, "radius stated wrong", "by -0.3 mm, seen to 180 degrees").Make(1)
	trial.Every = 2.5
	r := tried(t, trial)
	require.Len(t, r.Stations, 200)
	require.Equal(t, 200, r.Measured)
	inside := 0
	for _, st := range r.Stations {
		e := math.Abs(st.Gap.V - trial.Gap)
		require.LessOrEqual(t, e, 3*st.Gap.U)
		if e <= st.Gap.U {
			inside++
		}
	}
	require.GreaterOrEqual(t, inside, 180)
}

// The van's scan, whose hems end soon after their noses and whose points are not
// spaced evenly, after one pass over the neighbours and after half of one.
func TestSmoothedVan(t *testing.T) {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 100_000, Seed: 2}, nil)
	require.NoError(t, err)
	for _, share := range []float64{0.5, 1} {
		placed := bodywork.Smoothed(job.Scan, share, 1).Moved(job.ReferenceFromScan)
		n, inside := 0, 0
		for _, spec := range job.Seams {
			seam := gapflush.DefaultSeam(spec.Name, spec.Path)
			seam.Master = gapflush.Side(spec.Master)
			r, err := gapflush.Measure(ctx, placed, job.Reference, seam, gapflush.Settings{}, nil)
			require.NoError(t, err)
			require.Len(t, r.Notes, 1, "%v", r.Notes)
			for i, want := range job.StationsAt(spec, 25) {
				st := &r.Stations[i]
				if !st.Gap.OK {
					continue
				}
				n++
				e := math.Abs(st.Gap.V - want.Gap)
				require.LessOrEqual(t, e, 2*st.Gap.U)
				if e <= st.Gap.U {
					inside++
				}
			}
		}
		require.Greater(t, n, 50)
		require.GreaterOrEqual(t, float64(inside), 0.95*float64(n))
	}
}

// A seam of one station has little to tell smoothing, forms and radii from; what it
// does not tell is in U.
func TestOneStation(t *testing.T) {
	for _, c := range []struct{ row, kind string }{
		{"two hems", "radius stated"},
		{"smoothed scan", "1 of the way, 1 passes, spacing 1.2, noise 0.03, radius 1.5"},
		{"smoothed scan", "0.5 of the way, 1 passes, spacing 1.2, noise 0.03, radius 1.5"},
		{"edge of another form than stated", "both round, stated sharp"},
		{"edge of another form than stated", "chamfered, stated round of 1.5 mm"},
		{"radius stated wrong", "by -0.3 mm, seen to 180 degrees"},
	} {
		trial := kindOf(t, c.row, c.kind).Make(1)
		n, inside := 0, 0
		for y := 60.0; y < 450; y += 40 {
			trial.Path = []geom.Vec{{Y: y - 8}, {Y: y + 8}}
			r := tried(t, trial)
			require.Len(t, r.Stations, 1)
			if st := &r.Stations[0]; st.Gap.OK {
				n++
				e := math.Abs(st.Gap.V - trial.Gap)
				require.LessOrEqual(t, e, 3*st.Gap.U, "%s, %s, at %g", c.row, c.kind, y)
				if e <= st.Gap.U {
					inside++
				}
			}
		}
		require.GreaterOrEqual(t, n, 8, "%s, %s", c.row, c.kind)
		require.GreaterOrEqual(t, inside, n-1, "%s, %s", c.row, c.kind)
	}
}
