package ui

import (
	"slices"
	"testing"
	"weak"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/geom"
)

// A seam that cannot be traced is told as such where it stands; the other is measured, and its points moved it is traced again.
func TestASeamThatCannotBeTracedIsTold(t *testing.T) {
	r := newRig(t)
	job := vanJob()
	job.SeamLaying = []inspection.Laying{inspection.Traced, inspection.Typed}
	off := slices.Clone(job.Seams[0].Path)
	var asked [][]geom.Vec
	r.layer = func(i *inspection.Inspection, placed *app.Placed) *inspection.Inspection {
		require.Equal(t, job.SeamLaying, i.SeamLaying)
		asked = append(asked, i.Seams[0].Path)
		made := *i
		made.SeamLaying = nil
		laid := made
		laid.Laid = &inspection.Laid{File: i, Made: &made, Of: []int{0, 1}, Whole: make([]app.SeamPath, 2), On: weak.Make(placed.Mesh),
			Paths: []app.SeamPath{{Laying: inspection.Traced}, {}}}
		if slices.Equal(i.Seams[0].Path, off) {
			laid.Laid.Paths[0].Why = "its points lie on one another; write two different points on the gap"
		}
		return &laid
	}
	r.bench.OpenJob(job)
	r.idle()
	r.bench.Show(bench.Seams)
	r.bench.SelectSeam(0)
	said := r.texts(r.card.content)
	require.Contains(t, said, "This seam was not measured")
	require.Contains(t, said, "No value, because its points lie on one another; write two different points on the gap.")
	require.NotContains(t, said, "STATION")
	require.Equal(t, bench.Open, r.card.headlineLamp)
	require.NoError(t, r.bench.Err(bench.Seams))
	r.bench.SelectSeam(1)
	require.NotNil(t, r.bench.Station(), "the other seam has its stations")
	require.NotContains(t, r.texts(r.card.content), "No value")
	r.bench.Show(bench.Evidence)
	require.Contains(t, r.texts(r.card.content), "no value, because its points lie on one another")
	r.paint()

	r.bench.Show(bench.Seams)
	r.bench.Edit("path", func(i *inspection.Inspection) { i.Seams[0].Path = []geom.Vec{{X: 1}, {X: 1, Z: 300}} })
	r.idle()
	require.Equal(t, [][]geom.Vec{off, {{X: 1}, {X: 1, Z: 300}}}, asked)
	r.bench.SelectSeam(0)
	require.NotContains(t, r.texts(r.card.content), "not measured")
	require.Equal(t, inspection.Traced, r.bench.Job().Laid.File.SeamLaying[0])
}
