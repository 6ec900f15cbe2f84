package ui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// choice returns the card's choice of a name, with the card's settings unfolded.
func (r *rig) choice(name string) *chooser {
	r.t.Helper()
	r.card.fold.Open(0)
	for _, i := range r.card.settings.items {
		if s, ok := i.Widget.(*chooser); ok && i.Text == name {
			return s
		}
	}
	require.FailNow(r.t, "no choice "+name)
	return nil
}

// Methods whose datums, pairs or matrix a file holds can be chosen, run and are
// shown; what is not used stays in the job.
func TestMethodsOfAFileCanBeChosen(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Place)
	require.Equal(t, []string{"best fit", "as it lies"}, r.choice("Method").Options)
	r.bench.Edit("datums", func(i *inspection.Inspection) {
		i.Place.Datums = make([]align.Datum, align.DatumCount)
		i.Place.Pairs = make([]align.Pair, 3)
		i.Place.HasMatrix = true
	})
	r.idle()
	require.Equal(t, []string{"best fit", "datums, 3-2-1", "pairs of points", "matrix given", "as it lies"}, r.choice("Method").Options)
	for _, m := range []string{"datums", "pairs", "given", "best-fit"} {
		r.choice("Method").SetSelected(methodTitle(m))
		r.idle()
		require.Equal(t, m, r.bench.Job().Place.Method)
		require.Equal(t, m, r.bench.Outcome().Placed.Placement.Method)
		require.Len(t, r.bench.Job().Place.Datums, align.DatumCount)
	}
}

func TestMirroringInAPlane(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Parts)
	require.Equal(t, []string{"not mirrored", "x = 0", "y = 0", "z = 0", "its plane of symmetry"}, r.choice("Mirrored in").Options)
	r.choice("Mirrored in").SetSelected("its plane of symmetry")
	r.idle()
	require.Equal(t, "find", r.bench.Job().Reference.Mirror)
	require.Contains(t, r.header.files.Text, "(mirrored in its plane of symmetry)")
	job := bench.Changed(r.bench.Job(), func(i *inspection.Inspection) { i.Reference.MirrorPlane.Normal = geom.Vec{Y: 1} })
	require.Equal(t, []string{"none", "x", "y", "z", "find", "plane"}, mirrorOptions(job))
	require.Equal(t, "the plane given", mirrorName("plane"))
}
