package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// jutting are seams one of whose rolls is seen to a bead of sealant that lies on it, or to a ledge below it. The truth is the panel's.
func jutting() []BadKind {
	partly := func(from, to float64) func(*source, *JointOptions) {
		return func(s *source, o *JointOptions) {
			levelFaces(s, o)
			k := 0
			if s.uniform() > 0 {
				k = 1
			}
			o.Edge[k].Seen = s.between(from, to) * math.Pi / 180
		}
	}
	return []BadKind{
		bad("bead of sealant on a roll", false, partly(25, 75), func(s *source, t *Trial, o *JointOptions, _ uint64) {
			k, roll := seenPartly(o)
			e := &o.Edge[k]
			// The bead's outline is a circle about a place on the roll, from where the roll is hidden by it on.
			b := s.between(0.3, 0.6) * e.Radius
			q := b / (2 * e.Radius)
			half := 2 * geom.Atan2(q, math.Sqrt(1-float64(q*q)))
			phi := e.Seen + half
			c, last := roll(phi), roll(phi+half)
			first := roll(e.Seen)
			from, to := geom.Atan2(first.H-c.H, first.S-c.S), geom.Atan2(last.H-c.H, last.S-c.S)
			turn := to - from // outward, away from the roll's middle
			if k == 0 && turn > 0 {
				turn -= 2 * math.Pi
			} else if k == 1 && turn < 0 {
				turn += 2 * math.Pi
			}
			stripOn(s, t, o, k, math.Abs(turn)*b, func(u float64) Point2 {
				sin, cos := geom.Sincos(from + float64(u*turn))
				return Point2{c.S + float64(b*cos), c.H + float64(b*sin)}
			})
			const to150 = 150 * math.Pi / 180
			stripOn(s, t, o, k, e.Radius*(to150-phi-half), func(u float64) Point2 { return roll(phi + half + float64((to150-phi-half)*u)) })
		}),
		bad("ledge below a roll", false, partly(35, 75), func(s *source, t *Trial, o *JointOptions, _ uint64) {
			k, roll := seenPartly(o)
			at := roll(o.Edge[k].Seen)
			out := float64(s.between(0.3, 0.8) * o.Gap)
			const deep = 3.0 // mm, below the ledge
			side := float64(1 - 2*k)
			stripOn(s, t, o, k, out+deep, func(u float64) Point2 {
				l := float64(u * (out + deep))
				return Point2{at.S + float64(side*min(l, out)), at.H - max(0, l-out)}
			})
		}),
	}
}

// seenPartly is the side whose roll is seen to a part only, and where its points lie, radians on from the shoulder.
func seenPartly(o *JointOptions) (k int, roll func(phi float64) Point2) {
	if o.Edge[1].Seen > 0 {
		k = 1
	}
	r, side := o.Edge[k].Radius, float64(1-2*k)
	return k, func(phi float64) Point2 {
		sin, cos := geom.Sincos(phi)
		return Point2{-side * (float64(o.Gap/2) + float64(r*(1-sin))), -r * (1 - cos)}
	}
}

// stripOn adds what is so many mm wide in the section, at(u) leading down and away from side k, with the joint's noise.
func stripOn(s *source, t *Trial, o *JointOptions, k int, wide float64, at func(u float64) Point2) {
	across := int(math.Round(wide / o.Spacing))
	if across < 1 {
		return
	}
	along := int(o.Length / o.Spacing)
	strip := gridMesh(across, along, func(i, l int) geom.Vec {
		if k == 1 {
			i = across - i
		}
		p := at(float64(i) / float64(across))
		return geom.Vec{X: p.S, Y: o.Length * float64(l) / float64(along), Z: p.H}
	})
	t.Scan = Together(t.Scan, noisy(strip, o.Noise, s))
}
