package align

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// The refinement on the grid: scales in reference diagonals, shrinking evenly
// in the logarithm from the first to the last step.
const (
	gridPoints = 300
	gridSteps  = 8
	gridLast   = 0.006

	// gridDamping keeps a pose from running along a direction that the points
	// do not hold; it is far below the 1e-4 of the weakest held direction.
	gridDamping = 1e-5
)

// refineAll improves poses on the grid and returns them best first.
func (s *searcher) refineAll(ctx context.Context, poses []candidate, points []point, steps int, first, last float64, progress mesh.Progress) ([]candidate, error) {
	out := make([]candidate, len(poses))
	scales := fallingScales(first*s.ref.diag, last*s.ref.diag, steps)
	err := parallel.Chunks(ctx, len(poses), 4, s.threads, progress, func(_, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			out[k] = s.refine(poses[k].g, points, scales)
		}
	})
	if err != nil {
		return nil, err
	}
	sortCandidates(out)
	return out, nil
}

// refine improves one pose on the grid, point to plane with Tukey weights at falling scales in mm.
func (s *searcher) refine(g geom.Rigid, points []point, scales []float64) candidate {
	lever := s.ref.diag / 2
	for _, tau := range scales {
		var a sym6
		var b vec6
		for i := range points {
			p := carried(&g, &points[i].p)
			q := s.ref.grid.nearest(p)
			if q == nil || !s.alike(turned(&g.R, &points[i].n), q.n, cosCoarse) {
				continue
			}
			r := p.Sub(q.p).Dot(q.n)
			w := tukeyWeight(r, tau)
			if w == 0 {
				continue
			}
			j := jacobian(p, q.n, s.ref.centre, lever)
			a.addOuter(w, &j)
			for m := range 6 {
				b[m] -= float64(w * r * j[m])
			}
		}
		x, ok := solveDamped(&a, b, gridDamping)
		if !ok {
			break
		}
		g = moveBy(g, x, s.ref.centre, lever)
	}
	return candidate{g, s.planeScore(g, points, scales[len(scales)-1])}
}

// planeScore is score over distances from the samples' planes, which are
// sharper than the distances from the samples.
func (s *searcher) planeScore(g geom.Rigid, points []point, tau float64) float64 {
	sum := 0.0
	for i := range points {
		p := carried(&g, &points[i].p)
		q := s.ref.grid.nearest(p)
		if q != nil && s.alike(turned(&g.R, &points[i].n), q.n, cosCoarse) {
			sum += 1 - tukeyLoss(p.Sub(q.p).Dot(q.n), tau)
		}
	}
	return sum / float64(len(points))
}

// carried is g.Apply, and turned its turn of a direction, for loops over millions of points: nothing is copied.
func carried(g *geom.Rigid, v *geom.Vec) geom.Vec {
	p := turned(&g.R, v)
	return geom.Vec{X: p.X + g.T.X, Y: p.Y + g.T.Y, Z: p.Z + g.T.Z}
}

func turned(r *geom.Mat3, v *geom.Vec) geom.Vec {
	return geom.Vec{
		X: float64(r[0][0]*v.X) + float64(r[0][1]*v.Y) + float64(r[0][2]*v.Z),
		Y: float64(r[1][0]*v.X) + float64(r[1][1]*v.Y) + float64(r[1][2]*v.Z),
		Z: float64(r[2][0]*v.X) + float64(r[2][1]*v.Y) + float64(r[2][2]*v.Z),
	}
}

// jacobian returns how the distance of p from a plane with normal n changes
// with the six motions about the centre, turns counted in mm at the lever.
func jacobian(p, n, centre geom.Vec, lever float64) vec6 {
	m := p.Sub(centre).Cross(n)
	return vec6{n.X, n.Y, n.Z, m.X / lever, m.Y / lever, m.Z / lever}
}

// moveBy returns g followed by the small motion x, in the units of jacobian.
func moveBy(g geom.Rigid, x vec6, centre geom.Vec, lever float64) geom.Rigid {
	turn := geom.RotationVector(geom.Vec{X: x[3] / lever, Y: x[4] / lever, Z: x[5] / lever})
	step := geom.Rigid{R: turn.R, T: centre.Sub(turn.ApplyDir(centre)).Add(geom.Vec{X: x[0], Y: x[1], Z: x[2]})}
	return step.After(g).Orthonormal()
}

// tukeyWeight is Tukey's biweight: 1 at 0, falling smoothly to 0 at the scale
// and beyond, so that damage has no pull at all (Beaton & Tukey 1974).
func tukeyWeight(r, scale float64) float64 {
	u := r / scale
	v := 1 - float64(u*u)
	if v <= 0 {
		return 0
	}
	return v * v
}

// tukeySlope is the derivative of tukeyWeight with r, per mm.
func tukeySlope(r, scale float64) float64 {
	u := r / scale
	v := 1 - float64(u*u)
	if v <= 0 {
		return 0
	}
	return -4 * u * v / scale
}

// tukeyLoss is the loss that belongs to the weight, made to rise from 0 to 1.
func tukeyLoss(r, scale float64) float64 {
	u := r / scale
	v := 1 - float64(u*u)
	if v <= 0 {
		return 1
	}
	return 1 - float64(v*v*v)
}
