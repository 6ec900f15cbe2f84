package ui

import (
	"testing"
	"weak"

	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// When the mouse is pressed on an entry, the one that had the focus hands the name over before the other one gets it: that must
// still be on the screen.
func TestAClickAfterANameReachesItsField(t *testing.T) {
	r := newRig(t)
	r.openKept()
	r.bench.Show(bench.Seams)
	r.typed("Name", "wing to sill")
	next := r.setting("Gap off by, mm")
	r.win.Canvas().Focus(next)
	require.Equal(t, "wing to sill", r.bench.Job().Seams[0].Name)
	require.False(t, next.gone)
	require.Same(t, next, r.win.Canvas().Focused())
	require.Equal(t, []string{"wing to sill", r.bench.Job().Seams[1].Name}, r.card.seams.Options)
	require.Equal(t, "wing to sill", r.card.seams.Selected)
	next.SetText("")
	test.Type(next, "0.7")
	r.idle()
	require.Same(t, next, r.win.Canvas().Focused())
	require.True(t, r.settle())
	require.Equal(t, 0.7, r.bench.Job().Seams[0].Gap.Tolerance.Hi)
	r.undo()
	r.undo()
	r.idle()
	require.Equal(t, vanJob().Seams[0].Name, r.card.seams.Selected)
	require.Equal(t, vanJob().Seams[0].Name, r.setting("Name").Text)
	r.bench.SelectSeam(1)
	require.Equal(t, vanJob().Seams[1].Name, r.card.seams.Selected)
}

// What saving makes of seams that the file says together is told where it is done.
func TestSeamsThatSavingWritesOutAreTold(t *testing.T) {
	r := newRig(t)
	const says = "Saving writes the seams of “found” out with their paths"
	job := vanJob()
	both := job.Seams
	job.Seams, job.SeamLaying = []gapflush.Seam{gapflush.DefaultSeam("found", nil)}, []inspection.Laying{inspection.Found}
	r.layer = func(i *inspection.Inspection, placed *app.Placed) *inspection.Inspection {
		made := *i
		made.Seams, made.SeamLaying = both, nil
		laid := made
		laid.Laid = &inspection.Laid{File: i, Made: &made, Of: []int{0, 0}, Whole: make([]app.SeamPath, 1), Paths: make([]app.SeamPath, 2), On: weak.Make(placed.Mesh)}
		for _, s := range both {
			laid.Laid.Lines = append(laid.Laid.Lines, inspection.FoundLine{Name: s.Name, Path: s.Path})
		}
		return &laid
	}
	r.bench.OpenJob(job)
	r.idle()
	r.bench.Show(bench.Seams)
	require.NotContains(t, r.texts(r.card.content), says)
	r.bench.Edit("limit", func(i *inspection.Inspection) { i.Seams[0].Every = 10 })
	r.idle()
	require.Contains(t, r.texts(r.card.content), says)
}
