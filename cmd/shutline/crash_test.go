package main

import (
	"context"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/app/ui"
)

// TestACrashLosesNothing kills the real program with changes that are not saved, starts it
// again, takes the changes back and saves them into the job's file, whose comments stay.
func TestACrashLosesNothing(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 20_000, Seed: 1}, nil))
	job := filepath.Join(dir, demo.InspectionFile)
	text, err := os.ReadFile(job)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(job, append([]byte("# asked for by the workshop\n"), text...), 0o644))

	d := newDesk(t)
	d.home = t.TempDir()
	d.open("light", job)
	d.stages()
	d.key("ctrl+5")
	d.wait("the seams", shown("seams"))
	d.key("ctrl+shift+m")
	d.wait("the handles", shown("seams"))
	d.picture()
	d.key("ctrl+shift+d")
	d.wait("the seam to be gone", func(e ui.Trace) bool { return e.Event == "job" })
	beside := filepath.Join(dir, "inspection.unsaved.toml")
	d.until("the changes beside the job", func() bool {
		i, err := inspection.Read(beside)
		if err != nil || len(i.Seams) != 1 {
			return false
		}
		// The note for the next start is written behind it.
		notes, err := filepath.Glob(filepath.Join(d.home, "shutline", "unsaved", "note-*.json"))
		if err != nil || len(notes) != 1 {
			return false
		}
		note, err := os.ReadFile(notes[0])
		return err == nil && len(note) > 0
	})
	require.NoError(t, d.program.Process.Signal(syscall.SIGKILL))
	<-d.ended
	kept, err := inspection.Read(job)
	require.NoError(t, err)
	require.Len(t, kept.Seams, 2, "the job's own file is as it was")

	d.open("light")
	asked := d.wait("the offer", func(e ui.Trace) bool { return e.Event == "asked" && e.Name == "unsaved" })
	require.Equal(t, beside, asked.Text)
	d.shot("unsaved")
	d.key("space")
	d.wait("the job", func(e ui.Trace) bool { return e.Event == "job" && e.Text != "" })
	d.key("ctrl+s")
	d.wait("the file", func(e ui.Trace) bool { return e.Event == "saved" && e.Text == job })
	kept, err = inspection.Read(job)
	require.NoError(t, err)
	require.Len(t, kept.Seams, 1)
	require.NotEmpty(t, kept.Scan.SHA256, "it says which scan it was made with")
	now, err := os.ReadFile(job)
	require.NoError(t, err)
	require.Contains(t, string(now), "# asked for by the workshop\n")
	d.until("nothing to be left beside it", func() bool { _, err := os.Stat(beside); return err != nil })
	d.key("ctrl+q")
	require.NoError(t, <-d.ended, d.said.String())
}
