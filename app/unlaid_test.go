package app_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Whatever is changed in a job whose seams were laid: its file, read and laid anew, gives the seams that were measured,
// and keeps what was typed wherever it still says them.
func TestLaidSeamsAreFiledAsTheyWereTyped(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	one, other := job.Seams[0], job.Seams[1]
	ends := func(path []geom.Vec) []geom.Vec { return []geom.Vec{path[0], path[len(path)-1]} }
	traced, found := gapflush.DefaultSeam(one.Name, ends(one.Path)), gapflush.DefaultSeam("found", nil)
	typed := gapflush.DefaultSeam("by hand", one.Path)
	named := gapflush.DefaultSeam("left upright at x 760", other.Path) // as a search calls the first one
	limit := verdict.Tolerance{Lo: -1, Hi: 1}
	stretch := inspection.Stretch{Seam: "by hand", From: 100, To: 300, HasGap: true, GapOff: limit}
	rename := func(k int, name string) func(*inspection.Inspection) {
		return func(i *inspection.Inspection) { i.RenameSeam(k, name) }
	}
	judge := func(k int) func(*inspection.Inspection) {
		return func(i *inspection.Inspection) { i.Seams[k].Gap = gapflush.Target{Judged: true, Tolerance: limit} }
	}
	judgeAll := func(i *inspection.Inspection) {
		for k := range i.Seams {
			judge(k)(i)
		}
	}
	remove := func(k int) func(*inspection.Inspection) {
		return func(i *inspection.Inspection) { i.RemoveSeam(k) }
	}
	redraw := func(k int) func(*inspection.Inspection) {
		return func(i *inspection.Inspection) {
			i.Seams[k].Path = slices.Clone(i.Seams[k].Path)
			i.Seams[k].Path[0].Z += 20
		}
	}
	add := func(name string, path []geom.Vec) func(*inspection.Inspection) {
		return func(i *inspection.Inspection) {
			i.Seams, i.SeamPictures = append(i.Seams, gapflush.DefaultSeam(name, path)), append(i.SeamPictures, "all")
		}
	}
	elsewhere := []geom.Vec{{X: 1500, Y: 800, Z: 500}, {X: 1500, Y: 800, Z: 700}}
	f, tr, ty := inspection.Found, inspection.Traced, inspection.Typed
	for _, c := range []struct {
		name      string
		seams     []gapflush.Seam
		laying    []inspection.Laying
		stretches []inspection.Stretch
		change    func(*inspection.Inspection)
		filed     []inspection.Laying // as it is filed
		fixed     []string
	}{
		{"traced", []gapflush.Seam{traced}, []inspection.Laying{tr}, nil, nil, []inspection.Laying{tr}, nil},
		{"traced, judged", []gapflush.Seam{traced}, []inspection.Laying{tr}, nil, judge(0), []inspection.Laying{tr}, nil},
		{"traced, renamed", []gapflush.Seam{traced}, []inspection.Laying{tr}, nil, rename(0, "wing"), []inspection.Laying{tr}, nil},
		{"traced, drawn anew", []gapflush.Seam{traced}, []inspection.Laying{tr}, nil, redraw(0), nil, nil},
		{"traced, one more", []gapflush.Seam{traced}, []inspection.Laying{tr}, nil, add("more", other.Path), []inspection.Laying{tr, ty}, nil},
		{"found", []gapflush.Seam{found}, []inspection.Laying{f}, nil, nil, []inspection.Laying{f}, nil},
		{"found, all judged", []gapflush.Seam{found}, []inspection.Laying{f}, nil, judgeAll, []inspection.Laying{f}, nil},
		{"found, one judged", []gapflush.Seam{found}, []inspection.Laying{f}, nil, judge(0), nil, []string{"found"}},
		{"found, one renamed", []gapflush.Seam{found}, []inspection.Laying{f}, nil, rename(1, "wing"), nil, []string{"found"}},
		{"found, one removed", []gapflush.Seam{found}, []inspection.Laying{f}, nil, remove(0), nil, []string{"found"}},
		{"found, one drawn anew", []gapflush.Seam{found}, []inspection.Laying{f}, nil, redraw(1), nil, []string{"found"}},
		{"found, one more elsewhere", []gapflush.Seam{found}, []inspection.Laying{f}, nil, add("more", elsewhere), []inspection.Laying{f, ty}, nil},
		{"found, one more on one of them", []gapflush.Seam{found}, []inspection.Laying{f}, nil, add("more", other.Path), nil, []string{"found"}},
		{"found beside traced", []gapflush.Seam{found, traced}, []inspection.Laying{f, tr}, nil, nil, []inspection.Laying{f, tr}, nil},
		{"found beside traced, that drawn anew", []gapflush.Seam{found, traced}, []inspection.Laying{f, tr}, nil, redraw(1), []inspection.Laying{f, ty}, nil},
		{"found beside traced, that removed", []gapflush.Seam{found, traced}, []inspection.Laying{f, tr}, nil, remove(1), nil, []string{"found"}},
		{"found beside typed, that is renamed", []gapflush.Seam{typed, found}, []inspection.Laying{ty, f}, nil, rename(0, "wing"), []inspection.Laying{ty, f}, nil},
		{"found beside typed, that held its name", []gapflush.Seam{named, found}, []inspection.Laying{ty, f}, nil, rename(0, "wing"), nil, []string{"found"}},
		{"found beside both, nothing new", []gapflush.Seam{traced, found, gapflush.DefaultSeam("b", other.Path)}, []inspection.Laying{tr, f, ty}, nil, judge(1), []inspection.Laying{tr, f, ty}, nil},
		{"stretches", []gapflush.Seam{typed}, nil, []inspection.Stretch{stretch}, nil, nil, nil},
		{"stretches, one more", []gapflush.Seam{typed}, nil, []inspection.Stretch{stretch}, add("more", other.Path), nil, nil},
		{"stretches, one judged", []gapflush.Seam{typed}, nil, []inspection.Stretch{stretch}, judge(2), nil, []string{"by hand"}},
		{"stretches, beside found", []gapflush.Seam{typed, found}, []inspection.Laying{ty, f}, []inspection.Stretch{stretch}, nil, []inspection.Laying{ty, f}, nil},
	} {
		i.Seams, i.SeamLaying, i.Stretches, i.SeamPictures = c.seams, c.laying, c.stretches, nil
		for range c.seams {
			i.SeamPictures = append(i.SeamPictures, "worst")
		}
		laid, paths, err := lay(i, parts, placed)
		require.NoError(t, err, c.name)
		require.True(t, app.LaidOn(laid, parts, placed))
		require.Equal(t, paths, app.PathsOf(laid), c.name)
		changed := *laid
		changed.Seams, changed.SeamPictures = slices.Clone(laid.Seams), slices.Clone(laid.SeamPictures)
		if c.change != nil {
			c.change(&changed)
		}
		file, fixed := app.AsFiled(&changed)
		require.Equal(t, c.filed, file.SeamLaying, c.name)
		require.Equal(t, c.fixed, fixed, c.name)
		if c.change == nil {
			require.Equal(t, i, file, c.name)
		}
		if file.Complete() {
			require.Nil(t, app.PathsOf(&changed), c.name)
			require.Equal(t, plain(changed.Seams), plain(file.Seams), c.name)
			continue
		}
		again, laidAgain, err := lay(file, parts, placed)
		require.NoError(t, err, c.name)
		require.Equal(t, plain(changed.Seams), plain(again.Seams), c.name)
		require.Equal(t, changed.SeamPictures, again.SeamPictures, c.name)
		require.Equal(t, changed.Nominals, again.Nominals, c.name)
		require.Equal(t, changed.Limits, again.Limits, c.name)
		require.Equal(t, laidAgain, app.PathsOf(&changed), c.name)
	}
	moved := *placed
	laid, _, err := lay(i, parts, placed)
	require.NoError(t, err)
	parts.Mirrored = parts.Mirrored.Moved(geom.Identity())
	require.False(t, app.LaidOn(laid, parts, &moved), "another reference")
}

// plain returns seams without the names of the wholes that they were parts of, which a file with their paths does not tell.
func plain(list []gapflush.Seam) []gapflush.Seam {
	list = slices.Clone(list)
	for k := range list {
		list[k].Whole = ""
	}
	return list
}

// A stretch that is changed by itself is a seam of its own from then on, as in the file that is saved; with the change taken
// back by hand it is a part of the whole again.
func TestStretchesKnowOfTheWholeAsLongAsTheFileSaysIt(t *testing.T) {
	job, i, parts, placed := vanParts(t, true)
	i.Seams, i.SeamPictures = []gapflush.Seam{gapflush.DefaultSeam("wing to door", job.Seams[0].Path), gapflush.DefaultSeam("other", job.Seams[1].Path)}, []string{"worst", "worst"}
	limit := verdict.Tolerance{Lo: -1, Hi: 1}
	i.Stretches = []inspection.Stretch{{Seam: "wing to door", From: 100, To: 300, HasGap: true, GapOff: limit}, {Seam: "other", From: 50, To: 200, HasGap: true, GapOff: limit}}
	laid, _, err := lay(i, parts, placed)
	require.NoError(t, err)
	require.Equal(t, laid.Seams, app.OfWholes(laid).Seams, "as long as nothing was changed")
	var of []string
	for _, s := range laid.Seams {
		of = append(of, s.Whole)
	}
	require.Equal(t, []string{"wing to door", "wing to door", "wing to door", "other", "other", "other"}, of)
	changed := *laid
	changed.Seams = slices.Clone(laid.Seams)
	changed.Seams[1].Every = 10
	now := app.OfWholes(&changed)
	for k, s := range now.Seams {
		if k > 2 {
			require.Equal(t, laid.Seams[k], s, "the other seam is as it was")
			continue
		}
		require.Empty(t, s.Whole)
		require.Zero(t, s.From)
		require.Zero(t, s.Before)
		panels, ok := s.Panels()
		require.True(t, ok)
		require.Equal(t, [2]string{"wing", "door"}, panels)
	}
	file, fixed := app.AsFiled(now)
	require.Equal(t, []string{"wing to door"}, fixed)
	require.Equal(t, now.Seams[:3], file.Seams[:3], "what is measured is what is filed")
	require.Equal(t, now.Seams, app.OfWholes(now).Seams)
	back := *now
	back.Seams = slices.Clone(now.Seams)
	back.Seams[1].Every = laid.Seams[1].Every
	require.Equal(t, laid.Seams, app.OfWholes(&back).Seams)
	back.Seams = slices.Delete(back.Seams, 2, 3)
	require.Empty(t, app.OfWholes(&back).Seams[0].Whole, "without its end it is no whole")
}
