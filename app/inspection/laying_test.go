package inspection_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
)

func TestSeamsTracedAndFound(t *testing.T) {
	file := okScan + "[[seam]]\npath = [[0,0,0],[0,0,900]]\ntrace = true\n[[seam]]\nfind = true\nevery = 20\nmaster = \"B\"\n" +
		"[[seam]]\nname = \"by hand\"\npath = [[0,0,0],[0,0,50]]\n"
	i, err := inspection.Decode([]byte(file), "a.toml")
	require.NoError(t, err)
	require.Equal(t, []inspection.Laying{inspection.Traced, inspection.Found, inspection.Typed}, i.SeamLaying)
	require.False(t, i.AllTyped())
	require.Len(t, i.Seams[0].Path, 2)
	require.Empty(t, i.Seams[1].Path)
	require.Equal(t, "found", i.Seams[1].Name)
	require.Equal(t, 20.0, i.Seams[1].Every)

	written, err := i.Encode(".")
	require.NoError(t, err)
	again, err := inspection.Decode(written, "b.toml")
	require.NoError(t, err)
	require.Equal(t, i.Seams, again.Seams)
	require.Equal(t, i.SeamLaying, again.SeamLaying)
}

func TestBadTracing(t *testing.T) {
	for _, c := range []struct{ name, file, says string }{
		{"both", okSeam + "trace = true\nfind = true\n", "leave trace or find out"},
		{"found with a path", okSeam + "find = true\n", "leave path out"},
		{"found twice", okScan + "[[seam]]\nfind = true\n[[seam]]\nfind = true\n", "write it once"},
		{"no truth value", okSeam + "trace = \"yes\"\n", "must be true or false, not text"},
		{"traced without points", okScan + "[[seam]]\ntrace = true\n", "path is missing"},
		{"traced between one point", okScan + "[[seam]]\npath = [[1,2,3]]\ntrace = true\n", "there is one"},
	} {
		_, err := inspection.Decode([]byte(c.file), "a.toml")
		require.ErrorContains(t, err, c.says, c.name)
	}
}

func TestNominalsFromOtherSeams(t *testing.T) {
	file := okSeam + "name = \"left\"\ngap = { nominal_from = \"right\", tolerance = [-1.0, 1.0] }\nflush = { nominal_from = \"other side\" }\n" +
		"[[seam]]\nname = \"right\"\npath = [[0,5,50],[0,5,0]]\n"
	i, err := inspection.Decode([]byte(file), "a.toml")
	require.NoError(t, err)
	require.Equal(t, []inspection.NominalFrom{{Seam: "left", From: "right"}, {Seam: "left", Flush: true, From: inspection.OtherSide}}, i.Nominals)
	written, err := i.Encode(".")
	require.NoError(t, err)
	again, err := inspection.Decode(written, "b.toml")
	require.NoError(t, err)
	require.Equal(t, i.Nominals, again.Nominals)
	for _, c := range []struct{ gap, says string }{
		{`{ nominal = 4, nominal_from = "right" }`, "second nominal"},
		{`{ nominal_from = "a" }`, "no nominal for itself"},
		{`{ nominal_from = "rigt" }`, "there is no seam \"rigt\""},
		{`{ nominal_from = 4 }`, "must be text in quotes"},
	} {
		_, err := inspection.Decode([]byte(okSeam+"name = \"a\"\ngap = "+c.gap+"\n"), "a.toml")
		require.ErrorContains(t, err, c.says)
	}
	_, err = inspection.Decode([]byte(okSeam+"taper = { nominal_from = \"right\" }\n"), "a.toml")
	require.ErrorContains(t, err, "no such key")
}

func TestLimitsOfWholeSeams(t *testing.T) {
	file := okSeam + "name = \"a\"\ntaper = { tolerance = [-0.2, 0.2], over = 300 }\nparallel = 0.8\nstep = 0.3\n"
	i, err := inspection.Decode([]byte(file), "a.toml")
	require.NoError(t, err)
	require.Equal(t, []inspection.SeamLimits{{Seam: "a", TaperOver: 300, Parallel: 0.8, Step: 0.3}}, i.Limits)
	written, err := i.Encode(".")
	require.NoError(t, err)
	again, err := inspection.Decode(written, "b.toml")
	require.NoError(t, err)
	require.Equal(t, i.Limits, again.Limits)
	for _, c := range []struct{ keys, says string }{
		{"parallel = 0", "more than 0 mm"},
		{"step = -1", "more than 0 mm"},
		{"taper = { over = 300 }", "needs the tolerance"},
	} {
		_, err := inspection.Decode([]byte(okSeam+c.keys+"\n"), "a.toml")
		require.ErrorContains(t, err, c.says)
	}
}

func TestStretches(t *testing.T) {
	file := okSeam + "name = \"a\"\nstretch = [ { to = 20, gap = { nominal = 4, tolerance = [-1, 1] } }, { from = 30, to = 40, flush = { tolerance = [-1, 0.5] } } ]\n"
	i, err := inspection.Decode([]byte(file), "a.toml")
	require.NoError(t, err)
	require.False(t, i.Complete())
	require.Len(t, i.Stretches, 2)
	require.Equal(t, 20.0, i.Stretches[0].To)
	require.True(t, i.Stretches[0].OwnGap)
	require.False(t, i.Stretches[1].HasGap)
	written, err := i.Encode(".")
	require.NoError(t, err)
	again, err := inspection.Decode(written, "b.toml")
	require.NoError(t, err)
	require.Equal(t, i.Stretches, again.Stretches)
	for _, c := range []struct{ stretch, says string }{
		{"{ from = 3, gap = { tolerance = [-1, 1] } }", "to is missing"},
		{"{ from = 3, to = 2, gap = { tolerance = [-1, 1] } }", "must end after it begins"},
		{"{ to = 9, gap = { tolerance = [-1, 1] } }, { from = 8, to = 12, gap = { tolerance = [-1, 1] } }", "before the stretch above ends"},
		{"{ to = 9 }", "changes nothing"},
		{"{ to = 9, gap = { nominal = 3, tolerance = [-1, 1] } } ]\nstep = 0.3 # [", "step: holds for a whole seam"},
		{"{ to = 9, gap = { nominal = 3 } }", "needs a tolerance"},
	} {
		_, err := inspection.Decode([]byte(okSeam+"stretch = [ "+c.stretch+" ]\n"), "a.toml")
		require.ErrorContains(t, err, c.says)
	}
}
