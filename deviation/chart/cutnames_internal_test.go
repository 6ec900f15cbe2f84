package chart

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"
)

// Sections are named beside their lines, apart from one another, off their lines and off what is covered.
func TestSectionsAreNamedBesideTheirLines(t *testing.T) {
	s := newSheet(800, 600, Light(), 1)
	covered := image.Rect(0, 0, 800, 200)
	s.keepOff([]image.Rectangle{covered})
	for _, x := range []float64{200, 230, 600} {
		var run [][2]float64
		for y := range 600 {
			run = append(run, [2]float64{x, float64(y)})
		}
		name := map[float64]string{200: "through the dent", 230: "behind it", 600: "hem of the wing"}[x]
		s.nameCut(name, run)
		at := s.texts[len(s.texts)-1]
		require.Equal(t, name, at.text)
		require.Greater(t, at.y0, 200.0)
		require.True(t, at.x0 > x || at.x1 < x, "beside its own line")
	}
	noOverlap(t, s)
	s.nameCut("out of sight", [][2]float64{{-20, 5}, {900, 5}})
	require.NotContains(t, said(s), "out of sight")
}
