package seampath

import (
	"math"

	"shutline/mesh/geom"
)

// Simplified leaves out the points of a path that the rest shows as well: no
// point lies farther than within mm from the path returned.
// Based on: Douglas and Peucker 1973.
func Simplified(path []geom.Vec, within float64) []geom.Vec {
	if len(path) < 3 {
		return path
	}
	a, b := path[0], path[len(path)-1]
	worst, at := -1.0, 0
	for i := 1; i+1 < len(path); i++ {
		if d := distance(path[i], a, b); d > worst {
			worst, at = d, i
		}
	}
	if worst <= within {
		return []geom.Vec{a, b}
	}
	head := Simplified(path[:at+1], within)
	return append(head[:len(head)-1:len(head)-1], Simplified(path[at:], within)...)
}

// distance returns how far p lies from the line from a to b.
func distance(p, a, b geom.Vec) float64 {
	d := b.Sub(a)
	t := 0.0
	if n := d.Norm2(); n > 0 {
		t = min(1, max(0, p.Sub(a).Dot(d)/n))
	}
	return p.Dist(a.Lerp(b, t))
}

// Rounded returns the points to a hundredth of a mm, as an inspection file keeps
// them: what is measured on a path and on the path that was saved is the same.
func Rounded(path []geom.Vec) []geom.Vec {
	out := make([]geom.Vec, len(path))
	for i, p := range path {
		out[i] = geom.Vec{X: hundredth(p.X), Y: hundredth(p.Y), Z: hundredth(p.Z)}
	}
	return out
}

func hundredth(v float64) float64 { return math.Round(v*100)/100 + 0 }
