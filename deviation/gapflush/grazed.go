package gapflush

import (
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/order"
)

// A scan from one direction sees a roll's end grazingly: its points lie ever farther apart there, and the last of them
// fall half on the roll and half on what lies behind, between which they hang. How far the last row
// is from the true end no point tells.

const (
	// grazedFrom and grazedTo bound how far a roll's faces have turned where they are compared with the face's own:
	// beyond, a wall of points that hang begins.
	grazedFrom, grazedTo = 30 * math.Pi / 180, 75 * math.Pi / 180
	// grazedLeast faces of either tell which are larger.
	grazedLeast = 4
	// grazedOver is over how many spacings of points before and after a station its faces are compared at most.
	grazedOver = 6
	// grazedBy is the share of what the secant of its turn exceeds 1 by, by which a roll's face is larger than the
	// face's own, from which on it counts as seen grazingly: from one direction square to the face it is 1, where points
	// lie evenly on every surface 0, and where the view leans by 20 degrees toward the roll, which it then sees past its
	// nose, some 0.2.
	grazedBy = 0.4
	// grazedStretched is the same of how much longer a roll's faces are across than along the seam, beside the face's
	// own: points that only lie farther apart on the roll than behind it do so both ways.
	grazedStretched = 0.4
	// grazedNose is the standard uncertainty of a nose beside points that may hang, in spacings of points: the outermost
	// hang where they lie within half a spot of the end, and spots are as wide as points lie apart at most. All
	// of that half is as likely (JCGM 100:2008, 4.3.7: a rectangle).
	grazedNose = 0.5 / 1.7320508075688772
)

// grazed is how a side's roll was seen: by which share of the secant of their turn, less 1, its faces are larger
// than the face's own, and longer across the seam beside their length along it, and the spacing of points on that, mm.
type grazed struct {
	by, stretched, spacing float64
	ok                     bool
}

// reaches sums how far, squared, the edges of faces reach across and along the seam, mm².
type reaches struct{ across, along float64 }

func (r *reaches) add(p *patch, t *patchFace, f geom.Vec) {
	for i, c := range t.corner {
		e := p.v[t.corner[(i+1)%3]].Sub(p.v[c])
		along := e.Dot(f)
		r.across += float64(e.Dot(e)) - float64(along*along)
		r.along += float64(along * along)
	}
}

// longer returns how many times longer the faces are across than along.
func (r *reaches) longer() float64 { return math.Sqrt(r.across / r.along) }

// graze compares the faces on a side's roll with those of its face zone.
func (c *cutter) graze(w *worker, o *raw, k Side, s float64, band float64) (v grazed) {
	zone := c.seam.Face
	f := &o.side[k].face
	sinFace, cosFace := geom.Sincos(geom.Atan(f.slope(s)))
	sinFrom, cosFrom := geom.Sincos(grazedFrom)
	sinTo, cosTo := geom.Sincos(grazedTo)
	deepest := 2 * max(o.side[k].edge.r, defaultRadius)
	band = min(band, grazedOver*o.spread) // of a fine scan a part tells it
	var flat, roll, secant []float64
	var onFlat, onRoll reaches
	w.runs = collectIn(c.patch.faces, &o.frame, band, math.Abs(s)+zone[1], outwardHeight+deepest, w.runs[:0])
	for t := range c.patch.each(w.runs) {
		x, y, h := o.frame.local(t.mid)
		if k == B {
			y = -y
		}
		back := s - y
		if math.Abs(x) > band || back > zone[1] || back < -deepest || back < zone[0] && back > 0 {
			continue
		}
		ny, nh := t.n.Dot(o.frame.a), t.n.Dot(o.frame.u)
		if k == B {
			ny = -ny
		}
		// Along the face toward the gap, and out of it.
		along, out := float64(ny*cosFace)+float64(nh*sinFace), float64(nh*cosFace)-float64(ny*sinFace)
		off := h - f.at(x, y)
		switch {
		case back >= zone[0] && out > facing*t.long && math.Abs(off) < layerHeight:
			flat = append(flat, t.long)
			onFlat.add(c.patch, t, o.frame.f)
		case back <= 0 && off > -deepest && float64(along*cosFrom) >= float64(out*sinFrom) && float64(along*cosTo) <= float64(out*sinTo):
			roll, secant = append(roll, t.long), append(secant, t.long/out)
			onRoll.add(c.patch, t, o.frame.f)
		}
	}
	if len(flat) < grazedLeast || len(roll) < grazedLeast {
		return v
	}
	turned := order.Nth(slices.Clone(secant), len(secant)/2)
	own := order.Nth(flat, len(flat)/2)
	for i := range roll {
		roll[i] = (roll[i]/own - 1) / (secant[i] - 1)
	}
	return grazed{order.Nth(roll, len(roll)/2), (onRoll.longer()/onFlat.longer() - 1) / (turned - 1), math.Sqrt(own), true}
}

// poolGrazed says where rolls were seen grazingly. A side whose roll has no faces to tell it from was seen from
// where the other was.
func (j *job) poolGrazed(first []raw, kn []known) {
	var by, stretched, spacing [2][]float64
	for i := range first {
		for k := A; k <= B; k++ {
			if v := &first[i].shows[k].grazed; v.ok {
				by[k], stretched[k], spacing[k] = append(by[k], v.by), append(stretched[k], v.stretched), append(spacing[k], v.spacing)
			}
		}
	}
	for k := A; k <= B; k++ {
		told := k
		if len(by[k]) == 0 {
			told = 1 - k
		}
		if kn[0].form[k] != Round || len(by[told]) == 0 || median(by[told]) < grazedBy || median(stretched[told]) < grazedStretched {
			continue
		}
		u := grazedNose * median(spacing[told])
		j.note("Side %s's edge was seen grazingly, so that its last points may hang half way to what lies behind it, where they are no part of it: its nose counts as known to %.2f mm (one standard uncertainty), whatever its points say. Scan along the gap from either side of it as well.", sideName[k], u)
		for i := range kn {
			kn[i].grazedU[k] = u
		}
	}
}
