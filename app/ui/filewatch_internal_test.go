package ui

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
)

// A scan that is exchanged under an open job is told when the window gets the focus back, once, and when work begins; one that was
// only touched, or copied over itself, is the same file.
func TestAScanExchangedUnderAnOpenJobIsTold(t *testing.T) {
	r := newRig(t)
	path := filepath.Join(t.TempDir(), "scan.stl")
	require.NoError(t, os.WriteFile(path, []byte("solid one"), 0o644))
	sum, err := hashOf(path)
	require.NoError(t, err)
	require.Equal(t, "97f5c7de", sum[:8]) // of printf 'solid one' | sha256sum
	r.loaded = func(_ *inspection.Inspection, parts *app.Parts) { parts.Scan.Path, parts.Scan.SHA256 = path, sum }
	r.open()
	look := func() {
		t.Helper()
		r.app.Lifecycle().(interface{ OnEnteredForeground() func() }).OnEnteredForeground()()
		r.pump("the look", func() bool { return !r.files.looking })
	}
	look()
	require.False(t, r.asking())
	require.NoError(t, os.Chtimes(path, time.Now(), time.Now().Add(-time.Hour)))
	look()
	require.False(t, r.asking(), "the same bytes at another time")
	require.NoError(t, os.WriteFile(path, []byte("solid two"), 0o644))
	look()
	require.Contains(t, r.question(), "scan.stl is another file now")
	tapText(t, r.win.Canvas().Overlays().Top(), "Go on with what was read")
	look()
	require.False(t, r.asking(), "it was said")
	// Work tells too.
	require.NoError(t, os.WriteFile(path, []byte("solid three"), 0o644))
	r.bench.Edit("reach", func(i *inspection.Inspection) { i.Surface.Reach = 5 })
	r.pump("the look", func() bool { return !r.files.looking })
	r.idle()
	require.Contains(t, r.question(), "scan.stl is another file now")
	before := r.bench.Outcome().Parts
	tapText(t, r.win.Canvas().Overlays().Top(), "Open the job again")
	r.idle()
	if r.asking() {
		tapText(t, r.win.Canvas().Overlays().Top(), "Do not save")
		r.idle()
	}
	require.NotSame(t, before, r.bench.Outcome().Parts, "the file was read again")
}
