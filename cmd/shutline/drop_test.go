package main

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/ui"
)

// TestFilesAreDropped drops files on the real window as a file manager does: a picture, a folder with a job, another job while
// that is computed, and one mesh after the other.
func TestFilesAreDropped(t *testing.T) {
	drop := filepath.Join(t.TempDir(), "drop")
	out, err := exec.Command("gcc", "-o", drop, filepath.Join("testdata", "drop.c"), "-lX11").CombinedOutput()
	require.NoError(t, err, string(out))
	first, second := filepath.Join(t.TempDir(), "first job"), filepath.Join(t.TempDir(), "größer")
	require.NoError(t, demo.Write(context.Background(), first, demo.Options{Size: 20_000, Seed: 1}, nil))
	require.NoError(t, demo.Write(context.Background(), second, demo.Options{Size: 60_000, Seed: 2}, nil))
	photo := filepath.Join(t.TempDir(), "photo.jpg")
	require.NoError(t, os.WriteFile(photo, []byte("not a mesh"), 0o644))

	d := newDesk(t)
	d.open("light")
	d.wait("the doors", func(e ui.Trace) bool { return e.Event == "ready" })
	give := func(paths ...string) {
		args := []string{d.window, "600", "400"}
		for _, p := range paths {
			args = append(args, (&url.URL{Scheme: "file", Path: p}).String())
		}
		d.do(drop, args...)
	}
	give(photo)
	e := d.wait("what is wrong with it", func(e ui.Trace) bool { return e.Event == "error" })
	require.Contains(t, e.Text, "photo.jpg cannot be opened: drop an inspection file (.toml)")
	give(second)
	parts := func(e ui.Trace) bool { return e.Event == "stage" && e.Stage == "parts" && e.State == "done" }
	bigger := d.wait("the job of the folder", parts)
	give(filepath.Join(first, demo.InspectionFile))
	smaller := d.wait("the other job", parts)
	require.NotEqual(t, bigger.Line, smaller.Line)
	give(filepath.Join(second, "reference.stl"))
	give(filepath.Join(second, "scan.stl"))
	d.key("Return")
	again := d.wait("the two meshes", func(e ui.Trace) bool { return parts(e) && e.Line == bigger.Line })
	require.Equal(t, bigger.Line, again.Line)
}
