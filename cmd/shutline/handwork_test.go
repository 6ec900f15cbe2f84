package main

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/ui"
)

func shown(stage string) func(ui.Trace) bool {
	return func(e ui.Trace) bool { return e.Event == "shown" && e.Stage == stage }
}

// TestHandwork drives the real window through what is done by hand on the part: shut
// lines proposed and taken, a path dragged by a handle, a range of deviations lit, and the
// scan placed by pairs of points picked on both meshes.
func TestHandwork(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	d := newDesk(t)
	d.open("light", filepath.Join(dir, demo.ScanFile), filepath.Join(dir, demo.ReferenceFile))
	d.wait("the surface", func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "surface" && e.State == "done" })

	d.click("stage seams", 0.5, 0.5)
	d.wait("the seams", shown("seams"))
	d.shot("seams-none")
	d.click("find seams", 0.5, 0.5)
	found := d.wait("proposals", func(e ui.Trace) bool { return e.Event == "found" || e.Event == "error" })
	require.Equal(t, "found", found.Event, found.Text)
	require.GreaterOrEqual(t, found.Station, 2, "the van's side has two shut lines")
	d.shot("seams-found")
	d.key("Return")
	d.wait("the seams to be measured", func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "seams" && e.State == "done" })
	d.shot("seams-taken")

	d.click("move path", 0.5, 0.5)
	d.shot("path")
	d.key("Escape")

	d.key("ctrl+4")
	d.wait("the surface stage", shown("surface"))
	before := pixels(d.picture())
	d.drag("strip", 0.15, 0.5, 0.35, 0.5)
	require.False(t, d.near("view", before), "what is brushed is lit")
	d.shot("brush")
	d.key("Escape")
	d.until("the colours again", func() bool { return d.near("view", before) })

	d.key("ctrl+3")
	d.wait("the place stage", shown("place"))
	d.click("pairs", 0.5, 0.5)
	d.until("both views", func() bool { d.events(); return d.layout["other view"][2] > 100 })
	d.shot("pairs-none")
	for k, at := range [][2]float32{{0.2, 0.42}, {0.45, 0.5}, {0.75, 0.42}, {0.6, 0.57}} {
		for _, side := range []string{"view", "other view"} {
			d.click(side, at[0], at[1])
			e := d.wait("a point of a pair", func(e ui.Trace) bool { return e.Event == "pair" })
			require.Equal(t, map[string]string{"view": "scan", "other view": "reference"}[side], e.Name)
			if side == "other view" {
				require.Equal(t, k+1, e.Station)
			}
		}
	}
	d.shot("pairs")
	was := pixels(d.picture())
	d.drag("other view", 0.45, 0.5, 0.45, 0.56)
	require.False(t, bytes.Equal(was, pixels(d.picture())), "a ring is dragged")
	d.shot("pairs-wrong")
	d.drag("other view", 0.45, 0.56, 0.45, 0.5)
	d.key("Return")
	d.wait("the placement by pairs", func(e ui.Trace) bool {
		return e.Event == "stage" && e.Stage == "place" && e.State != "stale" && e.State != "working"
	})
	d.shot("placed-by-pairs")
	d.key("ctrl+z")
	d.wait("the best fit again", func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "place" && e.State == "conforms" })
}
