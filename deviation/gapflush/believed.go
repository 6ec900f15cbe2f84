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
	// sinTurned is the sine by which the median normal of a roll's last points is turned off its radius where they are none of
	// it: of a seal below a gap, which looks up, twice that; of the last row before a void, whose normals are
	// those of the faces on one side, half that.
	sinTurned = 0.5 // of 30°
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
	// Whether a place lies before or beyond an angle, and how far a normal is turned, is told by products with directions.
	sinSeen, cosSeen := geom.Sincos(e.seen)
	sinLast, cosLast := geom.Sincos(lastPart * e.seen)
	near := float64(4 * e.sigma)
	least, most := max(o.r-near, 0), o.r+near
	for i := range g.pts {
		p := &g.pts[i]
		px, py := p.y-o.c.S, p.h-o.c.H
		v := float64(px*o.t.S) + float64(py*o.t.H)
		if v <= 0 {
			continue
		}
		w := float64(px*o.n.S) + float64(py*o.n.H)
		if w > 0 && v < w*tanFirst || float64(v*cosSeen)-float64(w*sinSeen) > 0 {
			continue
		}
		// Times the distance from the centre.
		d2 := float64(v*v) + float64(w*w)
		along := float64(p.ny*px) + float64(p.nh*py)
		switch {
		case d2 < (o.r-by)*(o.r-by) && o.r > by && d2 > by*by:
			if along > 0 && along*along > facing*facing*d2 {
				inside++
			}
		case along > 0 && !p.off && d2 > least*least && d2 < most*most && float64(v*cosLast)-float64(w*sinLast) > 0:
			turns = append(turns, (float64(p.ny*py)-float64(p.nh*px))/math.Sqrt(d2))
		}
	}
	g.other = turns
	e.solid = inside >= minOnArc && float64(inside) >= insideShare*float64(e.n)
	e.leans = len(turns) >= minOnArc && math.Abs(median(turns)) > sinTurned
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
// on some circle whatever it is. One that was seen to near its nose stands upright there, as what lies below a gap does not.
// pitch is the spacing of points, mm.
func inFewRows(e *edge, pitch float64) bool {
	if e.seen >= pastTelling {
		return false
	}
	last, _ := slices.BinarySearch(e.phis, math.Nextafter(e.seen, math.Inf(1)))
	return fewRows(e.phis[:last], pitch/e.r, firstArc)
}

// fewRows reports whether sorted places, pitch being the spacing of points in their unit, lie in fewer rows than
// are enough, with voids between them. from is where what is looked at begins.
func fewRows(sorted []float64, pitch, from float64) bool {
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
	return rows < enoughRows && float64(rows)*width < filled*max(sorted[len(sorted)-1]-from, width)
}
