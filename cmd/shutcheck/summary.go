package main

import (
	"path/filepath"
	"strings"
	"unicode/utf8"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/crosscut"
	"shutline/deviation/evidence"
	"shutline/deviation/verdict"
)

// lineWidth is where text is broken: it fits a terminal of 100 columns.
const lineWidth = 98

// summary words what was found, stage by stage, for a fitter.
func summary(o *app.Outcome, dir string, files []string) string {
	var t text
	w := words.Writer{}.For(o)
	if o.Inspection.Title != "" {
		t.line(o.Inspection.Title)
		t.line("")
	}
	t.card("Parts", w.Parts(o.Parts), false)
	if j := o.Parts.Joined; j != nil {
		t.card("Pieces", w.Joined(j.Result, j.Joined, j.Notes), false)
	}
	t.card("Place", w.Place(o.Placed), false)
	if o.Compared != nil {
		t.card("Surface", w.Surface(o), true)
	}
	if c := w.Paths(o.Paths); len(c.Found) > 0 {
		t.card("Paths", c, false)
	}
	for k, r := range o.Seams {
		t.card("Seam: "+r.Seam.Name, w.Seam(k, r), true)
	}
	if len(o.Checks) > 0 {
		t.card("Checks", w.Checks(o.Checks), true)
	}
	if len(o.Sections) > 0 {
		t.card("Sections", w.Sections(o.Sections), false)
	}
	if len(o.Lengths) > 0 {
		c := words.Card{Headline: "Known lengths"}
		for _, l := range o.Lengths {
			c.Verdict = verdict.Worst(c.Verdict, l.Verdict)
		}
		w.Lengths(&c, o.Lengths)
		w.Scale(&c, app.CommonScale(o.Lengths))
		t.card("Lengths", c, true)
	}
	if c, ok := w.Closure(o.Closure); ok {
		t.card("Closure", c, false)
	}
	if o.Compared != nil && o.Compared.Drift != nil {
		t.card("Drift", w.Drift(o.Compared.Drift), false)
	}
	if o.Growth != nil {
		t.card("Worth", w.Worth(o), false)
	}
	if o.Plan != nil {
		t.card("Plan", w.Plan(o.Plan), false)
	}
	t.line("Verdict: " + w.Verdict(o.Verdict))
	if missing := notMeasured(o); len(missing) > 0 {
		t.line("Not measured, so without a value: " + strings.Join(missing, ", ") + "; why is said above.")
	}
	if readings := w.Readings(o.Sections); readings != "" {
		t.line(readings)
	}
	t.line("")
	t.files(dir, files)
	t.list("Defaults that were used", o.Inspection.Defaulted)
	t.list("Mind", evidence.Cautions())
	return t.b.String()
}

// notMeasured names the seams that could not be laid and the sections that the scan has nowhere.
func notMeasured(o *app.Outcome) (names []string) {
	for _, r := range o.Seams {
		if r.Unlaid != "" {
			names = append(names, "seam "+r.Seam.Name)
		}
	}
	for _, s := range crosscut.LostOf(o.Sections) {
		names = append(names, "section "+s.Name)
	}
	return names
}

// text builds lines of at most lineWidth.
type text struct{ b strings.Builder }

func (t *text) line(s string) { t.indented("", "", s) }

// raw writes a line as it is: paths are never broken.
func (t *text) raw(s string) { t.b.WriteString(s + "\n") }

// indented writes s with a first and a following indent, broken between words.
func (t *text) indented(first, rest, s string) {
	indent, width := first, 0
	// The thin space that groups digits is no place to break.
	words := strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\n' || r == '\t' })
	for k, word := range words {
		n := utf8.RuneCountInString(word)
		switch {
		case k == 0:
			t.b.WriteString(indent)
			width = utf8.RuneCountInString(indent)
		case width+1+n > lineWidth:
			t.b.WriteString("\n" + rest)
			width = utf8.RuneCountInString(rest)
		default:
			t.b.WriteByte(' ')
			width++
		}
		t.b.WriteString(word)
		width += n
	}
	t.b.WriteByte('\n')
}

// card writes a stage: its answer, what was found, its verdict, and what to do
// next where something is wrong, open or missing.
func (t *text) card(stage string, c words.Card, judged bool) {
	headline := strings.TrimSuffix(c.Headline, ".")
	if !strings.HasSuffix(headline, "?") {
		headline += "."
	}
	t.line(stage + ": " + headline)
	for _, s := range c.Found {
		t.indented("  ", "  ", s.Text)
	}
	if judged {
		said := words.Writer{}.Verdict(c.Verdict)
		if c.Judged != "" {
			said = c.Judged
		}
		t.indented("  ", "  ", "Verdict: "+said+".")
	}
	if c.Lacks || c.Verdict == verdict.DoesNotConform || c.Verdict == verdict.Undecided {
		for _, n := range c.Next {
			t.indented("  Next: ", "        ", n)
		}
	}
	t.line("")
}

func (t *text) files(dir string, files []string) {
	t.raw("Results in " + dir + ":")
	t.raw("  " + filepath.Join(dir, "results.json") + " holds everything, with the hashes of what was measured.")
	var tables, pictures []string
	for _, f := range files {
		switch filepath.Ext(f) {
		case ".csv":
			tables = append(tables, f)
		case ".png":
			pictures = append(pictures, f)
		}
	}
	if len(tables) > 0 {
		t.indented("  Tables: ", "    ", strings.Join(tables, ", "))
	}
	if len(pictures) > 0 {
		t.indented("  Pictures: ", "    ", strings.Join(pictures, ", "))
	}
	t.line("")
}

func (t *text) list(title string, items []string) {
	if len(items) == 0 {
		return
	}
	t.line(title + ":")
	for _, s := range items {
		t.indented("  - ", "    ", s)
	}
	t.line("")
}
