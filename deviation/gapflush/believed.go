package gapflush

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

// What a roll is not believed for, besides too short an arc.
const (
	// insideBy is how far, mm, points lie within a roll that can be none of its own: no hem is so far from round.
	insideBy = 0.35
	// insideShare of the points on a roll, when so many lie within, say that it is none. Crumbs are fewer.
	insideShare = 0.25
	// turnedBy is by how much the median normal of a roll's last points is off its radius where they are none of
	// it: of a seal below a gap, which looks up, twice that; of the last row before a void, whose normals are
	// those of the faces on one side, half that.
	turnedBy = 30 * math.Pi / 180
	// lastPart of what was seen of a roll is where they are looked at.
	lastPart = 0.6
	// rowWidth is what part of the spacing of points one row of them takes across the seam. Where the rows of a
	// scan run along the seam its points lie in few, and a circle goes through the face and any two of them.
	rowWidth = 0.25
	// enoughRows tell whether what they lie on is a circle, or a corner and its wall: either has two unknowns, and two more.
	enoughRows = 4
	// filled is the share of an arc that points of a scan whose rows lie in no step with the seam fill at least.
	filled = 0.6
)

// believe looks for what contradicts a roll that was found: points on it that face another way, and points
// where it would be solid, for no scanner looks through sheet metal.
func (g *rollFit) believe(e *edge, pitch float64) {
	e.sparse = inFewRows(e, pitch)
	o := rollAt(g.face, e.s, e.r)
	by := max(insideBy, 5*e.sigma)
	inside := 0
	turns := g.other[:0]
	for i := range g.pts {
		p := &g.pts[i]
		at := o.place(p.y, p.h)
		if at.v <= 0 {
			continue
		}
		phi := at.phi()
		if phi < firstArc || phi > e.seen {
			continue
		}
		switch off := at.d - o.r; {
		case off < -by && at.d > by && float64(p.ny*at.ux)+float64(p.nh*at.uy) > facing:
			inside++
		case math.Abs(off) < 4*e.sigma && phi > lastPart*e.seen && !p.off:
			lean := geom.Atan2(float64(p.ny*o.t.S)+float64(p.nh*o.t.H), float64(p.ny*o.n.S)+float64(p.nh*o.n.H))
			if d := lean - phi; math.Abs(d) < math.Pi/2 {
				turns = append(turns, d)
			}
		}
	}
	g.other = turns
	e.solid = inside >= minOnArc && float64(inside) >= insideShare*float64(e.n)
	e.leans = len(turns) >= minOnArc && math.Abs(median(turns)) > turnedBy
	e.found = !e.solid && !e.leans
}

// left counts the points that left a roll, as those of a web do.
func (g *rollFit) left() (n int) {
	for i := range g.pts {
		if g.pts[i].off {
			n++
		}
	}
	return n
}

// inFewRows reports whether the points on a roll, whose phis are sorted, lie in so few rows that they would lie
// on some circle whatever it is. pitch is the spacing of points, mm.
func inFewRows(e *edge, pitch float64) bool {
	last, _ := slices.BinarySearch(e.phis, math.Nextafter(e.seen, math.Inf(1)))
	return fewRows(e.phis[:last], pitch/e.r, firstArc, enoughRows)
}

// fewRows reports whether sorted places, pitch being the spacing of points in their unit, lie in fewer rows than
// enough, with voids between them. from is where what is looked at begins.
func fewRows(sorted []float64, pitch, from float64, enough int) bool {
	if math.IsInf(pitch, 1) || pitch <= 0 || len(sorted) == 0 {
		return false
	}
	width := rowWidth * pitch
	rows, last := 0, math.Inf(-1)
	for _, at := range sorted {
		if at-last > width {
			rows, last = rows+1, at
		}
	}
	// Where rows follow one another without a void there are none.
	return rows < enough && float64(rows)*width < filled*max(sorted[len(sorted)-1]-from, width)
}
