package crosscut

import (
	"fmt"
	"math"
	"strconv"

	"shutline/deviation/verdict"
)

// lack is why a stretch of a curve tells no radius.
type lack int

const (
	none       lack = iota // it tells one
	few                    // too few places
	straightOn             // it is straight
	uneven                 // no arc, alone or between straights
	shallow                // an arc too short to tell its radius
	sparse                 // an arc that too few places lie on
	unsure                 // U is too large
)

// query asks for the radius about a place.
type query struct {
	curves []Curve
	at     Point2
	within float64 // mm
	least  int     // places
	drawn  bool    // the curves are the reference's, which nobody scans again
	row    bool    // the plane is one of a row, into which the place was carried
}

// lookedAt is what a stretch showed.
type lookedAt struct {
	wide     float64 // mm about the place
	places   int
	run      []Point2
	where    span
	lack     lack
	value    verdict.Value
	centre   Point2
	from, to float64 // where on run the arc begins and ends
	turned   float64 // radians, of the arc
	needed   float64 // radians: under it no radius is told
}

const (
	// Other stretches are looked at where one tells no radius: so many times as wide as the one before, so often.
	wider, mostWider       = 1.5, 7
	shorter, mostShorter   = 0.7, 8
	fartherOff             = 0.5 // of within, that a place may lie off the curve and still be on it
	degree                 = 180 / math.Pi
	mostPlacesOfWiderLooks = 20000 // a stretch of more is not looked at: the whole cut of a body
)

// why says why there is no radius and what would tell one, of all stretches about the place: no width is advised that was not tried.
func (q *query) why(asked lookedAt) string {
	nearest, where := q.nearest()
	if nearest > float64(fartherOff*q.within) {
		return q.offCurve(nearest, where)
	}
	if asked.lack == straightOn {
		return "the curve is straight there"
	}
	looks := []lookedAt{asked}
	for k, w := 0, asked.wide; k < mostShorter; k++ {
		w = q.rounded(float64(w * shorter))
		l := q.look(w, w)
		if l.lack == few {
			break
		}
		if l.lack == none && l.holds(q.at) {
			return q.because(asked) + fmt.Sprintf("; one within %.3g mm tells it: write within = %.3g", w, w)
		}
		looks = append(looks, l)
	}
	for k, w := 0, asked.wide; k < mostWider; k++ {
		w = q.rounded(float64(w * wider))
		l := q.look(w, w)
		if l.lack == none && l.holds(q.at) {
			return q.because(asked) + fmt.Sprintf("; one within %.3g mm tells it: write within = %.3g", w, w)
		}
		if l.places == looks[len(looks)-1].places && l.lack != few || l.places > mostPlacesOfWiderLooks {
			break
		}
		looks = append(looks, l)
	}
	var flat *lookedAt // the widest one
	turned := 0.0
	for k := range looks {
		l := &looks[k]
		if !q.drawn && l.endsOnBend() {
			return fmt.Sprintf("the scan ends on the way round the bend, after %.0f° of it and %d places, which tell no radius; no other stretch does: scan on round the edge, slantwise from beyond it", float64(l.turned*degree), int(l.to-l.from)+1)
		}
		if l.lack != shallow {
			continue
		}
		turned = max(turned, l.turned)
		if flat == nil || l.wide > flat.wide {
			flat = l
		}
	}
	switch {
	case flat != nil && asked.lack != unsure:
		return fmt.Sprintf("the curve is too flat there for a radius, whichever stretch is taken: it turns by %.0f° at most, where %.0f° are needed; what tells is its depth: it lies up to %.2g mm off its chord of %.3g mm",
			float64(turned*degree), float64(flat.needed*degree), flat.offChord(), far(flat.run[0], flat.run[len(flat.run)-1]))
	case asked.lack == uneven:
		return q.because(asked) + "; nor is a shorter or longer one: move the place onto the bend"
	}
	if q.drawn {
		return q.because(asked) + "; no shorter or longer one tells it"
	}
	return q.because(asked) + "; no shorter or longer one tells it: scan it finer"
}

// because is what the stretch that was asked for lacks.
func (q *query) because(l lookedAt) string {
	switch l.lack {
	case few:
		return fmt.Sprintf("only %d places of the curve lie within %g mm of its place; at least %d are needed", l.places, q.within, q.least)
	case uneven:
		return fmt.Sprintf("what lies within %.3g mm of its place is no arc, alone or between straights", l.wide)
	case shallow:
		return fmt.Sprintf("the stretch within %.3g mm turns by only %.0f°, on which no radius can be told", l.wide, float64(l.turned*degree))
	case sparse:
		return fmt.Sprintf("only %d places of the curve lie on the bend there, on which no radius can be told", int(l.to-l.from)+1)
	}
	return fmt.Sprintf("the radius is too unsure (%.2g ± %.2g mm)", l.value.V, l.value.U)
}

// offCurve says of a place that lies off the curve where it could lie.
func (q *query) offCurve(nearest float64, where string) string {
	if math.IsInf(nearest, 1) {
		return "there is no curve"
	}
	s := fmt.Sprintf("its place lies %.1f mm from the nearest place of the curve, %s, and only what lies within %g mm of it is looked at", nearest, where, q.within)
	if q.row {
		return s + "; a row carries its place straight along its axis, so a bend that runs otherwise needs a section for itself, with its place on the bend"
	}
	return s + "; put it on the curve"
}

// nearest returns how far the curve is from the place, and where it comes nearest, for a sentence.
func (q *query) nearest() (mm float64, where string) {
	mm = math.Inf(1)
	for _, c := range q.curves {
		for k, p := range c.Points {
			if d := far(p, q.at); d < mm {
				mm = d
				where = fmt.Sprintf("[%.1f, %.1f]", p.H, p.V)
				if len(c.Places) > k {
					at := c.Places[k]
					where = fmt.Sprintf("[%.1f, %.1f, %.1f]", at.X, at.Y, at.Z)
				}
			}
		}
	}
	return mm, where
}

// rounded is a width that can be typed.
func (q *query) rounded(w float64) float64 {
	short, err := strconv.ParseFloat(strconv.FormatFloat(w, 'g', 2, 64), 64)
	if err != nil {
		return w
	}
	return short
}

// holds reports whether the place lies on the arc, not on a straight beside it or beyond.
func (l *lookedAt) holds(at Point2) bool {
	place := 0
	for k, p := range l.run {
		if far(p, at) < far(l.run[place], at) {
			place = k
		}
	}
	return float64(place) >= l.from-1 && float64(place) <= l.to+1
}

// endsOnBend reports whether the curve ends on an arc that would go on, so that what is missing is the scan: a hem not seen round,
// and not the border of a panel that is hardly bent.
func (l *lookedAt) endsOnBend() bool {
	if l.lack != shallow && l.lack != sparse || l.value.V > l.wide || l.where.hi-l.where.lo >= l.where.of {
		return false
	}
	return l.from < 1 && l.where.lo == 0 || l.to > float64(len(l.run)-2) && l.where.hi == l.where.of-1
}

// offChord is the farthest that the run lies off the chord of its ends, mm.
func (l *lookedAt) offChord() (most float64) {
	a, b := l.run[0], l.run[len(l.run)-1]
	long := far(a, b)
	if long == 0 {
		return 0
	}
	for _, p := range l.run {
		off := float64((p.V-a.V)*(b.H-a.H)) - float64((p.H-a.H)*(b.V-a.V))
		most = max(most, math.Abs(off)/long)
	}
	return most
}
