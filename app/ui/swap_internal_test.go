package ui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

func TestExchangedFilesAreSwappedByAButtonAndBack(t *testing.T) {
	r := newRig(t)
	r.loaded = func(i *inspection.Inspection, parts *app.Parts) {
		smooth := &quality.Examination{HasNoise: true, Noise: 0.0005, Spacing: 2}
		rough := &quality.Examination{HasNoise: true, Noise: 0.03, Spacing: 2}
		parts.Examined.Scan, parts.Examined.Reference = rough, smooth
		if i.Scan.File == "drawing.stl" {
			parts.Examined.Scan, parts.Examined.Reference = smooth, rough
		}
	}
	job := inspection.Default("drawing.stl", "afternoon.stl")
	job.Scan.Units, job.Scan.SHA256 = meshio.Millimetre, "aa"
	r.bench.OpenJob(job)
	r.idle()
	require.Contains(t, r.texts(r.card.content), "Have scan and reference been swapped?")
	for _, o := range r.card.found.Objects {
		if b, ok := o.(*pushButton); ok && b.Text == "Swap scan and reference" {
			r.click(b)
		}
	}
	r.idle()
	now := r.bench.Job()
	require.Equal(t, "afternoon.stl", now.Scan.File)
	require.Equal(t, "drawing.stl", now.Reference.File)
	require.Equal(t, meshio.Millimetre, now.Reference.Units)
	require.Equal(t, "aa", now.Reference.SHA256)
	require.Empty(t, now.Scan.Units)
	require.NotContains(t, r.texts(r.card.content), "wapped?")
	require.NotContains(t, r.texts(r.card.content), "Swap")
	require.Equal(t, "swapping scan and reference", r.bench.CanUndo())
	r.undo()
	r.idle()
	require.Equal(t, "drawing.stl", r.bench.Job().Scan.File)
	require.Contains(t, r.texts(r.card.content), "Swap scan and reference")
}
