package chart

import (
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// seamOf is a made-up seam: a gap that closes toward the end, a flush that
// fails near the start, a stretch without noses and one that is bridged.
func seamOf(n int) *gapflush.Result {
	seam := gapflush.DefaultSeam("wing to sliding door", nil)
	seam.Gap = gapflush.Target{Nominal: 4, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
	seam.Flush = gapflush.Target{Nominal: 0, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -0.75, Hi: 0.75}, Judged: true}
	seam.Master = gapflush.B
	r := &gapflush.Result{Seam: seam, Verdict: verdict.DoesNotConform}
	for i := range n {
		along := 12.5 + 25*float64(i)
		share := float64(i) / float64(n)
		st := gapflush.Station{Index: i + 1, Along: along, State: gapflush.Measured, P: geom.Vec{X: 10 * share, Z: along}}
		st.Gap = verdict.Value{V: 4.6 - 1.9*share + 0.06*math.Sin(3*float64(i)), U: 0.09, OK: true}
		st.Flush = verdict.Value{V: 1.4*math.Exp(-8*share) - 0.2 + 0.04*math.Sin(5*float64(i)), U: 0.06, OK: true}
		switch {
		case i >= n*4/10 && i < n*5/10:
			st.State, st.Gap = gapflush.NoseUnseen, verdict.Value{}
		case i == n*7/10:
			st.State, st.Gap, st.Flush = gapflush.Bridged, verdict.Value{}, verdict.Value{}
			st.Why = "Faces run across the gap here: the scan has filled it."
		}
		if st.Gap.OK {
			st.GapVerdict = verdict.Decide(verdict.Value{V: st.Gap.V - 4, U: st.Gap.U, OK: true}, seam.Gap.Tolerance)
			r.Measured++
		}
		if st.Flush.OK {
			st.FlushVerdict = verdict.Decide(st.Flush, seam.Flush.Tolerance)
		}
		r.Stations = append(r.Stations, st)
	}
	r.GapMin, r.GapMax = verdict.Value{V: 2.71, U: 0.1, OK: true}, verdict.Value{V: 4.62, U: 0.1, OK: true}
	r.FlushMin, r.FlushMax = verdict.Value{V: -0.21, U: 0.1, OK: true}, verdict.Value{V: 1.2, U: 0.1, OK: true}
	r.Taper = verdict.Value{V: -0.16, U: 0.02, OK: true}
	return r
}

// keep writes a picture to the folder named in SHUTLINE_PICTURES, to be looked at.
func keep(t *testing.T, name string, img image.Image) {
	t.Helper()
	dir := os.Getenv("SHUTLINE_PICTURES")
	if dir == "" {
		return
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, img))
}

// noOverlap fails when two texts cover each other or one leaves the picture.
func noOverlap(t *testing.T, s *sheet) {
	t.Helper()
	for i, a := range s.texts {
		require.True(t, a.x0 >= 0 && a.y0 >= 0 && a.x1 <= s.w && a.y1 <= s.h, "%q is cut off: %v", a.text, a)
		for _, b := range s.texts[:i] {
			apart := a.x1 <= b.x0 || b.x1 <= a.x0 || a.y1 <= b.y0 || b.y1 <= a.y0
			require.True(t, apart, "%q covers %q", a.text, b.text)
		}
	}
}

func TestSeamTextsStandApart(t *testing.T) {
	for _, size := range []struct {
		name   string
		w, h   int
		scale  float64
		theme  Theme
		n      int
		marker int
	}{
		{"strip", 1100, 170, 1, Light(), 40, -1},
		{"strip-marked-dark", 1100, 170, 1, Dark(), 40, 5},
		{"picture", 1600, 900, 1.5, Light(), 46, -1},
		{"hidpi", 2200, 340, 2, Light(), 30, 28},
		{"narrow", 420, 150, 1, Light(), 12, 3},
	} {
		t.Run(size.name, func(t *testing.T) {
			s := drawSeam(size.w, size.h, size.theme, size.scale, seamOf(size.n), size.marker)
			keep(t, "seam-"+size.name, s.img)
			noOverlap(t, s)
		})
	}
}

func TestSeamAxisGoesThereAndBack(t *testing.T) {
	r := seamOf(46)
	axis := SeamLayout(1100, 170, 1, r)
	for i := range r.Stations {
		require.Equal(t, i, axis.StationAt(axis.X(i)))
	}
	require.Equal(t, 0, axis.StationAt(-1e6))
	require.Equal(t, 45, axis.StationAt(1e6))
	require.Equal(t, -1, SeamLayout(1100, 170, 1, &gapflush.Result{}).StationAt(300))
}

// A chart of a seam without a number says why in its place, each reason with how many stations have it, and what to do.
func TestASeamWithoutANumberSaysWhyInItsChart(t *testing.T) {
	r := seamOf(12)
	for i := range r.Stations {
		st := &r.Stations[i]
		st.Gap, st.Flush, st.State, st.Why = verdict.Value{}, verdict.Value{}, gapflush.NoFace, "The face zone of side A is not there."
		if i%4 == 0 {
			st.State, st.Why = gapflush.Bridged, "Faces run across the gap, so its edges cannot be seen."
		}
	}
	s := drawSeam(2000, 1100, Light(), 2, r, -1)
	keep(t, "seam-none", s.img)
	words := strings.ReplaceAll(said(s), "\n", " ")
	require.Contains(t, words, "9 of 12 stations: The face zone of side A is not there. "+gapflush.NoFace.Remedy())
	require.Contains(t, words, "3 of 12 stations: Faces run across the gap, so its edges cannot be seen. "+gapflush.Bridged.Remedy())
	r.Stations[3].Flush = verdict.Value{V: 0.1, U: 0.05, OK: true}
	require.NotContains(t, said(drawSeam(2000, 1100, Light(), 2, r, -1)), "9 of 12 stations:", "where there is a number the chart shows it")
	// A strip has no room for it.
	noOverlap(t, drawSeam(420, 150, Light(), 1, r, -1))
}

// A hatched stretch may be too narrow for a word of its own: the legend says what the hatch means and why, whatever its width.
func TestTheHatchIsNamedHoweverNarrow(t *testing.T) {
	said := func(s *sheet) (all []string) {
		for _, x := range s.texts {
			all = append(all, x.text)
		}
		return all
	}
	const full = "no value:  nose-unseen  (7),  bridged  (1)"
	for _, c := range []struct {
		w, h, marker int
		want         string
	}{
		{1100, 170, -1, full}, {1100, 170, 5, full}, {700, 170, 5, full}, {420, 150, 3, "no value"},
	} {
		n := 68
		if c.w < 500 {
			n = 12
		}
		s := drawSeam(c.w, c.h, Light(), 1, seamOf(n), c.marker)
		noOverlap(t, s)
		if n == 68 {
			require.NotContains(t, said(s), "bridged", "one station of 68 is too narrow for its word")
		}
		require.Contains(t, said(s), c.want, "%d wide", c.w)
		keep(t, fmt.Sprintf("hatch-%d-%d", c.w, c.marker), s.img)
	}
	whole := seamOf(12)
	for i := range whole.Stations {
		whole.Stations[i].Gap, whole.Stations[i].Flush = verdict.Value{V: 4, U: 0.1, OK: true}, verdict.Value{V: 0, U: 0.1, OK: true}
	}
	require.NotContains(t, strings.Join(said(drawSeam(1100, 170, Light(), 1, whole, -1)), "\n"), "no value")
}
