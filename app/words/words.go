// Package words says results in plain sentences with their numbers and
// uncertainties, as a colleague would. It knows no toolkit.
//
// Lengths are mm; a number is followed by its expanded uncertainty U (k = 2)
// where it has one. Sentences are only drawn from what was measured: what has
// no number is said to have none.
package words

import (
	"strings"
	"text/template"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Writer words results in the user's language.
type Writer struct {
	// Translate returns the sentence of key in the user's language, filled with
	// data; fallback is the English sentence. nil: English.
	Translate func(key, fallback string, data map[string]any) string
	// OwnFrame: positions are in a frame in which no axis is known to point up or
	// rearward: the scan's own, or with Reference that of the reference.
	OwnFrame  bool
	Reference bool // there is one
	// Window: the reader has the window's settings before him, which are named instead of the keys of the inspection file.
	Window bool
	// Astray: the scan was not fitted to the reference but taken where it lies or was put, and lies nowhere near it there.
	Astray bool
	// Seams are all of the job: two that part the same panels are held beside one another.
	Seams []*gapflush.Result
}

// For returns the writer for an outcome's results: one without a reference is in the scan's own frame, one with a
// scanned reference mostly in that one's.
func (w Writer) For(o *app.Outcome) Writer {
	w.OwnFrame = o.Inspection != nil && o.Inspection.OwnFrame()
	w.Reference = o.Inspection != nil && o.Inspection.Reference != nil
	w.Astray = w.Reference && o.Placed != nil && nowhere(&o.Placed.Placement)
	w.Seams = o.Seams
	return w
}

// nowhere reports whether a placement that was taken as it was given has nothing of the reference near it.
func nowhere(pl *align.Placement) bool {
	for _, free := range pl.Free {
		if !free {
			return false
		}
	}
	return !pl.RMSKnown && (pl.Method == inspection.None || pl.Method == inspection.Given)
}

// placeFirst is the cure of whatever lacks a value since the scan lies elsewhere than the reference.
func (w Writer) placeFirst() string {
	return w.say("place.next.fit", "The scan lies nowhere near the reference as it is: have it placed by a best fit first, which needs no starting position.", nil)
}

// Place is where a sentence points to: a station of a seam, both counted from
// 0; Station -1 is the seam as a whole.
type Place struct{ Seam, Station int }

// Sentence is a statement; Where is nil when it is about the whole. At is the
// spot it is about, mm in the reference's frame, where that is no station.
type Sentence struct {
	Text  string
	Where *Place
	At    *geom.Vec
}

// Card is what a stage has to say: the answer, what was found, and what to do next.
type Card struct {
	Headline string
	Verdict  verdict.Verdict
	Judged   string // the verdict in words that say what was judged; "" where Verdict's own do
	Found    []Sentence
	Next     []string
	Lacks    bool // numbers are missing: what to do next matters whatever the verdict
}

func (c *Card) add(text string)         { c.Found = append(c.Found, Sentence{Text: text}) }
func (c *Card) at(text string, p Place) { c.Found = append(c.Found, Sentence{Text: text, Where: &p}) }
func (c *Card) next(text string)        { c.Next = append(c.Next, text) }
func (c *Card) addAll(sentences []string) {
	for _, s := range sentences {
		c.add(capital(s))
	}
}

// fields are the numbers and names a sentence is filled with.
type fields = map[string]any

func (w Writer) say(key, fallback string, data fields) string {
	if w.Translate != nil {
		return w.Translate(key, fallback, data)
	}
	return Fill(fallback, data)
}

// Fill puts data into an English sentence written as a text/template.
func Fill(sentence string, data map[string]any) string {
	if !strings.Contains(sentence, "{{") {
		return sentence
	}
	t, err := template.New("").Parse(sentence)
	if err != nil {
		return sentence
	}
	var b strings.Builder
	if t.Execute(&b, data) != nil {
		return sentence
	}
	return b.String()
}

// capital starts a sentence with a capital and ends it with a period.
func capital(s string) string {
	if s == "" {
		return s
	}
	s = capitalWord(s)
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

// Verdict returns the word of a verdict, "reported, not judged" for none.
func (w Writer) Verdict(v verdict.Verdict) string {
	switch v {
	case verdict.Conforms:
		return w.say("verdict.conforms", "conforms", nil)
	case verdict.DoesNotConform:
		return w.say("verdict.fails", "does not conform", nil)
	case verdict.Undecided:
		return w.say("verdict.undecided", "undecided", nil)
	}
	return w.say("verdict.none", "reported, not judged", nil)
}
