package main

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/ui"
)

// TestTheMenusAreDrivenByKeys opens menus of the real window by F10 and by Alt with a letter, goes through them by arrows, and
// opens a job by typing its path.
func TestTheMenusAreDrivenByKeys(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 20_000, Seed: 1}, nil))
	d := newDesk(t)
	d.open("light", filepath.Join(dir, demo.InspectionFile))
	d.wait("the surface", func(e ui.Trace) bool {
		return e.Event == "stage" && e.Stage == "surface" && e.State != "not done" && e.State != "working"
	})
	d.key("alt+s")
	d.shot("menu-stage")
	for _, k := range []string{"Down", "Down", "Down", "Return"} {
		d.key(k)
	}
	d.wait("the third stage", shown("place"))
	d.key("F10")
	for _, k := range []string{"Right", "Right", "Right", "Down", "Return"} { // the first menu is File, the fourth Stage
		d.key(k)
	}
	d.wait("the first stage", shown("parts"))
	d.key("ctrl+o")
	d.wait("the question", func(e ui.Trace) bool { return e.Event == "asked" })
	d.do("xdotool", "type", filepath.Join(dir, demo.InspectionFile))
	d.key("Return")
	d.wait("the job again", func(e ui.Trace) bool { return e.Event == "job" })
}
