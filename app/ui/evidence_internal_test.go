package ui

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
)

// links returns the hyperlinks under an object by their texts.
func links(o fyne.CanvasObject) map[string]*widget.Hyperlink {
	found := map[string]*widget.Hyperlink{}
	var walk func(fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		switch x := o.(type) {
		case *widget.Hyperlink:
			found[x.Text] = x
		case *fyne.Container:
			for _, c := range x.Objects {
				walk(c)
			}
		case fyne.Widget:
			for _, c := range test.WidgetRenderer(x).Objects() {
				walk(c)
			}
		}
	}
	walk(o)
	return found
}

func TestWrittenFilesAreOpenedByAClick(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Evidence)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "heat-left.png"), []byte("x"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "seams.csv"), []byte("x"), 0o600))
	r.writeTo(dir, false)
	r.idle()
	var opened []string
	r.openWith = func(path string) error { opened = append(opened, path); return nil }
	files := links(r.strip.content)
	require.Len(t, files, 2)
	files["heat-left.png"].OnTapped()
	files["seams.csv"].OnTapped()
	tapText(t, r.strip.content, "Open folder")
	tapText(t, r.card.content, "Open folder")
	require.Equal(t, []string{filepath.Join(dir, "heat-left.png"), filepath.Join(dir, "seams.csv"), dir, dir}, opened)

	r.openWith = func(string) error { return errors.New("no opener") }
	files["seams.csv"].OnTapped()
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "seams.csv cannot be opened from here (no opener)")
}

// The figures on the card are those of the job as it is; what lies in the folder is not any more.
func TestWrittenEvidenceIsOutOfDateOnceTheJobHasChanged(t *testing.T) {
	r := newRig(t)
	r.open()
	dir := t.TempDir()
	r.writeTo(dir, false)
	r.idle()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.idle()
	r.bench.Show(bench.Evidence)
	r.paint()
	said := r.texts(r.card.content)
	require.Contains(t, said, dir)
	require.Contains(t, said, "is of the job as it was before it changed")
	require.NotContains(t, said, "these are the figures from before")
	require.Contains(t, r.texts(r.rows[bench.Evidence]), "out of date")

	r.bench.Undo()
	r.idle()
	r.paint()
	require.Contains(t, r.texts(r.rows[bench.Evidence]), "written")
	said = r.texts(r.card.content)
	require.Contains(t, said, "Written to "+dir)
	require.NotContains(t, said, "as it was before it changed")
	r.bench.Redo()
	r.idle()
	r.paint()
	require.Contains(t, r.texts(r.rows[bench.Evidence]), "out of date")
}

// A folder that is typed without its place is named in full by whatever goes wrong with it.
func TestEvidenceGoesIntoAFolderNamedInFull(t *testing.T) {
	r := newRig(t)
	r.open()
	r.writeTo("results", false)
	r.idle()
	here, err := os.Getwd()
	require.NoError(t, err)
	require.Equal(t, []string{filepath.Join(here, "results")}, r.wrote)
}

func TestTheFolderCanBeBrowsedFor(t *testing.T) {
	r := newRig(t)
	r.open()
	r.writeEvidence()
	require.Contains(t, r.texts(r.win.Canvas().Overlays().Top()), "Browse")
	dir := t.TempDir()
	require.Equal(t, dir, inFolder(dir, "van-results"), "an empty folder takes them itself")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "other.txt"), nil, 0o600))
	require.Equal(t, filepath.Join(dir, "van-results"), inFolder(dir, "van-results"))
}

func TestOwnEarlierResultsAreReplacedByAnAnswerInPlainWords(t *testing.T) {
	r := newRig(t)
	r.open()
	b := r.bench
	record := app.Record(b.Outcome())
	require.NotEmpty(t, record.Inputs)
	results := func(tool, inspection, scan string) string {
		return fmt.Sprintf(`{"format": 1, "tool": %q, "inspection": {"sha256": %q}, "inputs": [{"role": "scan", "sha256": %q}], "files": []}`, tool, inspection, scan)
	}
	b.Outcome().Parts.Scan.SHA256 = "aa"
	for _, c := range []struct {
		what, file, text, says, do string
		wrote                      bool
	}{
		{"written just now", "results.json", results("shutline", "of before", "bb"), "this job's earlier results", "Replace", true},
		{"the same scan", "results.json", results("shutline", "of before", "aa"), "earlier results of the same scan", "Replace", false},
		{"another scan", "results.json", results("shutline", "of before", "bb"), "another job or of other meshes", "Replace", false},
		{"something else", "letter.txt", "dear", "other files (letter.txt)", "Write beside them", false},
	} {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, c.file), []byte(c.text), 0o600))
		r.occupied = dir
		if b.Wrote = ""; c.wrote {
			b.Wrote = dir
		}
		r.wrote = nil
		r.writeTo(dir, false)
		said := r.question()
		require.Contains(t, said, c.says, c.what)
		require.NotContains(t, said, "--", "no words of the command line")
		tapText(t, r.win.Canvas().Overlays().Top(), "Other folder")
		require.Contains(t, r.question(), "Write evidence")
		r.win.Canvas().Focused().(*pathEntry).TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
		require.Nil(t, r.win.Canvas().Overlays().Top())
		require.Empty(t, r.wrote)
		r.writeTo(dir, false)
		r.question()
		tapText(t, r.win.Canvas().Overlays().Top(), c.do)
		r.idle()
		require.Equal(t, []string{dir}, r.wrote, c.what)
	}
}
