package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

const (
	pathInset = 25.0 // mm that seam paths keep from the ends of the shut lines
	pathChord = 0.05 // mm that a path's chords may miss the middle of the gap by
)

// seams returns the shut lines of the drawing.
func (v *side) seams() []SeamSpec {
	radius := [2]float64{hemRadius, hemRadius}
	return []SeamSpec{
		{Name: "wing to door", Path: v.path(wingDoorLine), Master: 1, Radius: radius, Gap: gapNominal, edges: [2]int{wingRear, doorFront}},
		{Name: "door to quarter", Path: v.path(doorQuarterLine), Master: 0, Radius: radius, Gap: gapNominal, edges: [2]int{doorRear, quarterFront}},
	}
}

// path returns the middle of a gap on the drawn skin as a polyline, upward.
func (v *side) path(line shutLine) []geom.Vec {
	skin := &v.skins[Door]
	at := func(z float64) geom.Vec {
		x, _ := line.at(z)
		p, _ := skin.at(x, z)
		return p
	}
	round := func(x float64) float64 { return math.Round(x/PathStep) / (1 / PathStep) }
	var path []geom.Vec
	add := func(p geom.Vec) { path = append(path, geom.Vec{X: round(p.X), Y: round(p.Y), Z: round(p.Z)}) }
	lo, hi := pathInset, vanTop-pathInset
	add(at(lo))
	for lo < hi {
		next := min(lo+50, hi)
		for next > lo+1 && misses(at, lo, next) {
			next -= 1
		}
		add(at(next))
		lo = next
	}
	return path
}

// misses reports whether the chord from a to b leaves the curve by more than pathChord.
func misses(at func(float64) geom.Vec, a, b float64) bool {
	p, q := at(a), at(b)
	d := q.Sub(p).Unit()
	for i := 1; i < 16; i++ {
		e := at(a + float64((b-a)*float64(i)/16)).Sub(p)
		if e.AddScaled(-e.Dot(d), d).Norm() > pathChord {
			return true
		}
	}
	return false
}
