package align

import (
	"math"

	"shutline/mesh/geom"
)

// Direction is a small rigid motion, of a kind with what the data hold equally
// well, along which a placement may be off.
type Direction struct {
	// Motion is the shift in mm along the reference's axes and the turn in
	// radians about them through the placement's Centre that belong to one unit:
	// a motion of 1 mm, turns counted at the placement's Lever.
	Motion [6]float64
	Sigma  float64 // standard uncertainty, in units; 0 where Free
	Free   bool    // the data do not hold it: it has no uncertainty
}

// at returns how the direction's unit displaces the point p.
func (d *Direction) at(p, centre geom.Vec) geom.Vec {
	w := geom.Vec{X: d.Motion[3], Y: d.Motion[4], Z: d.Motion[5]}
	return w.Cross(p.Sub(centre)).Add(geom.Vec{X: d.Motion[0], Y: d.Motion[1], Z: d.Motion[2]})
}

// Along returns how far a small motion of the placed scan, reference from
// reference, goes along each of the placement's Directions, in their units.
func (p *Placement) Along(motion geom.Rigid) [6]float64 {
	t := motion.Apply(p.Centre).Sub(p.Centre)
	w := sineAlong(&motion.R) // what it leaves out of the turn is of second order
	x := vec6{t.X, t.Y, t.Z, w.X, w.Y, w.Z}
	var out [6]float64
	for k := range out {
		m := vec6(p.Directions[k].Motion)
		for i := 3; i < 6; i++ {
			m[i] *= p.Lever * p.Lever
		}
		out[k] = dot6(&m, &x)
	}
	return out
}

// sineAlong returns a turn's axis with the sine of its angle as length: its antisymmetric part.
func sineAlong(r *geom.Mat3) geom.Vec {
	return geom.Vec{X: (r[2][1] - r[1][2]) / 2, Y: (r[0][2] - r[2][0]) / 2, Z: (r[1][0] - r[0][1]) / 2}
}

// turnAlong returns the sizes of the parts about X, Y and Z of a turn of any angle, radians.
func turnAlong(g *geom.Rigid) geom.Vec {
	const small = 1e-4 // of a turn of less than a hundredth of a radian the sine tells as much
	angle, cos := g.Angle(), float64((g.R[0][0]+g.R[1][1]+g.R[2][2]-1)/2)
	if 1-cos < small {
		s := sineAlong(&g.R)
		return geom.Vec{X: math.Abs(s.X), Y: math.Abs(s.Y), Z: math.Abs(s.Z)}
	}
	part := func(k int) float64 { return angle * math.Sqrt(max((g.R[k][k]-cos)/(1-cos), 0)) }
	return geom.Vec{X: part(0), Y: part(1), Z: part(2)}
}

// SigmaAt returns the standard uncertainty, in mm, of the place that a point of
// the reference's frame is carried to: the root of the summed squares over the
// axes and over the directions that are held. free reports that directions that
// are not held would move the point by more than a hundredth of their unit.
func (p *Placement) SigmaAt(at geom.Vec) (sigma float64, free bool) {
	sum := 0.0
	for k := range p.Directions {
		d := &p.Directions[k]
		move := d.at(at, p.Centre).Norm()
		if d.Free {
			free = free || move > freeMove
			continue
		}
		sum += float64(move * d.Sigma * (move * d.Sigma))
	}
	return math.Sqrt(sum), free
}

// freeMove in mm per unit: a free direction that moves a point less leaves it
// within 0.02 mm, the placement error aimed for, while it goes 2 mm.
const freeMove = 0.01

// independent returns the directions that are not held, and the eigenvectors
// of the covariance, still in mm at the lever, of those that are.
func (h *held) independent() [6]Direction {
	var out [6]Direction
	n := 0
	put := func(v vec6, sigma float64, free bool) {
		for i := 3; i < 6; i++ {
			v[i] /= h.lever
		}
		out[n] = Direction{Motion: v, Sigma: sigma, Free: free}
		n++
	}
	for _, v := range h.notHeld {
		put(v, 0, true)
	}
	values, vectors := eigen6(&h.covariance)
	for k := 5; k >= len(h.notHeld); k-- {
		put(vectors[k], math.Sqrt(max(values[k], 0)), false)
	}
	return out
}
