package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

func TestWhichSideIsWhichIsToldByTheAxes(t *testing.T) {
	toward := func(a geom.Vec) func(int, *gapflush.Station) {
		return func(_ int, s *gapflush.Station) { s.A = a }
	}
	front := seam("wing to door", toward(geom.Vec{X: 1}))
	require.Contains(t, found(words.Writer{}.Seam(0, front)),
		"Side A, called wing, lies toward −x (the front); side B, called door, lies toward +x (the rear). Where that is the wrong way round, name the seam “door to wing”.")
	require.NotContains(t, found(words.Writer{}.Seam(0, front)), "scan's own")

	turned := seam("wing to door", toward(geom.Vec{X: -1}))
	card := words.Writer{}.Seam(0, turned)
	require.Contains(t, card.Found[0].Text, "side A, called wing, lies toward +x (the rear) and side B, called door, toward −x (the front). Where that is the wrong way round at the vehicle, the path was drawn in reverse")
	require.Contains(t, card.Found[0].Text, "name the seam “door to wing”")
	require.Contains(t, card.Next[0], "Before anything is moved: see at the vehicle whether wing does lie toward +x (the rear).")
	require.Equal(t, 1, strings.Count(found(card), "called wing"), "once")

	// Without a reference nobody knows where the vehicle's front is.
	said := found(words.Writer{OwnFrame: true}.Seam(0, seam("a seam", toward(geom.Vec{Z: -0.8, X: 0.6}))))
	require.Contains(t, said, "Side A lies toward +z, side B toward −z. These axes are the scan's own: there is no reference that tells which way they lie on the vehicle.")

	// Nor is it known in the frame of a reference that is a scan itself.
	said = found(words.Writer{OwnFrame: true, Reference: true}.Seam(0, seam("a seam", toward(geom.Vec{Z: -0.8, X: 0.6}))))
	require.Contains(t, said, "Side A lies toward +z, side B toward −z. These axes are the reference's own: nothing tells which way they lie on the vehicle. Where they are the vehicle's, write axes = \"vehicle\" in [reference].")

	arch := seam("arch", func(k int, s *gapflush.Station) {
		s.A = [3]geom.Vec{{X: 1}, {Z: -1}, {X: -1}}[k/4]
	})
	require.Contains(t, found(words.Writer{}.Seam(0, arch)),
		"Side A lies toward −x (the front) at stations 1 to 4, toward +z (up) at stations 5 to 8 and toward +x (the rear) at stations 9 to 12, side B toward +x (the rear) at stations 1 to 4")
	require.NotContains(t, found(words.Writer{}.Seam(0, seam("no station has a direction", func(int, *gapflush.Station) {}))), "Side A")
}

// The sign of a flush is read at the station: which panel it is of is told there, by where that one lies.
func TestAStationSaysWhichPanelStandsProud(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		s.A = geom.Vec{X: -1}
		s.Flush.V = [3]float64{1.3, -1.3, 0.01}[k%3]
	})
	r.Seam.Master = gapflush.A
	at := func(k int) string { return strings.Join(words.Writer{}.Station(r, &r.Stations[k]), "\n") }
	require.Contains(t, at(0), "The door (side B), which lies toward −x (the front), stands proud of the wing (side A)")
	require.Contains(t, at(1), "The door (side B), which lies toward −x (the front), sits lower than the wing (side A)")
	require.NotContains(t, at(2), "door", "by its U neither does")
}

func TestATurnedPathIsToldBeforeAnySign(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) { s.A, s.Flush.V = geom.Vec{X: 1}, 1.3 })
	r.Notes = []string{"Something else.", "The path was turned round, so that side A is the front or the upper panel."}
	c := words.Writer{}.Seam(0, r)
	require.Contains(t, c.Found[0].Text, "The path was turned round")
	require.Equal(t, 1, strings.Count(found(c), "turned round"))
}

// A panel cannot lie before and behind the same other one: of two seams between them one has its sides exchanged.
func TestSeamsThatExchangeThePanelsAreHeldBesideOneAnother(t *testing.T) {
	toward := func(a geom.Vec) func(int, *gapflush.Station) {
		return func(_ int, s *gapflush.Station) { s.A = a }
	}
	upper := seam("wing to door, upper", toward(geom.Vec{X: 1}))
	rear := func(k int, s *gapflush.Station) { s.A, s.P = geom.Vec{X: -1}, geom.Vec{X: 900} }
	require.NotContains(t, found(words.Writer{Seams: []*gapflush.Result{upper, seam("wing to door", rear)}}.Seam(0, upper)), "exchanged",
		"one panel may lie between the two seams")
	for _, c := range []struct {
		name string
		a    geom.Vec
		told bool
	}{
		{"wing to door, lower", geom.Vec{X: -1}, true},
		{"wing to door, lower", geom.Vec{X: 1}, false},
		{"door to wing, lower", geom.Vec{X: 1}, true},
		{"door to wing, lower", geom.Vec{X: -1}, false},
		{"bonnet to wing", geom.Vec{X: -1}, false},
		{"wing to door, lower", geom.Vec{Z: 1}, false},
	} {
		lower := seam(c.name, toward(c.a))
		w := words.Writer{Seams: []*gapflush.Result{upper, lower}}
		card := w.Seam(0, upper)
		if !c.told {
			require.NotContains(t, found(card), "exchanged", c.name)
			continue
		}
		require.Contains(t, found(card), "By seam “"+c.name+"” wing lies toward +x (the rear), by this one the other way: in one of the two the sides are exchanged.")
		require.Contains(t, card.Next[0], "until then what is said to move may be the wrong panel")
		require.Contains(t, found(w.Seam(1, lower)), "By seam “wing to door, upper”")
	}
}

func TestAGapThatIsMeasuredTwiceIsTold(t *testing.T) {
	along := func(name string, x, from, to float64) *gapflush.Result {
		r := seam(name, func(int, *gapflush.Station) {})
		r.Seam.Path = []geom.Vec{{X: x, Y: from}, {X: x, Y: to}}
		return r
	}
	first := along("wing to door", 0, 0, 600)
	for name, c := range map[string]struct {
		other *gapflush.Result
		told  bool
	}{
		"a second one in the same gap": {along("seam 3", 1, 100, 500), true},
		"one farther on in it":         {along("seam 3", 0, 620, 900), false},
		"one beside it":                {along("seam 3", 40, 0, 600), false},
	} {
		w := words.Writer{Seams: []*gapflush.Result{first, c.other}}
		const said = "It runs along the same gap as seam “wing to door”"
		if c.told {
			require.Contains(t, found(w.Seam(1, c.other)), said, name)
		} else {
			require.NotContains(t, found(w.Seam(1, c.other)), said, name)
		}
	}
	stretch := along("wing to door, 0 to 300 mm", 0, 0, 300)
	stretch.Seam.Whole = "wing to door"
	require.NotContains(t, found(words.Writer{Seams: []*gapflush.Result{first, stretch}}.Seam(1, stretch)), "measured twice", "a stretch is part of its seam")
}
