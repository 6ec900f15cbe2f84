package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// Axis is a direction along one of the reference's axes, or between two.
type Axis struct {
	Axis int     // 0, 1, 2: x, y, z
	Sign float64 // 1 or -1
}

// mostOf is the share of its largest part that a direction's second has at least to be told too.
const mostOf = 0.6

// Toward returns along which axes side B lies from side A, the first the most; side A lies the opposite way. Of most
// seams it is one, of one that runs slantwise two. ok is false where no station has a direction.
func (r *Result) Toward() (axes []Axis, ok bool) {
	var sum geom.Vec
	for i := range r.Stations {
		sum = sum.Add(r.Stations[i].A)
	}
	if sum.Norm() == 0 {
		return nil, false
	}
	most := max(math.Abs(sum.X), math.Abs(sum.Y), math.Abs(sum.Z))
	for k := range 3 {
		if v := sum.At(k); math.Abs(v) >= mostOf*most {
			a := Axis{k, math.Copysign(1, v)}
			if math.Abs(v) == most {
				axes = append([]Axis{a}, axes...)
			} else {
				axes = append(axes, a)
			}
		}
	}
	return axes, true
}
