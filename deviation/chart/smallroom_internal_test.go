package chart

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// In the narrowest inset both verdicts stand, too.
func TestNarrowInsetsSayBothVerdicts(t *testing.T) {
	for w := 236; w <= 340; w += 8 {
		st := stationOf(2.6, 1.6)
		st.GapVerdict, st.FlushVerdict = verdict.DoesNotConform, verdict.DoesNotConform
		s := drawStation(w, 185, Light(), 1, seamOf(12).Seam, &st)
		noOverlap(t, s)
		require.Contains(t, said(s), "gap does not conform")
		require.Contains(t, said(s), "flush does not conform")
	}
}

// What does not fit is a sentence's beginning, not its two ends.
func TestASentenceEndsWhereThereIsNoMoreRoom(t *testing.T) {
	s := newSheet(300, 200, Light(), 1)
	const text = "only where the panel itself is narrower than that, give a shorter zone in the settings"
	short := s.ended(small, text, 200)
	require.True(t, strings.HasSuffix(short, " …"))
	require.True(t, strings.HasPrefix(text, strings.TrimSuffix(short, " …")))
	require.LessOrEqual(t, s.width(small, regular, short), 200.0)
	require.NotContains(t, strings.TrimSuffix(short, " …"), "…")
}

// What the hatch means takes no number off the axis of a picture of a seam.
func TestTheLegendLeavesTheAxisItsNumbers(t *testing.T) {
	r := seamOf(36)
	r.Seam.Name = "wing to door"
	for i := range r.Stations {
		st := &r.Stations[i]
		st.A, st.P = geom.Vec{X: 1}, geom.Vec{Z: 25 * float64(i)}
		if i == 20 || i == 33 {
			st.Gap, st.Flush, st.State = verdict.Value{}, verdict.Value{}, gapflush.NoFace
		}
	}
	s := drawSeam(1200, 600, Light(), 1, r, -1)
	noOverlap(t, s)
	words := strings.Fields(said(s))
	for _, v := range []string{"0", "200", "400", "600", "700", "800"} {
		require.Contains(t, words, v)
	}
	require.Contains(t, said(s), "no value:")
}
