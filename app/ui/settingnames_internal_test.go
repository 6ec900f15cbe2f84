package ui

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/assets"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// fileWords are how an inspection file says it: a key with an equals sign, or in brackets.
var fileWords = regexp.MustCompile(`\b[a-z_]+ = (true|\{|"|…)|nominal_from|\((face|band|window|radius|every|path)\)|\[reference\]`)

// What the window advises about a seam names its settings; the headless command's words are the file's.
func TestAdviceNamesTheSettings(t *testing.T) {
	seam := gapflush.DefaultSeam("wing to door", nil)
	seam.Gap = gapflush.Target{Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
	lacking := &gapflush.Result{Seam: seam, Measured: 1, Stations: []gapflush.Station{{Index: 1, State: gapflush.Measured, Gap: verdict.Value{V: 4, U: 0.1, OK: true}}}}
	for _, notes := range []string{"", "The nominal is that of seam 2.", "There is no nominal from another seam."} {
		lacking.Notes = []string{notes}
		for _, w := range []words.Writer{{}, {OwnFrame: true}, {OwnFrame: true, Reference: true}} {
			file := strings.Join(w.Seam(0, lacking).Next, " ")
			require.Contains(t, file, "gap = { nominal = …, tolerance = [-1.00, 1.00] }")
			w.Window, w.Translate = true, writer().Translate
			said := strings.Join(w.Seam(0, lacking).Next, " ")
			require.Contains(t, said, "“Gap wanted, mm”")
			require.NotRegexp(t, fileWords, said)
		}
	}
	require.Equal(t, "Side A has no face. Give a shorter zone (“Face zone”) or a wider window (“Window across”).", told("Side A has no face. Give a shorter zone (face) or a wider window (window)."))
	require.Equal(t, "scan the faces just behind the edges; the seam's face zone (“Face zone”) says how far back they are used.", writer().Translate("advice.no-face", "scan the faces just behind the edges; the seam's face zone (face) says how far back they are used.", nil))
	require.Contains(t, told("The path runs to and fro: of its 310 mm, 120 mm are not along the gap. Lengths along it, the spacing of stations and the taper are out by as much. Write fewer points, in order along the middle of the gap (path)."), "of its 310 mm, 120 mm are not along the gap. Lengths along it, the spacing of stations and the taper are out by as much. Take points out of it (“Move the path”)")
	for _, whole := range []string{"Stations 1 to 34: scan finer, or give a wider zone (face) or band (band).", "Stations 1 to 3: bring the points of the path to the middle of the gap (path), or write two of them and trace = true."} {
		require.NotRegexp(t, fileWords, newProse(whole, sizeText, false, proseWide).text)
	}
	require.Equal(t, "a sentence that nobody wrote, 1,500 of them", told("a sentence that nobody wrote, 1,500 of them"))
}

// What a station or a seam says to do, in whatever language, is in the window's words.
func TestNoRemedyIsInTheFilesWords(t *testing.T) {
	data, err := assets.Languages.ReadFile("lang/en.json")
	require.NoError(t, err)
	var texts map[string]string
	require.NoError(t, json.Unmarshal(data, &texts))
	n := 0
	for key, text := range texts {
		if !strings.HasPrefix(key, toldKey) {
			continue
		}
		if own, ok := toldInWindow(text, map[string]any{}); ok {
			require.NotRegexp(t, fileWords, own)
			n++
		}
	}
	require.Equal(t, 9, n, "every saying that is worded anew is still said below the window")
	for _, s := range sayingsOf(data) {
		if namesKey(s.text) {
			require.NotRegexp(t, regexp.MustCompile(`\((face|band|window|radius|every|path)\)`), wordedInWindow(&s, map[string]any{}))
		}
	}
}
