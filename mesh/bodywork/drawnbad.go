package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// BadKind is a kind of scan, seam or statement that is not as it should be, drawn by the seed.
type BadKind struct {
	Name       string
	Measurable bool // nothing of it hides what is asked for
	Make       func(seed uint64) *Trial
}

// bad makes a kind: change draws what is wrong of the joint, after of the trial.
func bad(name string, measurable bool, change func(s *source, o *JointOptions), after func(s *source, t *Trial, o *JointOptions, seed uint64)) BadKind {
	return BadKind{name, measurable, func(seed uint64) *Trial {
		s := keyed(seed, 'b')
		o := drawnJoint(&s, DrawnOptions{Radius: [2]float64{1, 3}, Noise: s.between(0.01, 0.08), Spacing: s.between(0.6, 1), Length: 300})
		o.Gap, o.Flush = s.even([2]float64{2, 8}), s.between(-2, 2)
		if change != nil {
			change(&s, &o)
		}
		t, _ := trial(o, seed)
		t.stateDrawn(&s, o, seed)
		t.Path = zigzag(&s, o.Length)
		if after != nil {
			after(&s, t, &o, seed)
		}
		return t
	}}
}

// BadKinds are what goes wrong with seams.
func BadKinds() []BadKind {
	return append([]BadKind{
		bad("chamfer, its wall undercut by 0 to 9 degrees", true, drawnChamfers(0.8, 2), nil),
		bad("deep chamfer", true, drawnChamfers(2, 4.5), nil),
		bad("chamfer on a coarse scan", false, func(s *source, o *JointOptions) {
			drawnChamfers(0.5, 2)(s, o)
			o.Spacing = s.between(1.5, 3)
		}, nil),
		bad("chamfer stated round or sharp", true, drawnChamfers(0.8, 2), func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			for k := range t.Form {
				if t.Form[k] == Chamfered {
					if t.Form[k] = SharpCorner; s.uniform() > 0 {
						t.Form[k], t.Radius[k] = Round, 1.5
					}
				}
			}
		}),
		bad("corner, its wall undercut by 0 to 9 degrees", true, drawnCorners, nil),
		bad("hem with a return of 5 to 25 mm", true, func(s *source, o *JointOptions) {
			for k := range o.Edge {
				o.Edge[k].Return = s.between(5, 25)
			}
			o.Width = s.between(30, 60)
		}, nil),
		bad("flange of 1 to 10 mm behind a roll", true, func(s *source, o *JointOptions) {
			for k := range o.Edge {
				o.Edge[k].Wall, o.Edge[k].Undercut = s.between(1, 10), s.between(0, 9)*math.Pi/180
			}
		}, nil),
		bad("flange of 1 to 10 mm that leans toward the other panel by up to 5 degrees", true, func(s *source, o *JointOptions) {
			for k := range o.Edge {
				o.Edge[k].Wall, o.Edge[k].Undercut = s.between(1, 10), -s.between(0, 5)*math.Pi/180
			}
		}, nil),
		bad("coarse scan", false, func(s *source, o *JointOptions) { o.Spacing = s.between(1.2, 4) }, nil),
		bad("little of the hems seen", false, func(s *source, o *JointOptions) {
			for k := range o.Edge {
				o.Edge[k].Seen = s.between(5, 60) * math.Pi / 180
			}
		}, nil),
		bad("radius stated wrong by up to 3 mm", true, nil, func(s *source, t *Trial, o *JointOptions, _ uint64) {
			t.Reference = nil
			for k := range t.Radius {
				t.Radius[k] = max(o.Edge[k].Radius+float64(3*s.uniform()), 0.3)
			}
		}),
		bad("panels of 5 to 20 mm", false, func(s *source, o *JointOptions) { o.Width = s.between(5, 20) }, nil),
		bad("scan across the gap, partly", false, nil, webAcross),
		bad("debris", true, levelFaces, func(_ *source, t *Trial, _ *JointOptions, seed uint64) { strewn(t, nil, seed) }),
		bad("seal or flange below", true, levelFaces, func(s *source, t *Trial, o *JointOptions, _ uint64) {
			deepest := 2 * max(o.Edge[0].Radius, o.Edge[1].Radius)
			r, x := s.between(1, min(2.5, o.Gap/2)), 0.0
			z := -deepest - r - s.between(0, 4)
			sheetOf(t, 1, 8, func(u float64) Point2 {
				sin, cos := geom.Sincos(math.Pi * (u - 0.5) * 0.9)
				return Point2{x + float64(r*sin), z + float64(r*cos)}
			})
		}),
		bad("seal between the noses", false, levelFaces, func(s *source, t *Trial, o *JointOptions, _ uint64) {
			r := s.between(0.5, max(0.6, o.Gap/2))
			z := -s.between(0, 3) - r
			sheetOf(t, 1, 8, func(u float64) Point2 {
				sin, cos := geom.Sincos(math.Pi * (u - 0.5) * 0.9)
				return Point2{r * sin, z + float64(r*cos)}
			})
		}),
		oneView("seen from one direction", false, nil),
		oneView("seen from one direction, a seal below", false, sealBelow),
		oneView("seen from one direction, edges mixed with a seal below", true, sealBelow),
		oneView("seen from one direction, edges mixed with a panel below", true, func(s *source, t *Trial, o *JointOptions) {
			h := min(0, o.Flush) - s.between(float64(2*max(o.Edge[0].Radius, o.Edge[1].Radius))+1, 25)
			sheetOf(t, 0.3, 66, func(u float64) Point2 { return Point2{-40 + float64(80*u), h} })
		}),
		bad("inner panel below", true, levelFaces, func(s *source, t *Trial, o *JointOptions, _ uint64) {
			h := -s.between(float64(2*max(o.Edge[0].Radius, o.Edge[1].Radius))+2, 25)
			sheetOf(t, 1.2, 66, func(u float64) Point2 { return Point2{-40 + float64(80*u), h} })
		}),
		bad("holes", true, nil, func(s *source, t *Trial, _ *JointOptions, seed uint64) { torn(s.between(0.02, 0.12))(t, nil, seed) }),
		bad("torn scan", false, nil, func(s *source, t *Trial, _ *JointOptions, seed uint64) { torn(s.between(0.2, 0.6))(t, nil, seed) }),
		bad("smoothed scan", true, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			t.Scan = Smoothed(t.Scan, s.between(0.2, 1), 1+int(s.between(0, 3)))
		}),
		bad("thinned where flat", true, nil, func(s *source, t *Trial, o *JointOptions, _ uint64) {
			t.Scan = Thinned(t.Scan, s.between(0.7, 2)*o.Noise, s.between(4, 12))
		}),
		bad("second wall", false, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			d := geom.Vec{X: s.between(-0.5, 0.5), Z: s.between(-0.6, 0.6)}
			t.Scan = Together(t.Scan, Mapped(t.Scan, func(v geom.Vec) geom.Vec { return v.Add(d) }))
		}),
		bad("third panel", true, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			side, at, wide := s.uniform() > 0, s.between(100, 200), s.between(2, 6)
			t.Scan = Without(t.Scan, func(c geom.Vec) bool { return (c.X > 0) == side && math.Abs(c.Y-at) < wide/2 })
		}),
		bad("path beside the seam", false, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			x, slope := s.between(-20, 20), s.between(-0.05, 0.05)
			t.Path = []geom.Vec{{X: x}, {X: x + float64(300*slope), Y: 300}}
		}),
		bad("path that turns back", false, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			x := s.between(-3, 3)
			t.Path = []geom.Vec{{}, {Y: s.between(100, 300)}, {X: x, Y: 20}}
		}),
		bad("path that crosses itself", false, nil, func(s *source, t *Trial, _ *JointOptions, _ uint64) {
			x := s.between(20, 35)
			t.Path = []geom.Vec{{}, {Y: 200}, {X: x, Y: 220}, {X: x, Y: 100}, {X: -x, Y: 60}}
		}),
	}, jutting()...)
}

// oneView makes a kind of scan from one direction, with a part of it below the gap where below makes one. Its rows run
// along the seam or turned to it by as much as 45 degrees, and no radius is stated. Mixed points are means over a spot of
// three tenths of their spacing to all of it.
func oneView(name string, mixed bool, below func(*source, *Trial, *JointOptions)) BadKind {
	const fine = 0.2 // mm between the samples that stand for the surface itself
	return bad(name, false, func(_ *source, o *JointOptions) {
		o.Noise, o.Spacing, o.Jitter, o.Length = 0, fine, 0, 200
	}, func(s *source, t *Trial, o *JointOptions, _ uint64) {
		if below != nil {
			below(s, t, o)
		}
		tilt, turn := s.between(-20, 20)*math.Pi/180, max(s.between(-45, 45), 0)*math.Pi/180
		sin, cos := geom.Sincos(tilt)
		sinTurn, cosTurn := geom.Sincos(turn)
		spacing, jump := s.between(0.4, 1), s.between(0.8, 10)
		spot := 0.0
		if mixed {
			spot = spacing * s.between(0.3, 1)
		}
		scan := OneView(t.Scan, geom.Vec{X: sin, Z: cos}, geom.Vec{X: sinTurn, Y: cosTurn}, spacing, jump, spot)
		t.Scan, t.Noise = noisy(scan, s.between(0.01, 0.06), s), 0
		t.Radius, t.Reference = [2]float64{}, nil
	})
}

// sealBelow lays a round seal below both panels.
func sealBelow(s *source, t *Trial, o *JointOptions) {
	r := float64(o.Gap/2*s.between(0.5, 1)) + 0.5
	z := min(0, o.Flush) - s.between(1, 5) - r
	sheetOf(t, 0.3, 8, func(u float64) Point2 {
		sin, cos := geom.Sincos(math.Pi * (u - 0.5))
		return Point2{r * sin, z + float64(r*cos)}
	})
}

// drawnChamfers makes one or both edges chamfers, cut so many mm along the face.
func drawnChamfers(from, to float64) func(*source, *JointOptions) {
	return func(s *source, o *JointOptions) {
		only := s.between(-1, 2)
		for k := range o.Edge {
			if only > 1 || (only > 0) == (k == 1) {
				cut := s.even([2]float64{from, to})
				o.Edge[k] = JointEdge{Form: Chamfered, Cut: cut, Fall: s.between(25, 60) * math.Pi / 180, Wall: s.between(1.5, 3), Undercut: s.between(0, 9) * math.Pi / 180}
			}
		}
	}
}

// drawnCorners makes one or both edges sharp.
func drawnCorners(s *source, o *JointOptions) {
	only := s.between(-1, 2)
	for k := range o.Edge {
		if only > 1 || (only > 0) == (k == 1) {
			o.Edge[k] = JointEdge{Form: SharpCorner, Wall: s.between(1.5, 4), Undercut: s.between(0, 9) * math.Pi / 180}
		}
	}
}

// levelFaces keeps panels in one plane, so that what lies on or below them does so everywhere.
func levelFaces(_ *source, o *JointOptions) { o.Flush, o.Angle, o.Curvature = 0, 0, [2]float64{} }

// webAcross spans the gap over a stretch of the seam, from a place on one roll to one on the other.
func webAcross(s *source, t *Trial, o *JointOptions, _ uint64) {
	from := s.between(0, 150)
	to := from + s.between(20, 150)
	x := [2]float64{float64(-o.Gap/2) - float64(0.3*o.Edge[0].Radius), float64(o.Gap/2) + float64(0.3*o.Edge[1].Radius)}
	h := -float64(0.3 * o.Edge[0].Radius)
	sag := s.between(0, 1.5)
	nv := int((to - from) / o.Spacing)
	nu := max(3, int((x[1]-x[0])/o.Spacing))
	strip := gridMesh(nu, nv, func(i, k int) geom.Vec {
		u := float64(i) / float64(nu)
		return geom.Vec{X: x[0] + float64((x[1]-x[0])*u), Y: from + float64((to-from)*float64(k)/float64(nv)), Z: h + float64(o.Flush*u) - float64(4*sag*u*(1-u)) + float64(o.Noise*s.normal())}
	})
	t.Scan = Together(t.Scan, strip)
}
