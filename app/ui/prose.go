package ui

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"
)

var _ fyne.Widget = (*prose)(nil)

// prose is a paragraph of the card. It is a label whose lines are broken by the widths of its letters, each of which is measured
// once: the toolkit's own measures the beginnings of lines again and again, which holds the drawing thread for tens of milliseconds a card.
type prose struct {
	widget.BaseWidget
	text  string
	size  float32
	bold  bool
	lines []*canvas.Text
	wide  float32 // the lines were broken for
}

// proseWide is the width of a paragraph on the card, in layout units, before it was laid out.
const proseWide = cardWidth - cardLeft - cardRight

// newProse makes a paragraph of a type size; wide is the width it will most likely get.
func newProse(s string, size float32, bold bool, wide float32) *prose {
	p := &prose{text: told(s), size: size, bold: bold}
	p.ExtendBaseWidget(p)
	p.breakAt(wide)
	return p
}

// breakAt breaks the lines for a width, when it is another one.
func (p *prose) breakAt(wide float32) {
	if wide == p.wide {
		return
	}
	p.wide = wide
	broken := brokenLines(p.text, wide-2*theme.InnerPadding(), func(s string) float32 { return wordWidth(s, p.size, p.bold) })
	ink := currentPalette().Ink
	p.lines = p.lines[:min(len(p.lines), len(broken))]
	for k, s := range broken {
		if k == len(p.lines) {
			p.lines = append(p.lines, text(s, p.size, ink, p.bold))
			continue
		}
		p.lines[k].Text = s
	}
}

// Resize breaks the lines anew where the width is another one.
func (p *prose) Resize(s fyne.Size) {
	p.breakAt(s.Width)
	p.BaseWidget.Resize(s)
}

// brokenLines breaks a text between its words into lines no wider than wide; words that are wider by themselves are broken too.
func brokenLines(s string, wide float32, measure func(string) float32) []string {
	var lines []string
	space := measure(" ")
	for _, part := range strings.Split(s, "\n") {
		line, at := "", float32(0)
		for _, word := range bound(part) {
			w := measure(word)
			if line != "" && at+space+w > wide {
				lines = append(lines, line)
				line, at = "", 0
			}
			for w > wide {
				n := fitting(word, wide, measure)
				if n == len(word) {
					break
				}
				lines = append(lines, word[:n])
				word = word[n:]
				w = measure(word)
			}
			if line == "" {
				line, at = word, w
				continue
			}
			line, at = line+" "+word, at+space+w
		}
		lines = append(lines, line)
	}
	return lines
}

// bound splits a text where a line may end: not between a number and its unit, nor about the sign of an uncertainty.
func bound(s string) []string {
	var list []string
	for word := range strings.SplitSeq(s, " ") {
		last := len(list) - 1
		if last >= 0 && (leads(list[last], word) || stays(list[last], word)) {
			list[last] += " " + word
		} else {
			list = append(list, word)
		}
	}
	return list
}

// leads reports whether a sign, the name of an axis or what is counted stays beside the number after it.
func leads(before, word string) bool {
	if r, _ := utf8.DecodeRuneInString(word); !unicode.IsDigit(r) && r != '−' && r != '+' {
		return false
	}
	switch before[strings.LastIndexByte(before, ' ')+1:] {
	case "±", "×", "=", "x", "y", "z", "station", "stations", "Place", "Messstelle", "Messstellen", "Stelle":
		return true
	}
	return false
}

// stays reports whether a word stays beside the one before: a unit or a sign after a number, an equals sign after a letter.
func stays(before, word string) bool {
	if word == "=" {
		return before != ""
	}
	if before == "" || !unicode.IsDigit(rune(before[len(before)-1])) {
		return false
	}
	switch strings.TrimRight(word, ".,;:)") {
	case "±", "×", "mm", "m", "cm²", "%", "ppm", "mrad", "°", "MB", "kB":
		return true
	}
	return false
}

// fitting returns how many bytes of a word fit, of one letter at least; of a path as far as to the end of a folder's name.
func fitting(word string, wide float32, measure func(string) float32) int {
	ends := []int{}
	for i := range word {
		if i > 0 {
			ends = append(ends, i)
		}
	}
	ends = append(ends, len(word))
	n, _ := slices.BinarySearchFunc(ends, wide, func(end int, wide float32) int {
		if measure(word[:end]) <= wide {
			return -1
		}
		return 1
	})
	fits := ends[max(0, n-1)]
	if at := strings.LastIndexAny(word[:fits], `/\`); at > 0 && fits < len(word) {
		return at + 1
	}
	return fits
}

// letterKey is what a letter's width depends on, the font being one.
type letterKey struct {
	letter rune
	bold   bool
}

// letterWidths are the letters' widths at size measuredAt. They belong to the drawing thread.
var letterWidths = map[letterKey]float32{}

const measuredAt = 64

// measureLetters measures the usual letters before anybody waits for them.
func measureLetters() {
	for r := ' '; r <= '~'; r++ {
		wordWidth(string(r), measuredAt, false)
		wordWidth(string(r), measuredAt, true)
	}
}

// wordWidth adds up the widths of a text's letters. What the font moves letters of a word together or apart by is left out:
// the toolkit takes a tenth of a millisecond to measure a word, and there are ever new ones.
func wordWidth(s string, size float32, bold bool) float32 {
	sum := float32(0)
	for _, r := range s {
		k := letterKey{r, bold}
		w, known := letterWidths[k]
		if !known {
			w = fyne.MeasureText(string(r), measuredAt, fyne.TextStyle{Bold: bold}).Width
			letterWidths[k] = w
		}
		sum += w
	}
	return sum * size / measuredAt
}

// lineKey is what a line's height depends on.
type lineKey struct {
	size float32
	bold bool
}

// lineHeights belong to the drawing thread.
var lineHeights = map[lineKey]float32{}

// lineHeight is the height of a line of a type size.
func lineHeight(size float32, bold bool) float32 {
	k := lineKey{size, bold}
	h, known := lineHeights[k]
	if !known {
		h = fyne.MeasureText("M", size, fyne.TextStyle{Bold: bold}).Height
		lineHeights[k] = h
	}
	return h
}

// CreateRenderer is part of fyne.Widget.
func (p *prose) CreateRenderer() fyne.WidgetRenderer { return &proseRenderer{p} }

type proseRenderer struct{ p *prose }

func (r *proseRenderer) Layout(fyne.Size) {
	pad := theme.InnerPadding()
	line := lineHeight(r.p.size, r.p.bold)
	for k, t := range r.p.lines {
		t.Move(fyne.NewPos(pad, pad+float32(k)*line))
		t.Resize(fyne.NewSize(max(0, r.p.wide-2*pad), line))
	}
}

func (r *proseRenderer) MinSize() fyne.Size {
	pad := theme.InnerPadding()
	return fyne.NewSize(2*pad, 2*pad+float32(len(r.p.lines))*lineHeight(r.p.size, r.p.bold))
}

func (r *proseRenderer) Refresh() {
	ink := currentPalette().Ink
	for _, t := range r.p.lines {
		t.Color = ink
		t.Refresh()
	}
	r.Layout(r.p.Size())
}

func (r *proseRenderer) Destroy() {}

func (r *proseRenderer) Objects() []fyne.CanvasObject {
	out := make([]fyne.CanvasObject, len(r.p.lines))
	for k, t := range r.p.lines {
		out[k] = t
	}
	return out
}
