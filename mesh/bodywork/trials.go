package bodywork

import (
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Trial is a scanned seam with what is stated of it and what must be found.
type Trial struct {
	Scan, Reference *mesh.Mesh // Reference may be nil
	Path            []geom.Vec
	Every           float64    // mm
	Form            [2]Form    // as stated
	Radius          [2]float64 // mm, as stated; 0: not stated
	Noise           float64    // mm, as stated; 0: not stated
	Gap, Flush      float64    // mm, at every station
}

// TrialKind is a kind of seam; each seed makes another scan of it.
type TrialKind struct {
	Name string
	Make func(seed uint64) *Trial
}

// TrialRow gathers kinds of one sort.
type TrialRow struct {
	Name  string
	Kinds []TrialKind
}

const trialLength = 500.0 // mm

func hem(r float64) JointEdge { return JointEdge{Form: Round, Radius: r} }

func corner() JointEdge { return JointEdge{Form: SharpCorner, Wall: 3, Undercut: 0.03} }

func chamfer() JointEdge {
	return JointEdge{Form: Chamfered, Cut: 1.2, Fall: math.Pi / 4, Wall: 2.5, Undercut: 0.03}
}

// usual is a pair of hems of 1.5 mm, 4 mm apart, as a good scan shows it.
func usual() JointOptions {
	return JointOptions{
		Edge: [2]JointEdge{hem(1.5), hem(1.5)}, Gap: 4, Flush: 0.4, Length: trialLength, Width: 40,
		Spacing: 1.2, Noise: 0.03, Jitter: 0.3,
	}
}

// trial scans a joint; what is stated of it is true.
func trial(o JointOptions, seed uint64) (*Trial, *Joint) {
	o.Seed = seed
	j := NewJoint(o)
	t := &Trial{Scan: j.Mesh, Path: j.Path, Every: 25, Gap: j.Gap, Flush: j.Flush}
	for k, e := range o.Edge {
		t.Form[k], t.Radius[k] = e.Form, e.Radius
	}
	return t, j
}

// kind is a joint changed from the usual one, its scan and what is stated then changed by after.
func kind(name string, change func(*JointOptions), after ...func(*Trial, *Joint, uint64)) TrialKind {
	return TrialKind{name, func(seed uint64) *Trial {
		o := usual()
		if change != nil {
			change(&o)
		}
		t, j := trial(o, seed)
		for _, f := range after {
			f(t, j, seed)
		}
		return t
	}}
}

func same(*JointOptions) {}

// Trials are the kinds of seams that stations are tried on.
func Trials() []TrialRow {
	return []TrialRow{
		{"two hems", []TrialKind{
			kind("radius stated", same),
			kind("radius not stated", same, unstated),
			kind("radius from a reference", same, drawn(usual())),
		}},
		{"unequal hems", unequalHems()},
		{"chamfer and corner", []TrialKind{
			kind("chamfer to hem", func(o *JointOptions) { o.Edge[0] = chamfer() }),
			kind("hem to chamfer", func(o *JointOptions) { o.Edge[1] = chamfer() }),
			kind("two chamfers", func(o *JointOptions) { o.Edge = [2]JointEdge{chamfer(), chamfer()} }),
			kind("corner to hem", func(o *JointOptions) { o.Edge[0] = corner() }),
			kind("two corners", func(o *JointOptions) { o.Edge = [2]JointEdge{corner(), corner()} }),
			kind("small chamfer, fine", func(o *JointOptions) {
				o.Edge[0] = chamfer()
				o.Edge[0].Cut, o.Spacing = 0.6, 0.5
			}),
		}},
		{"faces at an angle", over([]float64{-10, -5, -2, 2, 5, 10}, "%g degrees", func(o *JointOptions, v float64) { o.Angle = v * math.Pi / 180 })},
		{"gap", over([]float64{1, 2, 6, 8, 12}, "%g mm", func(o *JointOptions, v float64) { o.Gap = v })},
		{"flush", over([]float64{-5, -3, -1, 1, 3, 5}, "%g mm", func(o *JointOptions, v float64) { o.Flush = v })},
		{"overlap", []TrialKind{
			kind("1 mm", func(o *JointOptions) { o.Gap, o.Flush = -1, 4 }),
			kind("3 mm", func(o *JointOptions) { o.Gap, o.Flush = -3, 4.5 }),
			kind("2 mm, A above", func(o *JointOptions) { o.Gap, o.Flush = -2, -4 }),
		}},
		{"bent faces", over([]float64{300, 700, 1500, -1000}, "radius %g mm", func(o *JointOptions, v float64) { o.Curvature = [2]float64{1 / v, 1 / v} })},
		{"bent on one side", over([]float64{700, -1000}, "radius %g mm", func(o *JointOptions, v float64) { o.Curvature = [2]float64{0, 1 / v} })},
		{"path drawn slantwise", slantwise()},
		{"round a wheel arch", arches()},
		{"corner of three panels", []TrialKind{
			kind("A ends", same, cornerOfThree(0)), kind("B ends", same, cornerOfThree(1)),
		}},
		{"noise", noises()},
		{"point spacing", over([]float64{0.5, 0.8, 1.45, 1.8}, "%g mm", func(o *JointOptions, v float64) { o.Spacing = v })},
		{"nose seen part of the way", over([]float64{30, 40, 50, 60, 75, 90}, "%g degrees", func(o *JointOptions, v float64) {
			o.Edge[0].Seen, o.Edge[1].Seen = v*math.Pi/180, v*math.Pi/180
		})},
		{"hem with a long return", over([]float64{7, 13, 20}, "%g mm", func(o *JointOptions, v float64) { o.Edge[0].Return, o.Edge[1].Return = v, v })},
		{"other things scanned", otherThings()},
		{"holes", []TrialKind{kind("a tenth of the faces", same, torn(0.1)), kind("round ones", same, pierced)}},
		{"smoothed scan", smoothedScans()},
		{"edge of another form than stated", otherForms()},
		{"radius stated wrong", wrongRadii()},
	}
}

func over(values []float64, name string, set func(*JointOptions, float64)) (out []TrialKind) {
	for _, v := range values {
		out = append(out, kind(fmt.Sprintf(name, v), func(o *JointOptions) { set(o, v) }))
	}
	return out
}

func unstated(t *Trial, _ *Joint, _ uint64) { t.Radius = [2]float64{} }

// drawn gives the trial a reference, from which the radius then comes.
func drawn(o JointOptions) func(*Trial, *Joint, uint64) {
	return func(t *Trial, _ *Joint, _ uint64) {
		o.Noise, o.Jitter, o.Spacing = 0, 0, 0.8
		t.Reference, t.Radius = NewJoint(o).Mesh, [2]float64{}
	}
}

func unequalHems() (out []TrialKind) {
	for _, r := range [][2]float64{{0.5, 5}, {5, 0.5}, {0.8, 3}, {1, 2.5}, {3, 5}} {
		out = append(out, kind(fmt.Sprintf("%g and %g mm", r[0], r[1]), func(o *JointOptions) {
			o.Edge = [2]JointEdge{hem(r[0]), hem(r[1])}
			o.Spacing = min(1.2, 0.8*min(r[0], r[1]))
		}))
	}
	return out
}

func slantwise() (out []TrialKind) {
	for _, degrees := range []float64{5, 10, 20} {
		out = append(out, kind(fmt.Sprintf("%g degrees", degrees), same, func(t *Trial, _ *Joint, _ uint64) {
			// Short legs that cross the seam's middle, zigzag, so that each stays near it.
			t.Path = nil
			d := 5.0
			leg := 2 * d / geom.Tan(degrees*math.Pi/180)
			for i, y := 0, 0.0; y <= trialLength; i, y = i+1, y+leg {
				x := d
				if i%2 == 1 {
					x = -d
				}
				t.Path = append(t.Path, geom.Vec{X: x, Y: y})
			}
		}))
	}
	return out
}

// arches bend a joint in the skin about a wheel and over a crown.
func arches() (out []TrialKind) {
	for _, r := range []float64{250, 400} {
		for _, way := range []string{"A inside", "B inside", "over a crown"} {
			out = append(out, kind(fmt.Sprintf("radius %g mm, %s", r, way), same, func(t *Trial, _ *Joint, _ uint64) {
				bend := func(v geom.Vec) geom.Vec {
					s, c := geom.Sincos(v.Y / r)
					switch way {
					case "A inside":
						return geom.Vec{X: float64((r+v.X)*c) - r, Y: (r + v.X) * s, Z: v.Z}
					case "B inside":
						return geom.Vec{X: r - float64((r-v.X)*c), Y: (r - v.X) * s, Z: v.Z}
					}
					return geom.Vec{X: v.X, Y: (r + v.Z) * s, Z: float64((r+v.Z)*c) - r}
				}
				t.Scan = Mapped(t.Scan, bend)
				t.Path = nil
				for y := 0.0; y <= trialLength; y += 12.5 {
					t.Path = append(t.Path, bend(geom.Vec{Y: y}))
				}
			}))
		}
	}
	return out
}

// cornerOfThree parts a side in two by a gap of 4 mm in the middle of the seam.
func cornerOfThree(side int) func(*Trial, *Joint, uint64) {
	return func(t *Trial, _ *Joint, _ uint64) {
		t.Scan = Without(t.Scan, func(c geom.Vec) bool {
			return (c.X > 0) == (side == 1) && math.Abs(c.Y-trialLength/2) < 2
		})
	}
}

func noises() (out []TrialKind) {
	for _, n := range []float64{0.005, 0.01, 0.06, 0.1} {
		out = append(out, kind(fmt.Sprintf("%g mm", n), func(o *JointOptions) { o.Noise = n }),
			kind(fmt.Sprintf("%g mm, stated", n), func(o *JointOptions) { o.Noise = n }, func(t *Trial, _ *Joint, _ uint64) { t.Noise = n }))
	}
	return out
}

// sheetOf adds a strip along the seam: at(u) leads across it, u from 0 to 1, its
// faces looking to the left of the way it goes.
func sheetOf(t *Trial, spacing float64, across int, at func(u float64) Point2) {
	nv := int(trialLength / spacing)
	strip := gridMesh(across, nv, func(i, k int) geom.Vec {
		p := at(float64(i) / float64(across))
		return geom.Vec{X: p.S, Y: trialLength * float64(k) / float64(nv), Z: p.H}
	})
	t.Scan = Together(t.Scan, strip)
}

func otherThings() []TrialKind {
	flat := func(from, to, h float64) func(*Trial, *Joint, uint64) {
		return func(t *Trial, _ *Joint, _ uint64) {
			sheetOf(t, 1.2, max(2, int(math.Abs(to-from)/1.2)), func(u float64) Point2 { return Point2{from + float64((to-from)*u), h} })
		}
	}
	seal := func(x, z, r float64) func(*Trial, *Joint, uint64) {
		return func(t *Trial, _ *Joint, _ uint64) {
			sheetOf(t, 1, 8, func(u float64) Point2 {
				s, c := geom.Sincos(math.Pi * (u - 0.5) * 0.9)
				return Point2{x + float64(r*s), z + float64(r*c)}
			})
		}
	}
	wide := func(o *JointOptions) { o.Gap = 6 }
	return []TrialKind{
		kind("debris", same, strewn),
		kind("inside of A's sheet", same, flat(-6, -40, -0.8)), // walked back: looks inward
		kind("inner panel 15 mm below", same, flat(-40, 40, -15)),
		kind("inner panel 8 mm below", same, flat(-40, 40, -8)),
		kind("flange in the gap", same, flat(-2.5, 2.5, -7)),
		kind("flange close below", wide, flat(-2, 2, -4)),
		kind("seal in the gap", wide, seal(0, -5, 2)),
		kind("seal close below", wide, seal(0.5, -3.5, 2)),
		kind("seal on B's wall", wide, seal(2.2, -5, 1.5)),
	}
}

// strewn lays crumbs on the panels and in the gap.
func strewn(t *Trial, _ *Joint, seed uint64) {
	random := keyed(seed, 'd')
	parts := []*mesh.Mesh{t.Scan}
	for range int(trialLength) / 8 {
		x, y, z := 16*random.uniform(), trialLength/2+float64(trialLength/2*random.uniform()), 0.0
		if math.Abs(x) < 3 {
			z = -2 + float64(1.5*random.uniform())
		}
		size := 0.5 + float64(0.4*random.uniform())
		crumb := gridMesh(3, 3, func(i, k int) geom.Vec {
			u, v := float64(i)/1.5-1, float64(k)/1.5-1
			return geom.Vec{X: x + float64(size*u), Y: y + float64(size*v), Z: z + 0.2 + float64(size*max(0, 1-float64(u*u)-float64(v*v)))}
		})
		parts = append(parts, crumb)
	}
	t.Scan = Together(parts...)
}

func torn(share float64) func(*Trial, *Joint, uint64) {
	return func(t *Trial, _ *Joint, seed uint64) {
		random := keyed(seed, 'h')
		t.Scan = Without(t.Scan, func(geom.Vec) bool { return random.uniform() < 2*share-1 })
	}
}

// pierced makes a hole of 5 mm in each face zone at every other station.
func pierced(t *Trial, _ *Joint, _ uint64) {
	t.Scan = Without(t.Scan, func(c geom.Vec) bool {
		x, y := math.Abs(c.X)-10, math.Abs(c.Y-float64(50*math.Round(c.Y/50)))-12.5
		return float64(x*x)+float64(y*y) < 2.5*2.5
	})
}

func smoothedScans() (out []TrialKind) {
	for _, c := range []struct {
		share   float64
		passes  int
		spacing float64
		noise   float64
		radius  float64
		stated  bool
	}{
		{1, 1, 1.2, 0.03, 1.5, true}, {1, 1, 1.2, 0.03, 1.5, false}, {1, 1, 1.2, 0.01, 1.5, true}, {0.5, 1, 1.2, 0.03, 1.5, true}, {0.5, 3, 1.2, 0.03, 1.5, true},
		{1, 1, 0.8, 0.03, 1.5, true}, {1, 1, 0.8, 0.03, 1, true}, {1, 2, 0.8, 0.05, 2, true}, {1, 1, 1.2, 0.06, 2.5, true},
	} {
		name := fmt.Sprintf("%g of the way, %d passes, spacing %g, noise %g, radius %g", c.share, c.passes, c.spacing, c.noise, c.radius)
		after := []func(*Trial, *Joint, uint64){func(t *Trial, _ *Joint, _ uint64) { t.Scan = Smoothed(t.Scan, c.share, c.passes) }}
		if !c.stated {
			name += " not stated"
			after = append(after, unstated)
		}
		out = append(out, kind(name, func(o *JointOptions) {
			o.Edge, o.Spacing, o.Noise = [2]JointEdge{hem(c.radius), hem(c.radius)}, c.spacing, c.noise
		}, after...))
	}
	once := func(t *Trial, _ *Joint, _ uint64) { t.Scan = Smoothed(t.Scan, 1, 1) }
	return append(out,
		kind("two chamfers", func(o *JointOptions) { o.Edge, o.Spacing = [2]JointEdge{chamfer(), chamfer()}, 0.8 }, once),
		kind("two corners", func(o *JointOptions) { o.Edge, o.Spacing = [2]JointEdge{corner(), corner()}, 0.8 }, once),
		kind("reference", same, once, drawn(usual())),
		kind("seen to 60 degrees", func(o *JointOptions) { o.Edge[0].Seen, o.Edge[1].Seen = math.Pi/3, math.Pi/3 }, once),
		kind("without noise, seen to 70 degrees", func(o *JointOptions) {
			o.Edge[0].Seen, o.Edge[1].Seen, o.Noise, o.Spacing = 7*math.Pi/18, 7*math.Pi/18, 0, 0.6
		}, once, once),
		kind("noise stated", same, once, func(t *Trial, _ *Joint, _ uint64) { t.Noise = 0.03 }),
		kind("faces of radius 700 mm", func(o *JointOptions) { o.Curvature = [2]float64{1 / 700.0, 1 / 700.0} }, once))
}

func otherForms() (out []TrialKind) {
	names := [...]string{"round", "chamfered", "sharp"}
	for is, e := range []JointEdge{hem(1.5), chamfer(), corner()} {
		for said := Round; said <= SharpCorner; said++ {
			if said == e.Form {
				continue
			}
			for _, r := range []float64{0, 1.5} {
				if r != 0 && said != Round {
					continue
				}
				name := fmt.Sprintf("%s, stated %s", names[is], names[said])
				if r != 0 {
					name += fmt.Sprintf(" of %g mm", r)
				}
				out = append(out, kind(name, func(o *JointOptions) { o.Edge[0] = e }, func(t *Trial, _ *Joint, _ uint64) {
					t.Form[0], t.Radius[0] = said, r
				}))
			}
		}
	}
	out = append(out,
		kind("round of 0.8 mm, stated sharp, fine", func(o *JointOptions) { o.Edge[0], o.Spacing = hem(0.8), 0.6 }, func(t *Trial, _ *Joint, _ uint64) { t.Form[0] = SharpCorner }),
		kind("round of 0.4 mm, stated sharp, fine", func(o *JointOptions) { o.Edge[0], o.Spacing = hem(0.4), 0.6 }, func(t *Trial, _ *Joint, _ uint64) { t.Form[0] = SharpCorner }),
		kind("round of 2.5 mm, stated sharp", func(o *JointOptions) { o.Edge[0] = hem(2.5) }, func(t *Trial, _ *Joint, _ uint64) { t.Form[0] = SharpCorner }),
		kind("round, seen to 60 degrees, stated sharp", func(o *JointOptions) { o.Edge[0].Seen = math.Pi / 3 }, func(t *Trial, _ *Joint, _ uint64) { t.Form[0] = SharpCorner }),
		kind("both round, stated sharp", same, func(t *Trial, _ *Joint, _ uint64) { t.Form = [2]Form{SharpCorner, SharpCorner} }),
		kind("both round, stated chamfered", same, func(t *Trial, _ *Joint, _ uint64) { t.Form = [2]Form{Chamfered, Chamfered} }),
		kind("both sharp, stated round", func(o *JointOptions) { o.Edge = [2]JointEdge{corner(), corner()} }, func(t *Trial, _ *Joint, _ uint64) { t.Form = [2]Form{} }),
		kind("both chamfered, stated round", func(o *JointOptions) { o.Edge = [2]JointEdge{chamfer(), chamfer()} }, func(t *Trial, _ *Joint, _ uint64) { t.Form = [2]Form{} }))
	return out
}

func wrongRadii() (out []TrialKind) {
	for _, off := range []float64{-0.5, -0.3, -0.2, 0.2, 0.3, 0.5} {
		for _, seen := range []float64{180, 60} {
			out = append(out, kind(fmt.Sprintf("by %+g mm, seen to %g degrees", off, seen), func(o *JointOptions) {
				if seen < 180 {
					o.Edge[0].Seen, o.Edge[1].Seen = seen*math.Pi/180, seen*math.Pi/180
				}
			}, func(t *Trial, _ *Joint, _ uint64) {
				for k := range t.Radius {
					t.Radius[k] += off
				}
			}))
		}
		o := usual()
		o.Edge = [2]JointEdge{hem(1.5 + off), hem(1.5 + off)}
		out = append(out, kind(fmt.Sprintf("reference's by %+g mm", off), same, drawn(o)))
	}
	for _, c := range []struct{ radius, times, seen float64 }{{3, 2, 50}, {3, 0.3, 180}, {2, 1.7, 56}} {
		out = append(out, kind(fmt.Sprintf("%g mm, %g times as large, seen to %g degrees", c.radius, c.times, c.seen), func(o *JointOptions) {
			for k := range o.Edge {
				o.Edge[k] = JointEdge{Form: Round, Radius: c.radius, Seen: c.seen * math.Pi / 180}
			}
			o.Spacing, o.Gap = 0.8, 6
		}, func(t *Trial, _ *Joint, _ uint64) { t.Radius[0] *= c.times }))
	}
	for _, times := range []float64{3, 10} { // a point that was left out
		out = append(out, kind(fmt.Sprintf("%g times too large", times), same, func(t *Trial, _ *Joint, _ uint64) {
			for k := range t.Radius {
				t.Radius[k] *= times
			}
		}))
	}
	return out
}
