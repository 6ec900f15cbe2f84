package gapflush

import "math"

// Where along an edge its points' distances are gathered: on the face before the shoulder, between the shoulder and where a roll
// tells itself from the face, and on the roll.
const (
	beforeBins  = 4
	beforeWidth = 0.4 // mm, of one of them
	arcBins     = 16
	formBins    = beforeBins + 1 + arcBins
	arcWidth    = (lastArc - firstArc) / arcBins
)

// formBin is the mean of distances, and how many they are.
type formBin struct{ mean, n float64 }

// formSeen is how far the points of one station lie off its face and roll, from place to place.
type formSeen struct {
	smoothed bool // the scan is, which leaves a form of its own
	bins     [formBins]formBin
	r        float64    // mm, of the roll
	given    float64    // mm, standard uncertainty of the radius before points said anything of it
	noise    float64    // mm, by which single points scatter
	shared   float64    // as known.shared, 1 at least
	bent     [2]float64 // change of the face's height and direction, where it is fitted, with its curvature
	uc       float64    // 1/mm, standard uncertainty of that
	arm      float64    // mm from the middle of the face's fit to the shoulder
}

// binAt is the middle of a bin, mm along the edge from the shoulder on, for a roll of radius r.
func binAt(b int, r float64) float64 {
	switch {
	case b < beforeBins:
		return float64(beforeWidth * (float64(b) - (beforeBins - 0.5)))
	case b == beforeBins:
		return firstArc / 2 * r
	}
	return (firstArc + float64(arcWidth*(float64(b-beforeBins-1)+0.5))) * r
}

// form gathers how far points lie off an edge that was found. Where smoothing drew the roll inward it is looked at
// from where the fit begins.
func (g *rollFit) form(e *edge, uc float64, k Side, kn *known) *formSeen {
	v := &formSeen{smoothed: kn.sunk != [2]float64{}, r: e.r, given: kn.givenU[k], noise: e.misses, shared: max(kn.shared, 1), uc: uc}
	o := rollAt(g.face, e.s, e.r)
	put := func(b int, res float64) {
		v.bins[b].mean += res
		v.bins[b].n++
	}
	for i := range g.pts {
		p := &g.pts[i]
		px, py := p.y-o.c.S, p.h-o.c.H
		t := float64(px*o.t.S) + float64(py*o.t.H)
		if t <= -beforeBins*beforeWidth || p.off {
			continue
		}
		w := float64(px*o.n.S) + float64(py*o.n.H)
		switch {
		case t <= 0:
			if res := float64((p.h - g.face.at0(p.y)) * o.n.H); g.sunk == 0 && math.Abs(res) < onRoll && p.nh > facing {
				put(beforeBins-1-int(-t/beforeWidth), res)
			}
		case w > 0 && t < w*tanFirst:
			if res := math.Sqrt(float64(t*t)+float64(w*w)) - o.r; g.sunk == 0 && math.Abs(res) < onRoll && p.nh > facing {
				put(beforeBins, res)
			}
		default:
			at, ok := g.counts(&o, p)
			if !ok {
				continue
			}
			phi := at.phi()
			if phi > e.seen+1e-9 {
				continue
			}
			res := at.d - o.r
			if g.clear {
				res -= float64(at.ux * g.along.at(p.x))
			}
			put(beforeBins+1+min(int((phi-firstArc)/arcWidth), arcBins-1), res)
		}
	}
	for b := range v.bins {
		if s := &v.bins[b]; s.n > 0 {
			s.mean /= s.n
		}
	}
	v.bent, v.arm = [2]float64{g.face.dh0, g.face.dm}, e.s-g.face.y0
	return v
}
