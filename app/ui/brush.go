package ui

import (
	"image"
	"image/color"
	"math"
	"strconv"

	"fyne.io/fyne/v2"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
)

// brush is a range of deviations that is lit on the part.
type brush struct {
	on     bool
	of     *app.Compared
	lo, hi float64 // mm; infinite where it reaches the plot's end
	said   lit     // what was found of it last

	painting, again bool
}

// lit is what lies in a range of deviations.
type lit struct {
	lo, hi float64 // mm; infinite where it has no end
	share  float64 // of the area, or of the points of a cloud
}

// sharp is how many times the ramp's end the middle of a lit range lies at: the
// colour stands fully within half a hundredth of its width from its ends.
const sharp = 100

// sweep lights what lies between two pixels of the histogram; a click ends it.
func (w *Window) sweep(from, to float64, width, height int, scale float64) {
	o := w.bench.Outcome()
	if o.Compared == nil || w.bench.Job() == nil {
		return
	}
	axis := chart.HistogramLayout(width, height, scale, w.scaleOf().Tolerance, w.scaleOf())
	lo, hi := min(from, to), max(from, to)
	if hi-lo < slop*scale {
		w.endBrush()
		return
	}
	b := &w.brush
	b.on, b.of = true, o.Compared
	b.lo, b.hi = axis.Value(max(lo, axis.Left)), axis.Value(min(hi, axis.Right))
	if lo <= axis.Left {
		b.lo = math.Inf(-1)
	}
	if hi >= axis.Right {
		b.hi = math.Inf(1)
	}
	w.brushChanged()
}

// endBrush gives the part its colours back.
func (w *Window) endBrush() {
	if w.brush.on {
		w.brush.on = false
		w.brushChanged()
	}
}

func (w *Window) brushChanged() {
	w.strip.surface()
	w.showScene() // without the ruler: what is lit is no colour of it
	w.refreshLit()
	w.paintBrush()
}

// refreshLit says what is lit.
func (w *Window) refreshLit() {
	b := &w.brush
	if !b.on || b.said == (lit{}) {
		w.litTag.Hide()
		return
	}
	l := b.said
	data := map[string]any{"Lo": words.Signed(l.lo), "Hi": words.Signed(l.hi), "Share": words.Percent(l.share)}
	switch {
	case math.IsInf(l.lo, 0) && math.IsInf(l.hi, 0):
		w.lit.Text = tr("brush.all", "Lit: everything that was measured")
	case math.IsInf(l.lo, 0):
		w.lit.Text = trf("brush.below", "Lit: below {{.Hi}}, {{.Share}}", data)
	case math.IsInf(l.hi, 0):
		w.lit.Text = trf("brush.above", "Lit: above {{.Lo}}, {{.Share}}", data)
	default:
		w.lit.Text = trf("brush.between", "Lit: {{.Lo}} to {{.Hi}}, {{.Share}}", data)
	}
	w.lit.Refresh()
	w.litTag.Show()
	w.over.Refresh()
}

// paintBrush paints the part on a worker; what is asked meanwhile is painted next.
func (w *Window) paintBrush() {
	b, s := &w.brush, &w.scene
	if s.placed == nil || s.painted == nil {
		return
	}
	if b.painting {
		b.again = true
		return
	}
	b.painting = true
	model, f, scale, on, lo, hi := s.placed, s.painted, s.scale, b.on && b.of != nil && b.of.Field == s.painted, b.lo, b.hi
	gathered := w.strip.gather()
	said := lit{}
	w.worker.aside(func() {
		defer w.opt.Post(func() {
			b.painting = false
			if b.said != said {
				b.said = said
				w.refreshLit()
			}
			if b.again {
				b.again = false
				w.paintBrush()
			}
			w.view.draw()
		})
		known := measuredOf(f)
		if !on {
			model.Paint(f.Deviation, known, scale)
			return
		}
		mm, mm2 := gathered()
		said = lit{lo, hi, shareWithin(mm, mm2, lo, hi)}
		model.PaintRamp(litness(f.Deviation, lo, hi), known, shade.Ramp{Limit: 1})
	})
}

// measuredOf tells which points have a number.
func measuredOf(f *deviation.Field) []bool {
	known := make([]bool, len(f.State))
	for i, st := range f.State {
		known[i] = st == deviation.Measured
	}
	return known
}

// litness returns for each deviation how far inside a range it lies, above 0
// inside, so that what is drawn between points ends exactly at the range's ends.
func litness(mm []float64, lo, hi float64) []float64 {
	out := make([]float64, len(mm))
	for i, d := range mm {
		inside := min(d-lo, hi-d)
		if half := (hi - lo) / 2; !math.IsInf(half, 0) {
			inside *= sharp / half
		} else {
			inside *= sharp
		}
		if math.IsInf(inside, 0) {
			inside = sharp
		}
		out[i] = inside
	}
	return out
}

// shareWithin returns the share of the measured area, or of a cloud's points, in a range of deviations.
func shareWithin(mm, mm2 []float64, lo, hi float64) float64 {
	in, all := 0.0, 0.0
	for i, d := range mm {
		weight := 1.0
		if i < len(mm2) {
			weight = mm2[i]
		}
		all += weight
		if d >= lo && d <= hi {
			in += weight
		}
	}
	if all == 0 {
		return 0
	}
	return in / all
}

// The words above a histogram and its axis below, in layout units.
const (
	histogramHead = 24
	histogramFoot = 30
)

// brushed fades what the brush leaves out of a histogram.
func brushed(img *image.RGBA, axis chart.HistogramAxis, lo, hi float64, th chart.Theme, scale float64) {
	left, right := axis.Left, axis.Right
	if !math.IsInf(lo, 0) {
		left = axis.X(lo)
	}
	if !math.IsInf(hi, 0) {
		right = axis.X(hi)
	}
	x0, x1 := int(math.Round(left)), int(math.Round(right))
	fade := func(at []uint8, c color.RGBA, of int) {
		for k, v := range [3]uint8{c.R, c.G, c.B} {
			at[k] = uint8((int(at[k])*(4-of) + int(v)*of) / 4)
		}
	}
	for y := int(histogramHead * scale); y < img.Rect.Dy()-int(histogramFoot*scale); y++ {
		for x := max(0, int(axis.Left)); x < min(img.Rect.Dx(), int(axis.Right)+1); x++ {
			at := img.Pix[y*img.Stride+4*x:]
			switch {
			case x == x0 || x == x1:
				fade(at, th.Accent, 4)
			case x < x0 || x > x1:
				fade(at, th.Paper, 3)
			}
		}
	}
}

// mostCalled is how many places are called out: more labels hide what they point at.
const mostCalled = 8

// leastCalled, mm², is the area from which a place that may be in tolerance after all is called out: a fingertip.
const leastCalled = 100

// callOuts are the worst places, numbered as the card and clusters.csv number them, and the named points.
func callOuts(o *app.Outcome) []chart.CallOut {
	if o.Compared == nil || o.Placed == nil {
		return nil
	}
	var out []chart.CallOut
	for k := range o.Compared.Clusters.List {
		c := &o.Compared.Clusters.List[k]
		if len(out) == mostCalled {
			break
		}
		if c.State != deviation.BeyondByU && c.Area < leastCalled || c.Peak >= len(o.Placed.Mesh.Vertices) {
			continue
		}
		out = append(out, chart.CallOut{At: o.Placed.Mesh.Vertices[c.Peak], Label: strconv.Itoa(k + 1), Text: words.Signed(c.Value.V), Verdict: c.Verdict})
	}
	for _, p := range o.Compared.Points {
		if p.Spot.Value.OK {
			out = append(out, chart.CallOut{At: p.Spot.Foot, Label: p.Spec.Name, Text: words.Signed(p.Spot.Value.V), Verdict: p.Verdict})
		}
	}
	return out
}

// callRoom is the part of a picture that labels may stand in.
func callRoom(w, h int, scale float64, ruler bool) image.Rectangle {
	px := func(units float64) int { return int(units * scale) }
	right := px(10)
	if ruler {
		right += px(rulerWidth + cornerGap)
	}
	return image.Rect(px(10), px(48), w-right, h-px(44))
}

// toggleCalls shows or hides the call-outs.
func (w *Window) toggleCalls() {
	hidden := !w.app.Preferences().Bool(prefNoCalls)
	w.app.Preferences().SetBool(prefNoCalls, hidden)
	w.win.SetMainMenu(w.menu())
	w.view.overlay = w.overlay(w.bench.Shown())
	w.view.draw()
}

// tagOf is a small panel with a line of text over a view.
func (w *Window) tagOf(line fyne.CanvasObject) *fyne.Container {
	c := w.frameOf(padded(4, 4, 10, 10, line)).(*fyne.Container)
	c.Hide()
	return c
}
