package inspection_test

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

const commented = `# Job 4711, ordered by the workshop.
title = "Left wing"   # second trial fit

[scan]
file = 'scan.stl'     # from the afternoon
# temperature = 27.0  left out: not written down

[reference]
file = "reference.stl"
mirror = "none"

# What the client allows.
[surface]
tolerance = [-0.5, 0.5]
share = 0.95          # agreed by phone

# The one that is looked at first.
[[seam]]
name = "wing to door"
path = [
  [0, 0, 0],   # at the sill
  [0, 0, 50],
]
gap   = { nominal = 4.0, tolerance = [-1.0, 1.0] }     # see drawing

# The other one.
[[seam]]
name = "door to quarter"
path = [[100, 0, 0], [100, 0, 50]]

# end of file
`

func keep(t *testing.T, old string, change func(*inspection.Inspection)) string {
	t.Helper()
	i, err := inspection.Decode([]byte(old), filepath.Join("job", "job.toml"))
	require.NoError(t, err)
	change(i)
	data, err := i.EncodeOver("job", []byte(old), filepath.Join("job", "job.toml"))
	require.NoError(t, err)
	got, err := inspection.Decode(data, filepath.Join("job", "job.toml"))
	require.NoError(t, err, string(data))
	require.Empty(t, cmp.Diff(i, got, sameJob), string(data))
	return string(data)
}

func TestWhatDidNotChangeStaysAsItWasWritten(t *testing.T) {
	require.Equal(t, commented, keep(t, commented, func(*inspection.Inspection) {}))
	for _, c := range []struct {
		name     string
		change   func(*inspection.Inspection)
		from, to string
	}{
		{"a value", func(i *inspection.Inspection) { i.Title = "Right # wing" }, `"Left wing"   #`, `"Right # wing"   #`},
		{"a value that was left to its default", func(i *inspection.Inspection) { i.Surface.Reach = 8 }, "share = 0.95          # agreed by phone\n", "share = 0.95          # agreed by phone\nreach = 8.0\n"},
		{"a key less", func(i *inspection.Inspection) { i.Surface.HasShare, i.Surface.Share = false, 0 }, "share = 0.95          # agreed by phone\n", ""},
		{"a table more", func(i *inspection.Inspection) { i.Place.Method = inspection.None },
			"# The one that", "[place]\nmethod = \"none\"\n\n# The one that"},
		{"an inline table", func(i *inspection.Inspection) { i.Seams[0].Gap.Nominal = 4.5 }, "{ nominal = 4.0, tolerance = [-1.0, 1.0] }     # see", "{ nominal = 4.5, tolerance = [-1.0, 1.0] }     # see"},
		{"a list with a comment in it", func(i *inspection.Inspection) { i.Seams[0].Path = []geom.Vec{{}, {Z: 60}} },
			"path = [\n  [0, 0, 0],   # at the sill\n  [0, 0, 50],\n]", "# at the sill\npath = [\n  [0.0, 0.0, 0.0],\n  [0.0, 0.0, 60.0],\n]"},
		{"a seam renamed", func(i *inspection.Inspection) { i.RenameSeam(1, "rear") }, `name = "door to quarter"`, `name = "rear"`},
		{"a seam less", func(i *inspection.Inspection) { i.RemoveSeam(0) }, commented[strings.Index(commented, "# The one that"):strings.Index(commented, "# The other")], ""},
		{"the unit that was judged", func(i *inspection.Inspection) { i.Scan.Units = "mm" }, "# from the afternoon\n", "# from the afternoon\nunits = \"mm\"\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, 1, strings.Count(commented, c.from))
			require.Equal(t, strings.Replace(commented, c.from, c.to, 1), keep(t, commented, c.change))
		})
	}
}

func TestANewSeamStandsBehindTheOthers(t *testing.T) {
	got := keep(t, commented, func(i *inspection.Inspection) {
		i.Seams = append(i.Seams, gapflush.DefaultSeam("third", []geom.Vec{{X: 200}, {X: 200, Z: 50}}))
		i.SeamPictures = append(i.SeamPictures, inspection.DefaultPictures)
	})
	require.Contains(t, got, `name = "third"`)
	for _, line := range strings.Split(commented, "\n") {
		require.Contains(t, got, line)
	}
	require.Less(t, strings.Index(got, "door to quarter"), strings.Index(got, "third"))
}

// Where a text is written in a form that cannot be changed in place, the comments are kept together.
func TestCommentsAreKeptWhereTheFormIsNot(t *testing.T) {
	old := "# head\nscan = { file = \"s.stl\" } # the scan\nreference.file = \"r.stl\"\n[place]\nmethod = \"none\" # as it lies\n"
	got := keep(t, old, func(i *inspection.Inspection) { i.Scan.Noise = 0.05 })
	require.True(t, strings.HasPrefix(got, "# head\n"), got)
	require.Contains(t, got, "# the scan")
	require.Contains(t, got, "# as it lies")

	seam := "[scan]\nfile = \"s.stl\"\n[[seam]]\nname = \"a\" # first\npath = [[0,0,0],[0,0,9]]\n[seam.gap]\ntolerance = [-1,1] # tight\nnominal = 4\n"
	got = keep(t, seam, func(i *inspection.Inspection) { i.Seams[0].Every = 5 })
	require.Equal(t, strings.Replace(seam, "[[0,0,0],[0,0,9]]\n", "[[0,0,0],[0,0,9]]\nevery = 5.0\n", 1), got, "a table inside that is not changed is no hindrance")
	got = keep(t, seam, func(i *inspection.Inspection) { i.Seams[0].Gap.Nominal = 5 })
	require.Contains(t, got, "# tight")
	require.Contains(t, got, "# first")
	got = keep(t, seam, func(i *inspection.Inspection) { i.RemoveSeam(0) })
	require.Equal(t, "[scan]\nfile = \"s.stl\"\n", got)
}

func TestAnUnreadableFileIsWrittenOver(t *testing.T) {
	i := inspection.Default("s.stl", "r.stl")
	plain, err := i.Encode(".")
	require.NoError(t, err)
	for _, old := range []string{"", "nonsense", "\x00", "[scan]\nfile = \"s.stl\"\nmystery = 1\n"} {
		data, err := i.EncodeOver(".", []byte(old), "job.toml")
		require.NoError(t, err)
		require.Equal(t, string(plain), string(data))
	}
}

// Any two inspections: what is written over the text of the one says the other, and keeps a comment.
func TestEncodeOverSaysWhatWasMeant(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before, after := anyInspection(t), anyInspection(t)
		text, err := before.Encode("job")
		require.NoError(t, err)
		old := "# kept\n\n" + string(text)
		data, err := after.EncodeOver("job", []byte(old), filepath.Join("job", "job.toml"))
		require.NoError(t, err)
		got, err := inspection.Decode(data, filepath.Join("job", "job.toml"))
		require.NoError(t, err, string(data))
		require.Empty(t, cmp.Diff(after, got, sameJob), string(data))
		require.Contains(t, string(data), "# kept")
	})
}

func FuzzEncodeOver(f *testing.F) {
	f.Add([]byte(commented))
	f.Add([]byte("scan.file = \"s.stl\"\ntitle = '''a\n#b'''\n"))
	f.Fuzz(func(t *testing.T, old []byte) {
		i := inspection.Default("s.stl", "r.stl")
		i.Place.Method, i.Place.Pairs = inspection.Pairs, []align.Pair{{Scan: geom.Vec{X: 1}}, {Scan: geom.Vec{Y: 2}}, {Scan: geom.Vec{Z: 3}}}
		i.Surface.Tolerance = verdict.Tolerance{Lo: -2, Hi: 1}
		data, err := i.EncodeOver(".", old, "job.toml")
		if err != nil {
			t.Fatal(err)
		}
		got, err := inspection.Decode(data, "job.toml")
		if err != nil {
			t.Fatal(err, string(data))
		}
		if diff := cmp.Diff(i, got, sameJob); diff != "" {
			t.Fatal(diff)
		}
	})
}

// What was taken out and comes back stands where it stood.
func TestASeamThatComesBackStandsInItsPlace(t *testing.T) {
	var seam gapflush.Seam
	without := keep(t, commented, func(i *inspection.Inspection) {
		seam = i.Seams[0]
		i.RemoveSeam(0)
	})
	require.NotContains(t, without, "looked at first")
	again := keep(t, without, func(i *inspection.Inspection) {
		i.Seams = append([]gapflush.Seam{seam}, i.Seams...)
		i.SeamPictures = append([]string{"worst"}, i.SeamPictures...)
	})
	require.Less(t, strings.Index(again, `"wing to door"`), strings.Index(again, "# The other one."))
	require.Contains(t, again, "# Job 4711")
	require.Contains(t, again, "path = [[100, 0, 0], [100, 0, 50]]", "what did not change keeps its form")
	between := keep(t, again, func(i *inspection.Inspection) {
		more := seam
		more.Name = "between"
		i.Seams = []gapflush.Seam{i.Seams[0], more, i.Seams[1]}
		i.SeamPictures = append(i.SeamPictures, "worst")
	})
	require.Less(t, strings.Index(between, `"between"`), strings.Index(between, "# The other one."))
	require.Less(t, strings.Index(between, `"wing to door"`), strings.Index(between, `"between"`))
}
