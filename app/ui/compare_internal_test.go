package ui

import (
	"context"
	"errors"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/demo"
	"shutline/app/inspection"
)

// changed compares two scans of the demo's van, the second made with another seed.
func changed(t *testing.T) *app.Change {
	t.Helper()
	var pair [2]*inspection.Inspection
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), filepath.Join(dir, "a"), demo.Options{Size: 20_000, Seed: 1}, nil))
	require.NoError(t, demo.Write(context.Background(), filepath.Join(dir, "b"), demo.Options{Size: 20_000, Seed: 2}, nil))
	for k, which := range []string{"a", "b"} {
		job, err := inspection.Read(filepath.Join(dir, which, demo.InspectionFile))
		require.NoError(t, err)
		pair[k] = job
	}
	c, err := bench.Production().Change(context.Background(), pair, app.Settings{}, nil)
	require.NoError(t, err)
	return c
}

func TestTwoResultsStandSideBySide(t *testing.T) {
	c := changed(t)
	r := newRig(t)
	var asked [2]string
	r.change = func(pair [2]*inspection.Inspection) (*app.Change, error) {
		asked = [2]string{pair[0].Path, pair[1].Path}
		return c, nil
	}
	r.open()
	r.bench.Show(bench.Surface)
	r.compareWith("before.toml")
	r.pump("the comparison", func() bool { return r.compared != nil })
	require.Equal(t, [2]string{"van.toml", "van.toml"}, asked, "the rig reads its own job from every file")
	said := r.texts(r.card.content)
	require.Contains(t, said, r.words.Change(c).Headline)
	require.Contains(t, said, "WING TO DOOR")
	require.Contains(t, said, "stations of both results side by side")
	require.False(t, r.otherSide.Visible(), "first what has changed")
	require.Equal(t, r.compared.between, r.view.models[0])
	tapText(t, r.bar.content, "Before and after")
	require.True(t, r.otherSide.Visible())
	require.Equal(t, [2]string{"Before", "After"}, [2]string{r.scanName.Text, r.otherName.Text})
	require.Equal(t, r.compared.sides[0], r.view.models[0])
	require.Equal(t, r.compared.sides[1], r.other.models[0])
	r.paint()
	r.view.move(30, 10, false)
	require.Equal(t, r.view.camera, r.other.camera, "both turn as one")
	tapText(t, r.bar.content, "Show the change")
	require.False(t, r.otherSide.Visible())
	r.writeChangeTo(c, "/out", false)
	r.pump("the files", func() bool { r.mu.Lock(); defer r.mu.Unlock(); return len(r.wrote) == 1 })
	r.key(&fyne.KeyEvent{Name: fyne.KeyEscape})
	require.Nil(t, r.compared)
	require.Contains(t, r.texts(r.card.content), "25.0 % of the measured surface")
}

func TestResultsThatCannotBeComparedAreSaid(t *testing.T) {
	r := newRig(t)
	r.change = func([2]*inspection.Inspection) (*app.Change, error) {
		return nil, errors.New("before.toml: its reference is another file")
	}
	r.open()
	r.bench.Show(bench.Surface)
	r.compareWith("before.toml")
	require.Contains(t, r.question(), "its reference is another file")
	require.Nil(t, r.compared)
	require.True(t, r.bench.Complete())
}
