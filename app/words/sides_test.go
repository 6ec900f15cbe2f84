package words_test

import (
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
	require.Contains(t, found(words.Writer{}.Seam(0, turned)), "Side A, called wing, lies toward +x (the rear); side B, called door, lies toward −x (the front).")

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
