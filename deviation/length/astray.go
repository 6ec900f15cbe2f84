package length

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// astrayLines are the parallel lines about an end that its surface is looked at along.
	astrayLines = 8
	// astrayMost is how many of them may miss the surface: with more than half gone the rest do not tell how it runs.
	astrayMost = astrayLines / 2
)

// Astray returns the standard uncertainty, mm, that a length along a line has because the scan does not lie where the line was drawn: each end
// of it lies s mm (one standard deviation along each direction square to the line) beside the place that is meant, and there
// the surface is nearer or farther. It looks along parallel lines about each end of r, root of two times s beside it, so that
// their root mean square is that of places scattered by s both ways, slopes and curvature alike. Between two planes it is what their inclination makes;
// spheres, cylinders and the farthest places are found where they are.
//
// Why says why there is none, "" where there is.
func Astray(ctx context.Context, placed *mesh.Mesh, r *Result, s float64, threads int) (u float64, why string, err error) {
	span := r.Ends[1].Sub(r.Ends[0])
	full := span.Norm()
	if !r.Measured.OK || !(s > 0) || !(full > 0) {
		return 0, "", ctx.Err()
	}
	if a, b := r.Fits[0], r.Fits[1]; a != nil || b != nil {
		if a == nil || b == nil || a.Kind != Plane || b.Kind != Plane {
			return 0, "", ctx.Err()
		}
		return float64(s * a.Dir.Cross(b.Dir).Norm()), "", ctx.Err()
	}
	dir := span.Scale(1 / full)
	side := squareTo(dir)
	up := dir.Cross(side)
	radius := float64(math.Sqrt2 * s)
	var starts [2 * astrayLines]geom.Vec // on the plane through the end they are about
	for k := range starts {
		sin, cos := geom.Sincos(2 * math.Pi * float64(k%astrayLines) / astrayLines)
		starts[k] = r.Ends[k/astrayLines].AddScaled(float64(radius*cos), side).AddScaled(float64(radius*sin), up)
	}
	type nearestOf [2 * astrayLines]crossing
	parts := make([]nearestOf, (len(placed.Faces)+chunk-1)/chunk)
	err = parallel.Chunks(ctx, len(placed.Faces), chunk, threads, nil, func(_, c, lo, hi int) {
		for f := lo; f < hi; f++ {
			p, q, t := placed.Corners(uint32(f))
			d := p.Sub(r.Ends[0])
			size := q.Sub(p).Norm() + t.Sub(p).Norm()
			if d.AddScaled(-d.Dot(dir), dir).Norm() > radius+size {
				continue
			}
			for k, from := range starts {
				at, ok := cross(placed, uint32(f), from, dir)
				if best := &parts[c][k]; ok && math.Abs(at) <= Reach && (!best.ok || math.Abs(at) < best.off) {
					*best = crossing{at, f, true, math.Abs(at)}
				}
			}
		}
	})
	if err != nil {
		return 0, "", err
	}
	var found nearestOf
	for i := range parts {
		for k, x := range parts[i] {
			if x.ok && (!found[k].ok || x.off < found[k].off) {
				found[k] = x
			}
		}
	}
	sum := 0.0
	for end := range 2 {
		seen, squares := 0.0, 0.0
		for _, x := range found[end*astrayLines : (end+1)*astrayLines] {
			if x.ok {
				seen++
				squares += float64(x.at * x.at)
			}
		}
		if seen < astrayLines-astrayMost {
			return 0, ordinal[end], nil
		}
		sum += squares / seen
	}
	// Two places that lie s beside one another, both ways, are farther apart than along the line by s²/L on average, with as much scatter.
	slant := float64(s*s) / full
	return math.Sqrt(sum + float64(2*float64(slant*slant))), "", nil
}

// squareTo returns a unit vector square to a unit one: the coordinate axis it follows least, made square.
func squareTo(dir geom.Vec) geom.Vec {
	axis, least := geom.Vec{X: 1}, math.Abs(dir.X)
	if a := math.Abs(dir.Y); a < least {
		axis, least = geom.Vec{Y: 1}, a
	}
	if math.Abs(dir.Z) < least {
		axis = geom.Vec{Z: 1}
	}
	return axis.AddScaled(-axis.Dot(dir), dir).Unit()
}
