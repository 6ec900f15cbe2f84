package gapflush_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// Stations that once had a wrong number and no state for it: a seal between the noses that was taken for a
// face's own roll (15.8 and 15.7 U off; level with both panels 13, 5, 45, 4.5 and 9 U off), a face that stops short of its edge, with no station beside it to
// say so (18.4 U), a chamfer too small for a coarse scan that was measured as a corner (4.4 U), the few rows of points that one view of a roll and of a seal below it gives, taken for one roll (19 U), points of one view that hang half way to what lies behind the edge (4.2, 3.7 and 7.4 U), a hem of 2.2 mm stated as 1.0 mm whose points were taken for a web's (5.9 U), another all of whose stations had such webs (4.5 U), a roll with a ledge below it that was
// taken for a chamfer (77 and 31 U) or a corner (58 U), a bead that was taken for one, rolls laid over a hem and the ledge below it or the bead
// on it (16 U at all stations of a seam, 14, 8 and 5 U at single ones), a bead that was taken for a corner (6 U), a ledge taken for a chamfer (33 U), beads on small rolls taken for
// chamfers whose walls draw back by more than 20 degrees (3.1 and 3.2 U), a ledge of which a single station saw a short roll (8 U), the ends of ledges
// that run on little below the face for 2 to 5 mm, taken for its corner or roll (7 to 70 U at all stations of six seams), a bead that two stations of twelve took for a corner (17 U), and a
// path across the gap, whose sides had changed (32 U). The truth is the generator's.
func TestWhatWasWrongHasAState(t *testing.T) {
	for _, c := range []struct {
		kind string
		seed uint64
	}{{"seal between the noses", 4005}, {"seal between the noses", 21018}, {"seal between the noses", 31039}, {"seal between the noses", 31235}, {"seal between the noses", 31255}, {"seal between the noses", 31385}, {"seal between the noses", 59046}, {"path that crosses itself", 6001}, {"radius stated wrong by up to 3 mm", 12002}, {"radius stated wrong by up to 3 mm", 41002}, {"path that crosses itself", 12003}, {"chamfer on a coarse scan", 14002}, {"seen from one direction, a seal below", 20010},
		{"seen from one direction, edges mixed with a panel below", 5034}, {"seen from one direction, edges mixed with a panel below", 5038}, {"seen from one direction, edges mixed with a seal below", 5042},
		{"ledge below a roll", 1006}, {"ledge below a roll", 84658002}, {"ledge below a roll", 84658021}, {"ledge below a roll", 84658051}, {"bead of sealant on a roll", 84658006},
		{"ledge below a roll", 1016}, {"ledge below a roll", 1050}, {"ledge below a roll", 1070}, {"ledge below a roll", 92903003}, {"ledge below a roll", 7107}, {"ledge below a roll", 7127}, {"ledge below a roll", 8046}, {"ledge below a roll", 8019},
		{"bead of sealant on a roll", 1071}, {"bead of sealant on a roll", 1080}, {"bead of sealant on a roll", 7007}, {"bead of sealant on a roll", 7050}, {"bead of sealant on a roll", 84658017}, {"ledge below a roll", 8022}, {"ledge below a roll", 103000}, {"ledge below a roll", 2023}, {"ledge below a roll", 2028}, {"ledge below a roll", 3004}, {"ledge below a roll", 3005}, {"ledge below a roll", 3018}, {"bead of sealant on a roll", 8010}, {"bead of sealant on a roll", 2015}, {"bead of sealant on a roll", 9040}} {
		found := false
		for _, k := range bodywork.BadKinds() {
			if k.Name != c.kind {
				continue
			}
			found = true
			trial := k.Make(c.seed)
			s := gapflush.DefaultSeam("trial", trial.Path)
			s.Every, s.Radius = trial.Every, trial.Radius
			// With its reference and the forms stated, and with the scan alone.
			alone := measure(t, trial.Scan, s, gapflush.Settings{Noise: trial.Noise})
			for _, st := range append(tried(t, trial).Stations, alone.Stations...) {
				if st.Gap.OK {
					require.LessOrEqual(t, math.Abs(st.Gap.V-trial.Gap), 3*st.Gap.U, "%s, station %d", c.kind, st.Index)
				}
				if st.Flush.OK {
					require.LessOrEqual(t, math.Abs(st.Flush.V-trial.Flush), 3*st.Flush.U, "%s, station %d", c.kind, st.Index)
				}
			}
		}
		require.True(t, found, c.kind)
	}
}

// Across a gap of 1.07 mm the roll of a panel that stands 1.34 mm proud lies where the other's own might:
// traced along that, 7 of 41 gaps were off by a tenth to three tenths of a millimetre, two of them by more
// than 4 U. The truth is the generator's.
func TestNarrowGapBesideAProudPanel(t *testing.T) {
	trial := bodywork.Drawn(bodywork.DrawnOptions{Radius: [2]float64{1, 5}, Noise: 0.05, Spacing: 0.8}, 12000)
	s := gapflush.DefaultSeam("trial", trial.Path)
	s.Every, s.Radius = trial.Every, trial.Radius
	r := measure(t, trial.Scan, s, gapflush.Settings{Noise: trial.Noise})
	off := 0
	for _, st := range r.Stations {
		require.Equal(t, gapflush.Measured, st.State, "station %d", st.Index)
		require.InDelta(t, trial.Gap, st.Gap.V, 2*st.Gap.U, "station %d", st.Index)
		if math.Abs(st.Gap.V-trial.Gap) > st.Gap.U {
			off++
		}
	}
	require.LessOrEqual(t, off, len(r.Stations)/10)
}

// Where hems return by up to 25 mm under both panels, skins and returns leave little of the mean direction
// of the faces near the gap, and what is left may look inward: 12 of 13 stations were refused. The truth is the generator's.
func TestLongReturnsLookOutward(t *testing.T) {
	for _, k := range bodywork.BadKinds() {
		if k.Name != "hem with a return of 5 to 25 mm" {
			continue
		}
		trial := k.Make(11003)
		s := gapflush.DefaultSeam("trial", trial.Path)
		s.Every, s.Radius = trial.Every, trial.Radius
		r := measure(t, trial.Scan, s, gapflush.Settings{Noise: trial.Noise})
		for _, st := range r.Stations {
			require.Equal(t, gapflush.Measured, st.State, "station %d: %s", st.Index, st.Why)
			require.InDelta(t, trial.Gap, st.Gap.V, 2*st.Gap.U, "station %d", st.Index)
			require.InDelta(t, trial.Flush, st.Flush.V, 2*st.Flush.U, "station %d", st.Index)
		}
		return
	}
	require.Fail(t, "no such kind")
}
