package ui

import (
	"encoding/json"
	"io"

	"fyne.io/fyne/v2"
)

// Trace is a line of JSON about something that happened in the window, for
// tests that drive the real program. Positions are device pixels in the window.
type Trace struct {
	Event   string     `json:"event"`           // stage, shown, select, ready, seen, coarse, dragged, asked, written, saved, error, job, layout
	Stage   string     `json:"stage,omitempty"` // of stage, shown and seen
	State   string     `json:"state,omitempty"` // the lamp's word; of seen: coloured or plain
	Line    string     `json:"line,omitempty"`
	Seam    int        `json:"seam,omitempty"`    // from 1
	Station int        `json:"station,omitempty"` // from 1, 0: none
	Text    string     `json:"text,omitempty"`
	Rates   *Rates     `json:"rates,omitempty"` // of dragged
	Name    string     `json:"name,omitempty"`  // of layout and asked
	At      [4]float32 `json:"at,omitzero"`     // left, top, width, height of layout
}

type tracer struct {
	to   *json.Encoder
	lies map[string][4]float32 // what layout wrote last, by name
}

func newTracer(w io.Writer) *tracer {
	if w == nil {
		return nil
	}
	return &tracer{json.NewEncoder(w), map[string][4]float32{}}
}

// put writes a line; a trace that cannot be written stops nothing.
func (t *tracer) put(e Trace) {
	if t != nil {
		_ = t.to.Encode(e)
	}
}

// layout says where an object lies, when that is not what was said last.
func (t *tracer) layout(name string, o fyne.CanvasObject) {
	if t == nil || !o.Visible() {
		return
	}
	d := fyne.CurrentApp().Driver()
	c := d.CanvasForObject(o)
	if c == nil {
		return
	}
	pos, scale := d.AbsolutePositionForObject(o), c.Scale()
	s := o.Size()
	at := [4]float32{pos.X * scale, pos.Y * scale, s.Width * scale, s.Height * scale}
	if at != t.lies[name] {
		t.lies[name] = at
		t.put(Trace{Event: "layout", Name: name, At: at})
	}
}
