package ui

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// What is not there is said in the words of the headless command, wherever the window meets it.
func TestAMissingFileIsSaidAsTheHeadlessCommandSaysIt(t *testing.T) {
	dir := t.TempDir()
	file := func(name string) string { return filepath.Join(dir, name) }
	m := bodywork.Plane(60, 60, 5)
	f, err := os.Create(file("scan.stl"))
	require.NoError(t, err)
	require.NoError(t, meshio.WriteSTL(f, m))
	require.NoError(t, f.Close())
	require.NoError(t, os.WriteFile(file("job.toml"), []byte("title = \"x\"\n[scan]\nfile = \"scans.stl\"\nunits = \"mm\"\n"), 0o644))
	require.NoError(t, os.WriteFile(file("ref.toml"), []byte("[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\n[reference]\nfile = \"gone.stl\"\nunits = \"mm\"\n"), 0o644))
	headless := func(path string) string {
		i, err := inspection.Read(path)
		if err == nil {
			_, err = app.LoadParts(context.Background(), i, app.Settings{}, nil)
		}
		require.Error(t, err)
		return app.Sentence(err)
	}
	a := test.NewTempApp(t)
	r := &rig{t: t, queue: make(chan func(), 10000)}
	r.Window = New(a, Options{Services: bench.Production(), Post: func(f func()) { r.queue <- f }, Version: "test"})
	r.win.Resize(fyne.NewSize(1280, 800))
	t.Cleanup(func() {
		r.bench.Stop()
		r.view.painter.close()
		r.other.painter.close()
		r.drain()
	})
	shown := func(open func()) string {
		for r.win.Canvas().Overlays().Top() != nil {
			r.win.Canvas().Overlays().Remove(r.win.Canvas().Overlays().Top())
		}
		open()
		r.pump("the sentence", func() bool { return r.win.Canvas().Overlays().Top() != nil })
		return r.texts(r.win.Canvas().Overlays().Top())
	}
	for _, name := range []string{"none.toml", "job.toml", "ref.toml"} {
		said := headless(file(name))
		require.Contains(t, said, "there is no")
		require.Contains(t, shown(func() { r.openJob(file(name)) }), said+"\n")
	}
	// The changes of a program that was killed name the file with the changes, where the line is.
	u := bench.Unsaved{Job: file("none.toml"), File: file("ref.toml")}
	require.Contains(t, shown(func() { r.bench.Recover(u) }), headless(file("ref.toml"))+"\n")
	// A scan and a reference that no inspection names, as `info` says it.
	_, err = meshio.Read(context.Background(), file("scans.stl"), meshio.Options{})
	require.Error(t, err)
	require.Contains(t, shown(func() { r.openPair(file("scans.stl"), "") }), app.Sentence(err)+"\n")
}
