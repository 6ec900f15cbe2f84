package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the README says of the demo is what the tool says of it, and the whole example of an inspection file comes out whole.
func TestTheREADMEHoldsWhatTheDemoSays(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	readme := string(text)
	dir := filepath.Join(t.TempDir(), "demo")
	require.Zero(t, shutcheck("demo", "--out", dir).status)
	run := func(file, out string) string {
		got := shutcheck("inspect", filepath.Join(dir, file), "--out", filepath.Join(dir, out))
		require.Equal(t, 3, got.status, got.errors) // of the surface, which has a dent
		return strings.Join(strings.FieldsFunc(got.out, func(r rune) bool { return r == ' ' || r == '\n' }), " ")
	}
	said := run("inspection.toml", "results")
	const u = `(\d+\.\d+ ± \d+\.\d+)`
	for _, c := range []struct{ tool, readme string }{
		{`The scan has ([\d\x{202f}]+) triangles on ([\d\x{202f}]+) points`, "scan: $1 triangles, $2 points"},
		{`The reference has ([\d\x{202f}]+) triangles on ([\d\x{202f}]+) points`, "reference: $1 triangles |"},
		{`points \((\d+\.\d) % of those offered\) carry the placement; their RMS distance from the reference is (\d\.\d\d) mm`, "RMS $2 mm over $1 % of the points offered"},
		{`(\d+\.\d) % of the measured surface lies within −0\.50`, "| $1 % of the area lies within ±0.5 mm"},
		{`Wanted: (\d+)\.0 % of the area`, "where $1 % is wanted"},
		{`points \((\d+\.\d) %\) have no number`, "$1 % of the points have no number"},
		{`lower end \(station \d+, z = \d+ mm\) come out by ` + u, "lower end must come out by $1 mm"},
		{`upper end \(station \d+, z = \d+ mm\) go in by ` + u, "upper end go in by $1 mm"},
		{`The gap closes from (\d\.\d\d) ± \d\.\d\d mm at station 1 \(12\.5 mm along\) to ` + u, "the gap closes from $1 to $2 mm"},
		{`the steepest stretch of 300 mm.*? has a taper of (−\d\.\d\d ± \d\.\d\d) mm per 100 mm`, "upper 300 mm: $1 mm per 100 mm"},
		{`quarter: The seam cannot be decided with this scan: (\d) of (\d+) stations have no gap.*?On average the gap is ` + u, "even, $3 mm on average; yet $1 of $2 stations cannot be measured"},
		{`The known length scale bar reads ` + u + ` mm, off by .*?: conforms`, "reads $1 mm: conforms"},
	} {
		found := regexp.MustCompile(c.tool)
		at := found.FindStringSubmatchIndex(said)
		require.NotNil(t, at, c.tool)
		want := strings.ReplaceAll(string(found.ExpandString(nil, c.readme, said, at)), "\u202f", " ")
		require.True(t, strings.Contains(readme, want), "the README does not say %q", want)
	}

	example := regexp.MustCompile("(?s)```toml\n(title = .*?)```").FindStringSubmatch(readme)
	require.NotNil(t, example)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "example.toml"), []byte(example[1]), 0o600))
	said = run("example.toml", "example")
	require.Contains(t, said, "Seam: wing to door: Gap and flush are inside their tolerances at all 8 stations.")
	require.Regexp(t, `The point A reads \S+ ± \S+ mm \(allowed −0\.40 mm to \+0\.40 mm\): conforms\.`, said)
	require.Regexp(t, `hem of the wing, hem: \d\.\d+ ± `, said)
	require.Regexp(t, `through the dent, bend: \d+\.\d+ ± `, said)
	require.NotContains(t, said, ": undecided.")
	require.NotContains(t, said, "no value")
}
