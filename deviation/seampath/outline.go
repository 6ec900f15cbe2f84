package seampath

import (
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// outline reads how high the uppermost surface lies along a line across the path: a cut there
// shows at once what one ray for every height would. Its memory is used again.
type outline struct {
	on    *surface.Surface
	faces []uint32
}

// crack is by how much, mm, a piece of a cut reaches over its ends: neighbours' ends differ by rounding.
const crack = 1e-9

// heights sets every height to that of the uppermost surface over or under at + (from + k grid) across, seen along up,
// all unit, square to one another; mm above at. What lies higher than above or lower than below is not seen: NaN.
func (o *outline) heights(heights []float64, at, across, up geom.Vec, from, grid float64) {
	for k := range heights {
		heights[k] = math.NaN()
	}
	along := across.Cross(up)
	if along == (geom.Vec{}) {
		return
	}
	to := from + float64(grid*float64(len(heights)-1))
	wide := max(math.Abs(from), math.Abs(to))
	o.faces = o.on.Tree().AppendAtPlane(o.faces[:0], at, along, math.Sqrt(float64(wide*wide)+below*below))
	for _, f := range o.faces {
		var x, s, h [3]float64
		beyond := 0
		a, b, c := o.on.Mesh.Corners(f)
		for k, v := range [3]geom.Vec{a, b, c} {
			d := v.Sub(at)
			x[k], s[k], h[k] = d.Dot(along), d.Dot(across), d.Dot(up)
			if x[k] >= 0 {
				beyond++
			}
		}
		if beyond == 0 || beyond == 3 {
			continue
		}
		// The two sides that cross the plane, each from its end before the plane to that beyond.
		var p, q [2]float64
		n := 0
		for k := range x {
			i, j := k, (k+1)%3
			if (x[i] >= 0) == (x[j] >= 0) {
				continue
			}
			if x[i] >= 0 {
				i, j = j, i
			}
			t := x[i] / (x[i] - x[j])
			p, q = q, [2]float64{s[i] + float64(t*(s[j]-s[i])), h[i] + float64(t*(h[j]-h[i]))}
			n++
		}
		if p[0] > q[0] {
			p, q = q, p
		}
		first := max(int(math.Ceil((p[0]-crack-from)/grid)), 0)
		last := min(int(math.Floor((q[0]+crack-from)/grid)), len(heights)-1)
		for k := first; k <= last; k++ {
			at := max(p[1], q[1])
			if wide := q[0] - p[0]; wide > crack {
				share := min(max((from+float64(grid*float64(k))-p[0])/wide, 0), 1)
				at = p[1] + float64(share*(q[1]-p[1]))
			}
			if at <= above && at >= -below && !(at <= heights[k]) {
				heights[k] = at
			}
		}
	}
}
