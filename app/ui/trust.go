package ui

import (
	"image"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

// trustCard says what the scan can be trusted with: what it is good for over a length, and on
// what that rests; the known lengths; how its pieces overlap; where it lies over itself; what shape of drift the deviations have;
// and how to scan the next time. Each that has nothing to say is left out.
func (w *Window) trustCard(o *app.Outcome) words.Card {
	c := w.words.Worth(o)
	w.words.Lengths(&c, o.Lengths)
	w.words.Scale(&c, app.CommonScale(o.Lengths))
	if n := len(c.Found); o.Growth != nil && n > 0 && slices.ContainsFunc(o.Growth.Tellers, func(t worth.Rate) bool { return t.Counts && t.Share > 0 && t.Share < 1 }) {
		c.Found = append(c.Found, words.Sentence{Text: tr("trust.share", "A closure is a displacement in space, of which a length sees one direction: the graph below shows what a length sees of it.")})
	}
	take := func(part words.Card) {
		c.Found = append(c.Found, words.Sentence{Text: part.Headline + "."})
		c.Found = append(c.Found, part.Found...)
		c.Next = append(c.Next, part.Next...)
	}
	if o.Parts != nil && o.Parts.Joined != nil {
		j := o.Parts.Joined
		take(w.words.Joined(j.Result, j.Joined, j.Notes))
	}
	if closed, ok := w.words.Closure(o.Closure); ok {
		take(closed)
		// A place is looked at by a click.
		if n := len(o.Closure.Closures); n > 0 {
			first := len(c.Found) - len(closed.Found)
			for k := range min(n, len(closed.Found)) {
				at := o.Closure.Closures[k].Centre
				c.Found[first+k].At = &at
			}
		}
	}
	if o.Compared != nil && o.Compared.Drift != nil {
		take(w.words.For(o).Drift(o.Compared.Drift))
	}
	if o.Plan != nil {
		take(w.words.Plan(o.Plan))
	}
	if len(o.Lengths) == 0 {
		c.Next = append(c.Next, tr("trust.length", "A length that is known, as of a scale bar beside the part, is written into the job's file with a text editor: its two ends in mm, in the reference's frame, and what it is known to be. An example to copy stands at the end of this card."))
	}
	return c
}

// lengthExample is how a known length is written into a job's file.
const lengthExample = `[[length]]
name = "scale bar"
from = [800, -140, -80]
to = [1800, -140, -80]
known = 1000.0`

// lengthObjects are the example and what puts it onto the clipboard.
func (c *card) lengthObjects() []fyne.CanvasObject {
	said := widget.NewLabelWithStyle(lengthExample, fyne.TextAlignLeading, fyne.TextStyle{Monospace: true})
	said.SizeName = "helperText"
	return []fyne.CanvasObject{c.caption(tr("trust.length.example", "A KNOWN LENGTH IN THE JOB'S FILE")), said,
		newIconButton(tr("trust.length.copy", "Copy"), theme.ContentCopyIcon(), func() { c.w.app.Clipboard().SetContent(lengthExample + "\n") })}
}

// trustLine is Trust's one line of state.
func (w *Window) trustLine(o *app.Outcome) string {
	if o.Growth == nil || !o.Growth.OK {
		return tr("line.trust.none", "nothing tells yet")
	}
	return trf("line.trust", "{{.B}} per metre", map[string]any{"B": words.MM(o.Growth.PerMetre)})
}

// trust draws errors against length.
func (s *strip) trust() {
	o := s.w.bench.Outcome()
	if o.Growth == nil || o.Parts == nil {
		s.put(s.quiet(tr("strip.trust.none", "Errors against the lengths over which they arose appear here.")))
		return
	}
	list := lengthErrors(o)
	g := *o.Growth
	if len(list) == 0 && !g.OK {
		s.put(s.quiet(tr("strip.trust.nothing", "Nothing tells yet how errors grow with length: measure a known length beside the part.")))
		return
	}
	s.chart.set(func(w, h int, th chart.Theme, k float64) *image.RGBA {
		return chart.Errors(w, h, th, k, list, g.OK, g.A, g.PerMetre, g.Span, g.Size)
	})
	s.put(s.chart)
}

// lengthErrors lists what tells how errors grow, the known lengths with what is allowed for them.
func lengthErrors(o *app.Outcome) []chart.LengthError {
	var list []chart.LengthError
	for _, t := range o.Growth.Tellers {
		name := t.Name
		if t.Kind != worth.Length { // which the job's author named
			name = told(name)
		}
		e := chart.LengthError{Name: name, Over: t.Over, Incidental: !t.Counts}
		e.Error.V, e.Error.U = t.Along()
		e.Error.OK = true
		if t.Kind == worth.Length {
			for _, l := range o.Lengths {
				if l.Spec.Name == t.Name && l.Judged {
					e.Allowed, e.Verdict = l.Allowed, l.Verdict
				}
			}
		}
		list = append(list, e)
	}
	return list
}

// trustOver draws where the known lengths were measured and where the scan lies over itself.
func trustOver(o *app.Outcome) func(*image.RGBA, *shade.Picture, chart.Theme, float64) {
	var lines [][]geom.Vec
	var marks []chart.Mark
	for _, l := range o.Lengths {
		if l.Measured.OK {
			lines = append(lines, slices.Clone(l.Ends[:]))
			marks = append(marks, chart.Mark{At: l.Ends[0]}, chart.Mark{At: l.Ends[1], Label: l.Spec.Name})
		}
	}
	if o.Closure != nil {
		for k := range o.Closure.Closures {
			marks = append(marks, chart.Mark{At: o.Closure.Closures[k].Centre, Label: strconv.Itoa(k + 1), Doubt: true})
		}
	}
	return func(img *image.RGBA, pic *shade.Picture, th chart.Theme, scale float64) {
		for _, l := range lines {
			chart.Drawn(img, pic.Camera, nil, l, th, scale)
		}
		chart.Marks(img, pic, pic.Camera, marks, th, scale)
	}
}
