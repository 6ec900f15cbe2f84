package bench_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/inspection"
)

// tracedJob writes a job with a seam that is traced and the rest to be found, and returns its file.
func tracedJob(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "job")
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 20_000, Seed: 2}, nil))
	path := filepath.Join(dir, "traced.toml")
	require.NoError(t, os.WriteFile(path, fmt.Appendf(nil, `# Ordered by the workshop.
[scan]
file = "%s"

[reference]
file = "%s"

[surface]
views = ["left"]

# Two clicks.
[[seam]]
name = "wing to door"   # the one that rubs
path = [[758.03, 16.13, 389.0], [761.36, 16.05, 481.0]]
trace = true
pictures = "none"

# All others.
[[seam]]
find = true
pictures = "none"
`, demo.ScanFile, demo.ReferenceFile), 0o644))
	return path
}

func TestTracedAndFoundSeamsAreSavedAsTheyWereTyped(t *testing.T) {
	path := tracedJob(t)
	opened, err := os.ReadFile(path)
	require.NoError(t, err)
	b, settle := realBench(t)
	b.Open(path)
	settle()
	require.Greater(t, len(b.Job().Seams), 1)
	require.False(t, b.Dirty())
	b.Edit("every", func(i *inspection.Inspection) { i.Seams[0].Every = 10 })
	settle()
	require.NoError(t, b.Save(path))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	for line := range strings.Lines(string(opened)) {
		require.Contains(t, string(text), line)
	}
	require.Contains(t, string(text), "every = 10")
	written := filepath.Join(t.TempDir(), "window")
	b.WriteEvidence(written, false, func(string, error) {})
	settle()
	sameHeadless(t, path, written)

	b.Edit("path", func(i *inspection.Inspection) { i.Seams[0].Path[0].Z += 10 })
	settle()
	require.NoError(t, b.Save(path))
	text, err = os.ReadFile(path)
	require.NoError(t, err)
	require.NotContains(t, string(text), "trace = true", "it was drawn anew")
	require.Contains(t, string(text), "find = true")
	b.WriteEvidence(written, true, func(string, error) {})
	settle()
	sameHeadless(t, path, written)
}

// The mesh that seams were laid on is another one: they are laid anew, as the saved file will be.
func TestSeamsAreLaidAnewOnAnotherReference(t *testing.T) {
	path := tracedJob(t)
	b, settle := realBench(t)
	b.Open(path)
	settle()
	b.Edit("scanned", func(i *inspection.Inspection) { i.Reference.Scanned = true })
	settle()
	require.NoError(t, b.Save(path))
	written := filepath.Join(t.TempDir(), "window")
	b.WriteEvidence(written, false, func(string, error) {})
	settle()
	sameHeadless(t, path, written)
}

// A save after changes were taken back gives the file that was opened, comments, order and all.
func TestASaveAfterUndoGivesTheOpenedFile(t *testing.T) {
	path := tracedJob(t)
	b, settle := realBench(t)
	b.Open(path)
	settle()
	require.NoError(t, b.Save(path)) // notes which meshes they are
	opened, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(opened), "# the one that rubs")
	b.Edit("title", func(i *inspection.Inspection) { i.Title = "another" })
	settle()
	b.Edit("seam deleted", func(i *inspection.Inspection) { i.RemoveSeam(0) })
	settle()
	require.NoError(t, b.Save(path))
	removed, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NotContains(t, string(removed), "the one that rubs")

	b.Undo()
	settle()
	require.NoError(t, b.Save(path))
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "title = \"another\"\n"+string(opened), string(text))
	b.Undo()
	settle()
	require.NoError(t, b.Save(path))
	text, err = os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(opened), string(text))
	b.Redo()
	b.Redo()
	settle()
	require.NoError(t, b.Save(path))
	text, err = os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(removed), string(text))
}
