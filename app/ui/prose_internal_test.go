package ui

import (
	"encoding/json"
	"testing"
	"unicode/utf8"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/theme"
	"github.com/stretchr/testify/require"

	"shutline/assets"
	"shutline/deviation/gapflush"
)

// letters measures a text as if every letter were one wide.
func letters(s string) float32 { return float32(utf8.RuneCountInString(s)) }

// Lines end between words, but not within what is read as one: a number, its uncertainty and its unit.
func TestLinesEndBetweenWords(t *testing.T) {
	for _, c := range []struct {
		text string
		wide float32
		want []string
	}{
		{"one two three", 8, []string{"one two", "three"}},
		{"one two three", 100, []string{"one two three"}},
		{"it is 1.42 ± 0.08 mm proud", 16, []string{"it is", "1.42 ± 0.08 mm", "proud"}},
		{"up to 50 % of it", 7, []string{"up to", "50 % of", "it"}},
		{"400 × 300 mm", 4, []string{"400 ", "× 30", "0 mm"}},
		{"a first\nsecond", 20, []string{"a first", "second"}},
		{"lies at x 1623, y 6", 10, []string{"lies at", "x 1623,", "y 6"}},
		{"its end (station 1, z = 37 mm)", 17, []string{"its end (station", "1, z = 37 mm)"}},
		{"known to 0.07 mm (k = 2)", 18, []string{"known to 0.07 mm", "(k = 2)"}},
		{"abcdefghij k", 4, []string{"abcd", "efgh", "ij k"}},
		{"the gap at station 34", 16, []string{"the gap at", "station 34"}},
		{"an der Stelle 2", 14, []string{"an der", "Stelle 2"}},
		{"the station is", 11, []string{"the station", "is"}},
		{"/home/name/results here", 11, []string{"/home/name/", "results", "here"}},
		{"/a/bcdefghijkl", 6, []string{"/a/", "bcdefg", "hijkl"}},
		{"", 10, []string{""}},
	} {
		got := brokenLines(c.text, c.wide, letters)
		require.Equal(t, c.want[0], got[0], c.text)
		if len(c.want) > 1 {
			require.Equal(t, c.want, got, c.text)
		}
	}
}

// A station without a number says why in words, not by the state's name in tables.
func TestChartsSayStatesInWords(t *testing.T) {
	require.Equal(t, "edge not seen", chartSay(string(gapflush.NoseUnseen)))
	require.Equal(t, "station 3 at 62.5 mm:  gap no number   off the seam", chartSay("station 3 at 62.5 mm:  gap no number   off-path"))
	require.Equal(t, "wing to door", chartSay("wing to door"))
}

// What is written in figures follows the language; names do not.
func TestOnlyFigures(t *testing.T) {
	for _, s := range []string{"1.42 ± 0.08 mm", "−0.50 mm", "90.6 %", "1820 × 1786 × 1605 mm", "x 1624, y 12, z 350 mm", "12.5", "430 × 301 mm", "0.55"} {
		require.True(t, onlyFigures(s), s)
	}
	for _, s := range []string{"scan 1.5.stl", "wing to door", "v2.1", "results.json", "", "mm"} {
		require.False(t, onlyFigures(s), s)
	}
}

// Lines are broken by the widths of letters; as the toolkit measures them, none reaches the edge of its paragraph.
func TestNoLineIsWiderThanItsParagraph(t *testing.T) {
	test.NewTempApp(t).Settings().SetTheme(&Look{Mode: "light"})
	n := 0
	for _, language := range []string{"en", "de"} {
		data, err := assets.Languages.ReadFile("lang/" + language + ".json")
		require.NoError(t, err)
		texts := map[string]any{}
		require.NoError(t, json.Unmarshal(data, &texts))
		for _, said := range texts {
			s, ok := said.(string)
			if !ok {
				continue
			}
			for _, head := range []bool{false, true} {
				size := float32(sizeText)
				if head {
					size = sizeHead
				}
				p := newProse(s, size, head, proseWide)
				for _, l := range p.lines {
					wide := fyne.MeasureText(l.Text, l.TextSize, l.TextStyle).Width
					require.LessOrEqual(t, wide, proseWide-theme.InnerPadding(), l.Text)
					n++
				}
			}
		}
	}
	require.Greater(t, n, 1000)
}
