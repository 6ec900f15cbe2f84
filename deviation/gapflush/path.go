package gapflush

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"shutline/mesh/geom"
)

// ErrPath is wrapped by every error about a path that cannot be walked.
var ErrPath = errors.New("path cannot be used")

// polyline is a path without repeated points, with its arc length.
type polyline struct {
	pts  []geom.Vec
	arc  []float64 // mm from the start to each point
	full float64   // mm
}

// newPolyline drops repeated points. Points closer than a nanometre have no
// direction between them that float64 millimetres could hold.
func newPolyline(path []geom.Vec) (*polyline, error) {
	const same = 1e-6 // mm
	p := &polyline{}
	for i, v := range path {
		if !v.IsFinite() {
			return nil, fmt.Errorf("point %d is not finite: %w", i+1, ErrPath)
		}
		n := len(p.pts)
		if n > 0 && v.Dist(p.pts[n-1]) <= same {
			continue
		}
		if n > 0 {
			p.full += v.Dist(p.pts[n-1])
		}
		p.pts = append(p.pts, v)
		p.arc = append(p.arc, p.full)
	}
	if len(p.pts) < 2 {
		return nil, fmt.Errorf("it has fewer than two different points: %w", ErrPath)
	}
	return p, nil
}

// at returns the point at arc length s; beyond the ends the end legs go on straight.
func (p *polyline) at(s float64) geom.Vec {
	i := sort.SearchFloat64s(p.arc, s)
	i = min(max(i, 1), len(p.pts)-1)
	a, b := p.pts[i-1], p.pts[i]
	return a.Lerp(b, (s-p.arc[i-1])/(p.arc[i]-p.arc[i-1]))
}

// smoothing is the half length, in mm, over which a path's direction is taken.
const smoothing = 10.0

// tangent returns the direction of the path smoothed over ±10 mm: the chord
// between the points 10 mm on either side, which is the derivative of the
// moving average.
func (p *polyline) tangent(s float64) geom.Vec {
	lo, hi := max(s-smoothing, 0), min(s+smoothing, p.full)
	if f := p.at(hi).Sub(p.at(lo)).Unit(); f != (geom.Vec{}) {
		return f
	}
	// A path that turns back on itself has no chord; its own leg has a direction.
	i := min(max(sort.SearchFloat64s(p.arc, s), 1), len(p.pts)-1)
	return p.pts[i].Sub(p.pts[i-1]).Unit()
}

// stations returns the arc lengths of the stations: half a step in from the
// start, then every step. A path shorter than half a step gets one in its middle.
func (p *polyline) stations(every float64) []float64 {
	var out []float64
	// Half a billionth of a step keeps a last station that rounding puts a hair past the end.
	n := int(math.Floor(p.full/every - 0.5 + 5e-10))
	for i := 0; i <= n; i++ {
		out = append(out, min(every*(float64(i)+0.5), p.full))
	}
	if len(out) == 0 {
		out = append(out, p.full/2)
	}
	return out
}

// StationsOn returns how many stations stand on a path, every so many mm.
func StationsOn(path []geom.Vec, every float64) int {
	p, err := newPolyline(path)
	if err != nil || !(every > 0) {
		return 0
	}
	return len(p.stations(every))
}

// Straightness returns the length of a path smoothed over ±10 mm, as a share of its own: 1 for one that runs on, next to nothing for
// one that runs to and fro. The corners of a path and its ends cost some mm. 0 for a path that cannot be walked, or that is
// too short to tell.
func Straightness(path []geom.Vec) float64 {
	p, err := newPolyline(path)
	if err != nil || p.full < 2*smoothing {
		return 0
	}
	return p.straightness()
}

// straightness sums the derivative of the moving average, which is the chord over 20 mm.
func (p *polyline) straightness() float64 {
	const most = 20000 // places; of a longer path those that are so many
	from, to := smoothing, p.full-smoothing
	if !(to > from) {
		return 1
	}
	n := int(min(math.Ceil((to-from)/2), most))
	sum := 0.0
	for i := range n {
		s := from + float64((to-from)*(float64(i)+0.5)/float64(n))
		sum += p.at(s+smoothing).Dist(p.at(s-smoothing)) / (2 * smoothing)
	}
	return sum / float64(n)
}
