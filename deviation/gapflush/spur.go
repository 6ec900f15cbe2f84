package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// spurFrom is how far aside of the way from its neighbours, mm, a single point of a path is surely mistyped where the path goes
// out to it and comes back at once: more than the widest gap with its hems.
const spurFrom = 30.0

// spur is a stretch of a path, mm, that goes out to one point and comes back to the way it was on.
type spur struct {
	from, to float64
	f        geom.Vec // unit, the way from before it to behind it
}

// spurs returns the stretches of a path that go out to a single point and back: the point lies farther aside of the way
// between its neighbours than these are apart, so that the two legs enclose less than 53°. Two legs along one gap are none, nor are two gaps
// beside one another, between which a path goes by two points.
func (p *polyline) spurs() (list []spur) {
	for n := 1; n+1 < len(p.pts); n++ {
		a, b := p.pts[n-1], p.pts[n+1]
		apart := b.Dist(a)
		if apart == 0 {
			continue
		}
		f := b.Sub(a).Scale(1 / apart)
		d := p.pts[n].Sub(a)
		on := d.Dot(f)
		aside := d.AddScaled(-on, f).Norm()
		if aside > max(apart, spurFrom) && math.Abs(on-float64(apart/2)) <= apart {
			list = append(list, spur{p.arc[n-1], p.arc[n+1], f})
			n++ // the next point is the end of this one
		}
	}
	return list
}

// spurAt returns the spur that holds an arc length.
func (w *walked) spurAt(s float64) (sp spur, ok bool) {
	for _, sp := range w.spurs {
		if s > sp.from && s < sp.to {
			return sp, true
		}
	}
	return sp, false
}
