package main

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/ui"
)

// TestFromTwoFilesToASeamTable goes the way through the window that the README describes: two meshes, shut lines found and taken,
// a step undone and done again, the tables written.
func TestFromTwoFilesToASeamTable(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	d := newDesk(t)
	d.open("light", filepath.Join(dir, demo.ScanFile), filepath.Join(dir, demo.ReferenceFile))
	measured := func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "seams" && e.State == "done" }
	d.wait("the surface", func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "surface" && e.State == "done" })
	d.key("ctrl+shift+f")
	found := d.wait("proposals", func(e ui.Trace) bool { return e.Event == "found" || e.Event == "error" })
	require.Equal(t, "found", found.Event, found.Text)
	d.key("Return")
	d.wait("the seams to be measured", measured)
	d.shot("walk-seams")

	d.key("ctrl+z")
	d.wait("the job without seams", func(e ui.Trace) bool { return e.Event == "job" })
	d.key("ctrl+y")
	d.wait("the seams again", measured)

	d.key("ctrl+e")
	d.wait("the question for a folder", func(e ui.Trace) bool { return e.Event == "asked" && e.Name == "evidence" })
	d.key("Return")
	e := d.wait("the evidence", func(e ui.Trace) bool { return e.Event == "written" || e.Event == "error" })
	require.Equal(t, "written", e.Event, e.Text)
	require.Equal(t, filepath.Join(dir, "scan-results"), e.Text)
	d.shot("walk-evidence")
	f, err := os.Open(filepath.Join(e.Text, "seams.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(rows), 3, "the van's side has two shut lines")
	require.Equal(t, []string{"seam", "stations", "measured"}, rows[0][:3])
	require.FileExists(t, filepath.Join(e.Text, "stations.csv"))
}
