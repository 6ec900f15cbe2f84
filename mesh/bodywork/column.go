package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// Part says what a vertex is a sample of.
type Part uint8

// The parts of the bodywork; those from Inner on are foreign to the reference.
const (
	Face     Part = iota // outer skin, up to the shoulder
	Roll                 // rollover of a hemmed edge
	Return               // hem return behind it
	Inner                // inside of the wing's sheet
	Flange               // seal flange deep in a gap
	Membrane             // what a scanner's hole filling span across a gap
	Floor
	Stand
	ScaleBar // end faces of a bar of known length
)

// String returns the word used in files.
func (p Part) String() string {
	return [...]string{"face", "roll", "return", "inner", "flange", "membrane", "floor", "stand", "scale-bar"}[p]
}

// Foreign reports whether the reference has no such part.
func (p Part) Foreign() bool { return p >= Inner }

// Origin is where a vertex was sampled.
type Origin struct {
	Panel int8 // Wing, Door, Quarter, or -1
	Edge  int8 // 0 wing's rear, 1 door's front, 2 door's rear, 3 quarter's front, or -1
	Part  Part
	Arc   float32 // radians from the shoulder on a rollover, mm from its end on a return, mm behind the shoulder near an edge on the face, else 0
}

// column is a line of samples up a panel.
type column struct {
	panel int
	part  Part
	edge  int     // of rolls, returns and the strip beside an edge, else -1
	u     float64 // arc on a roll; mm from its end on a return; mm behind the shoulder on a strip; share of the way from strip to strip on a face
	du    float64 // distance to the neighbouring columns, for jitter
	lo    float64 // z
	hi    float64
	step  float64 // mm between rows
	first int     // index of the first vertex
	rows  []float64
}

// strip widths: 25 mm each side of the shut line hold the gap's half, the hem's
// radius and this much of the face.
const stripWidth = 22.0

// faceX returns x of a face column at z, moved across by shift columns' units.
func (v *side) faceX(c *column, u, z float64) float64 {
	if c.edge >= 0 {
		e := &v.edges[c.edge]
		return e.shoulderX(z) - float64(e.side*u*e.width(z))
	}
	lo, hi := v.border(c.panel, 0, z), v.border(c.panel, 1, z)
	if e := panelEdges[c.panel][0]; e >= 0 {
		lo += float64(stripWidth * v.edges[e].width(z))
	}
	if e := panelEdges[c.panel][1]; e >= 0 {
		hi -= float64(stripWidth * v.edges[e].width(z))
	}
	return lo + float64(u*(hi-lo))
}

// sample returns the point of a column at height z, with u in place of the column's own, and the outward normal.
func (v *side) sample(c *column, u, z float64) (p, n geom.Vec) {
	switch c.part {
	case Roll:
		s := v.edges[c.edge].at(z)
		return s.roll(u)
	case Return:
		s := v.edges[c.edge].at(z)
		return s.hem(u)
	}
	return v.skins[c.panel].at(v.faceX(c, u, z), z)
}

// lowEnd returns z where a face column meets the lower border.
func (v *side) lowEnd(c *column) float64 {
	if c.part != Face || c.edge >= 0 {
		return 0
	}
	below := func(z float64) bool { return z < lowerBorder(v.faceX(c, c.u, z)) }
	lo, hi := 0.0, archRadius
	if !below(lo) {
		return lo
	}
	// The column leans less than the arch rises, so there is one crossing.
	for range 50 {
		if mid := (lo + hi) / 2; below(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// grid says how a panel is sampled.
type grid struct {
	far      float64 // mm between samples on faces
	strip    float64 // mm between rows along the shut lines
	across   float64 // mm between columns of the strips
	rollStep float64 // radians
	hemStep  float64 // mm between columns of the return
	chord    float64 // mm of chord error allowed on the character line, 0: rows are evenly spaced
	inset    float64 // mm that free borders stay inside the drawing
}

// columns returns the columns of a panel from front to rear, without rows.
func (v *side) columns(panel int, g grid) []column {
	var cols []column
	front, rear := panelEdges[panel][0], panelEdges[panel][1]
	if front >= 0 {
		hem := hemColumns(panel, front, g)
		for i := len(hem) - 1; i >= 0; i-- {
			cols = append(cols, hem[i])
		}
	}
	cols = append(cols, v.middleColumns(panel, g)...)
	if rear >= 0 {
		cols = append(cols, hemColumns(panel, rear, g)...)
	}
	for i := range cols {
		c := &cols[i]
		c.lo, c.hi = v.lowEnd(c)+g.inset, vanTop-g.inset
	}
	return cols
}

// hemColumns returns the strip beside an edge, its roll and its return, from the face outward.
func hemColumns(panel, edge int, g grid) []column {
	var cols []column
	add := func(part Part, from, to, step float64) {
		n := max(1, int(math.Round(math.Abs(to-from)/step)))
		for i := 1; i <= n; i++ {
			u := from + (to-from)*float64(i)/float64(n)
			cols = append(cols, column{panel: panel, part: part, edge: edge, u: u, du: math.Abs(to-from) / float64(n), step: g.strip})
		}
	}
	cols = append(cols, column{panel: panel, part: Face, edge: edge, u: stripWidth, du: g.across, step: g.strip})
	add(Face, stripWidth, 0, g.across)
	add(Roll, 0, math.Pi, g.rollStep)
	add(Return, 0, hemReturn, g.hemStep)
	return cols
}

// middleColumns returns the columns between a panel's strips, growing from the
// strips' spacing to the far one so that no triangle is a needle.
func (v *side) middleColumns(panel int, g grid) []column {
	const mid = 450.0
	c := column{panel: panel, edge: -1}
	length := v.faceX(&c, 1, mid) - v.faceX(&c, 0, mid)
	grow := func(hemmed bool) (d []float64) {
		if !hemmed {
			return []float64{g.inset}
		}
		at := 0.0
		for s := g.across * 1.4; s < g.far; s *= 1.4 {
			at += s
			d = append(d, at)
		}
		if d == nil {
			d = []float64{g.far}
		}
		return d
	}
	left, right := grow(panelEdges[panel][0] >= 0), grow(panelEdges[panel][1] >= 0)
	inner := length - left[len(left)-1] - right[len(right)-1]
	n := max(1, int(math.Round(inner/g.far)))
	at := append([]float64{}, left...)
	for i := 1; i < n; i++ {
		at = append(at, left[len(left)-1]+inner*float64(i)/float64(n))
	}
	for i := len(right) - 1; i >= 0; i-- {
		at = append(at, length-right[i])
	}
	cols := make([]column, len(at))
	for i, d := range at {
		step := g.far
		if i > 0 {
			step = min(step, d-at[i-1])
		}
		if i+1 < len(at) {
			step = min(step, at[i+1]-d)
		}
		cols[i] = column{panel: panel, part: Face, edge: -1, u: d / length, du: step / length, step: max(g.strip, step)}
	}
	return cols
}
