package bodywork

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// SurfaceTruth is a scan vertex's distance to the drawing.
type SurfaceTruth struct {
	Deviation float64 // mm, positive: proud
	Measured  bool    // false for foreign points and those beside the drawing: no number
	Clear     bool    // the rule of the 60 degrees chose the place by a margin of 20; else a noisy normal may choose another
}

const (
	likeNormal  = 0.5                // cosine of 60 degrees: only a surface that faces like the sample counts
	likeAngle   = math.Pi / 3        // the same
	clearNormal = 0.7660444431189780 // cosine of 40 degrees
	besideMM    = 0.05               // mm, square to the normal, beyond which a point lies past a free border
)

// Surface returns the exact signed distance of every scan vertex, as stored,
// to the drawing, in the scan's order.
func (j *Job) Surface(ctx context.Context, progress mesh.Progress) ([]SurfaceTruth, error) {
	out := make([]SurfaceTruth, len(j.Scan.Vertices))
	err := parallel.Chunks(ctx, len(out), 512, j.Options.Threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if o := j.Origins[i]; !o.Part.Foreign() {
				out[i] = j.deviation(j.ReferenceFromScan.Apply(j.Scan.Vertices[i]), o)
			}
		}
	})
	return out, err
}

// deviation returns the distance of p, sampled at o, to the drawn panel.
func (j *Job) deviation(p geom.Vec, o Origin) SurfaceTruth {
	facing := j.facing(p, o)
	best := SurfaceTruth{}
	try := func(d float64, n geom.Vec) {
		if n.Dot(facing) >= likeNormal && (!best.Measured || math.Abs(d) < math.Abs(best.Deviation)) {
			best = SurfaceTruth{d, true, n.Dot(facing) >= clearNormal}
		}
	}
	v := j.nominal
	if o.Part == Face {
		if q, n, inside := v.onFace(int(o.Panel), p); inside {
			try(p.Sub(q).Dot(n), n)
		}
	}
	for _, k := range panelEdges[o.Panel] {
		// Only vertices near an edge can be nearer to its hem than to the face.
		if k < 0 || int(o.Edge) != k {
			continue
		}
		s := v.edges[k].closest(p)
		d := p.Sub(s.c)
		a, b := d.Dot(s.n), d.Dot(s.t)
		switch radius := math.Sqrt(float64(a*a) + float64(b*b)); {
		case b >= 0 && radius > 0:
			n := geom.Vec{}.AddScaled(a/radius, s.n).AddScaled(b/radius, s.t)
			if n.Dot(facing) < likeNormal && o.Part == Roll {
				// The nearest place looks elsewhere: the nearest of those that look alike
				// lies on the rim of what the rule allows.
				rim := float64(o.Arc) - likeAngle
				if facing.Cross(n).Dot(s.n.Cross(s.t)) > 0 {
					rim = float64(o.Arc) + likeAngle
				}
				if rim >= 0 && rim <= math.Pi {
					q, qn := s.roll(rim)
					best = SurfaceTruth{math.Copysign(p.Dist(q), p.Sub(q).Dot(qn)), true, false}
				}
				continue
			}
			try(radius-hemRadius, n)
		case a < 0 && o.Part != Face && -b <= hemReturn+besideMM:
			try(-hemRadius-a, s.n.Neg())
		}
		if o.Part != Face && !best.Measured {
			if q, n, inside := v.onFace(int(o.Panel), p); inside {
				try(p.Sub(q).Dot(n), n)
			}
		}
	}
	return best
}

// facing returns the outward normal of the scanned surface at a sample.
func (j *Job) facing(p geom.Vec, o Origin) geom.Vec {
	if o.Part == Face {
		_, n := j.scanned.skins[o.Panel].at(p.X, p.Z)
		return n
	}
	s := j.scanned.edges[o.Edge].closest(p)
	if o.Part == Return {
		return s.n.Neg()
	}
	sin, cos := geom.Sincos(float64(o.Arc))
	return geom.Vec{}.AddScaled(cos, s.n).AddScaled(sin, s.t)
}

// onFace returns the point of the drawn skin nearest to p, its normal, and
// whether it lies on the panel's face.
func (v *side) onFace(panel int, p geom.Vec) (q, n geom.Vec, inside bool) {
	x, z := v.skins[panel].closest(p)
	q, n = v.skins[panel].at(x, z)
	inside = x >= v.border(panel, 0, z) && x <= v.border(panel, 1, z) &&
		z >= lowerBorder(x)-besideMM && z <= vanTop+besideMM
	return q, n, inside
}
