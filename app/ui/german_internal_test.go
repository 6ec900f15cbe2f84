package ui

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/lang"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/demo"
	"shutline/assets"
	"shutline/deviation/chart"
	"shutline/deviation/gapflush"
	"shutline/deviation/worth"
)

// asGerman marks a run of the tests in German: the toolkit takes its language from the environment, once.
const asGerman = "SHUTLINE_TESTS_IN_GERMAN"

// germanRun runs the test that calls it in a process of its own with German for its language, and reports whether this is that process.
func germanRun(t *testing.T) bool {
	t.Helper()
	if os.Getenv(asGerman) != "" {
		require.NoError(t, lang.AddTranslationsFS(assets.Languages, "lang"))
		require.False(t, inEnglish())
		return true
	}
	run := exec.Command(os.Args[0], "-test.run", "^"+t.Name()+"$", "-test.v")
	run.Env = append(os.Environ(), asGerman+"=1", "LANG=de_DE.UTF-8", "LC_ALL=", "LANGUAGE=")
	out, err := run.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Contains(t, string(out), "--- PASS: "+t.Name(), "it ran")
	return false
}

// TestInGermanEverythingIsGerman goes through every stage of the demo job in German and looks at every text of the widgets and of the charts.
func TestInGermanEverythingIsGerman(t *testing.T) {
	if !germanRun(t) {
		return
	}
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	r := newRigOver(t, bench.Production())
	seen := map[string]string{} // the stage where it was seen
	look := func(where string) {
		r.paint()
		r.pump("the charts", func() bool { return !r.strip.chart.busy && !r.ruler.busy && !r.inset.busy })
		for _, s := range shownTexts(r.win.Content()) {
			seen[s] = where
		}
		for _, o := range r.win.Canvas().Overlays().List() {
			for _, s := range shownTexts(o) {
				seen[s] = where
			}
		}
	}
	look("doors")
	r.bench.Open(filepath.Join(dir, demo.InspectionFile))
	r.idle()
	for _, s := range bench.Stages() {
		r.bench.Show(s)
		r.idle()
		look(s.String())
	}
	th := currentPalette().Theme
	o := r.bench.Outcome()
	chart.Errors(900, 170, th, 1, lengthErrors(&app.Outcome{Parts: o.Parts, Growth: growthOfEveryKind()}), true, 0.1, 0.1, 0, 2400)
	for _, m := range r.bench.Measured() {
		for i := range m.Stations {
			chart.Station(insetWidth, insetHeight, th, 1, m.Seam, &m.Stations[i])
		}
		for _, state := range states {
			st := m.Stations[0]
			st.State = state
			chart.Station(insetWidth, insetHeight, th, 1, m.Seam, &st)
		}
		for marker := -1; marker < len(m.Stations); marker++ {
			chart.Seam(1200, 170, th, 1, m, marker)
		}
	}
	for _, m := range r.win.MainMenu().Items {
		seen[m.Label] = "menu"
		for _, i := range m.Items {
			seen[i.Label] = "menu " + m.Label
		}
	}
	english, whole := englishWords(t)
	var bad []string
	complain := func(where, s string) {
		if strings.Contains(s, "…") { // cut short: the whole was looked at, too
			return
		}
		if whole[s] || strings.Contains(s, "”") {
			bad = append(bad, where+": "+s)
			return
		}
		for _, word := range lettersOf(s) {
			if english[word] && !slices.Contains(namesInDemo, word) {
				bad = append(bad, where+": "+s+" ("+word+")")
				return
			}
		}
	}
	for s, where := range seen {
		complain(where, s)
	}
	chartSaid.Range(func(_, v any) bool {
		complain("chart", v.(string))
		return true
	})
	slices.Sort(bad)
	require.Greater(t, len(seen), 200)
	require.Empty(t, strings.Join(bad, "\n"))
}

// namesInDemo are words of the names that the demo's author gave.
var namesInDemo = []string{"wing", "door", "quarter", "to", "left", "side", "replacement", "van", "parcel", "scan", "reference", "bar", "scale"}

var states = []gapflush.State{gapflush.Measured, gapflush.NoseUnseen, gapflush.SideMissing, gapflush.Bridged, gapflush.TwoSkins, gapflush.NoFace,
	gapflush.TooCoarse, gapflush.ThirdPanel, gapflush.NotParallel, gapflush.OffPath}

// growthOfEveryKind rests on all that can tell how errors grow; the names are made as they are below the window.
func growthOfEveryKind() *worth.Growth {
	g := worth.Estimate([]worth.Teller{{Kind: worth.Closure, Name: "closure 1", Error: 0.3, U: 0.1, Over: 2400},
		{Kind: worth.Overlap, Name: "overlap of links.stl and rechts.stl", Error: 0.2, U: 0.1, Over: 2400},
		{Kind: worth.Overlap, Name: "place of rechts.stl", U: 0.1, Over: 2400},
		{Kind: worth.Drift, Name: "deviations all round", Error: 0.2, U: 0.1, Over: 2400}}, worth.Settings{Noise: 0.03, Size: 2400})
	return &g
}

// englishWords are the words that the English texts have and the German ones have not, and whole texts of that kind.
func englishWords(t *testing.T) (words, whole map[string]bool) {
	read := func(name string) (words, whole map[string]bool) {
		data, err := assets.Languages.ReadFile("lang/" + name + ".json")
		require.NoError(t, err)
		var texts map[string]string
		require.NoError(t, json.Unmarshal(data, &texts))
		words, whole = map[string]bool{}, map[string]bool{}
		for _, s := range texts {
			whole[s] = true
			for _, w := range lettersOf(sayingField.ReplaceAllString(s, "")) {
				words[w] = true
			}
		}
		return words, whole
	}
	words, whole = read("en")
	german, germanWhole := read("de")
	for w := range german {
		delete(words, w)
	}
	for s := range germanWhole {
		delete(whole, s)
	}
	for _, w := range []string{"the", "of", "toward", "deviation", "closure", "overlap", "does", "seen"} {
		require.True(t, words[w], w)
	}
	return words, whole
}

var wordLetters = regexp.MustCompile(`\pL+`)

func lettersOf(s string) []string { return wordLetters.FindAllString(strings.ToLower(s), -1) }

// shownTexts returns every text of what is visible, and of what is folded away.
func shownTexts(o fyne.CanvasObject) (list []string) {
	if o == nil || !o.Visible() {
		return nil
	}
	take := func(s ...string) { list = append(list, s...) }
	switch x := o.(type) {
	case *canvas.Text:
		take(x.Text)
	case *prose:
		take(x.text)
	case *widget.Label:
		take(x.Text)
	case *pushButton:
		take(x.Text)
	case *widget.Button:
		take(x.Text)
	case *tick:
		take(x.Text)
	case *widget.Check:
		take(x.Text)
	case *widget.Select:
		take(x.PlaceHolder, x.Selected)
		take(x.Options...)
	case *widget.RadioGroup:
		take(x.Options...)
	case *widget.Entry:
		take(x.PlaceHolder)
	case *widget.Accordion:
		x.OpenAll()
		for _, i := range x.Items {
			take(i.Title)
			take(shownTexts(i.Detail)...)
		}
	case *fyne.Container:
		for _, c := range x.Objects {
			take(shownTexts(c)...)
		}
	case fyne.Widget:
		for _, c := range test.WidgetRenderer(x).Objects() {
			take(shownTexts(c)...)
		}
	}
	return slices.DeleteFunc(list, func(s string) bool { return s == "" })
}
