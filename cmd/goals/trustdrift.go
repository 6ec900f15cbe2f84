package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"shutline/deviation"
	"shutline/deviation/drift"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
	"shutline/mesh/surface"
)

// The goals of drift shapes.
const (
	driftLeast, driftMost = 0.3, 3.0 // mm over the body
	driftError            = 0.03     // mm, or
	driftShare            = 0.05     // of the size
	driftInside           = 0.90     // of the truths lie within U (k = 2), at the least
	falseAlarms           = 0.05     // of clean scans
	driftReach            = 10.0     // mm
	driftTriangles        = 60_000
	// sideTriangles leave the points of a side's scan 4.6 mm apart: fewer than scans have, as many as theory needs to allow the goal beside a wrong wing
	// where neighbours share noise over [sideShared]. With 50 thousand, 9 mm apart, one scan in ten would lie beyond it with any method.
	sideTriangles = 200_000
	cleanFactor   = 5 // as many scans for alarms as for sizes
)

// driftBody is a body that scans of are made.
type driftBody struct {
	name string
	ref  *surface.Surface
	// scan returns a scan of it in the reference's frame, with a wrong panel or without, and with panels that
	// deviate by some tenths of a millimetre of their own or do not.
	scan func(ctx context.Context, random *rand.Rand, wrong, own bool) (*mesh.Mesh, error)
	// wrongAt says whether a point of the reference lies on the panel that may be wrong; nil: a small one, which the bound may keep.
	wrongAt func(p geom.Vec) bool
	// sharedLength, mm, is how far the noise of neighbours is shared.
	sharedLength float64
}

// The noise of the scans, mm: of each point, and shared by neighbours.
const driftNoise, driftShared = 0.03, 0.02

// sideShared, mm, is how far neighbours on the side share noise.
const sideShared = 6.0

// cleanWithin, mm: what of a clean scan lies farther off the drawing is no part of it.
const cleanWithin = 0.2

// boundKnown, mm: a point tells where the drawing's facets tell as well where its skin is.
const boundKnown = 0.01

// bound returns the least standard deviations, on average over what is known beforehand, that estimates can have from a scan of the body, told which panel
// is wrong and how the noise is shared. Where the other shapes are nothing, as here, an estimate that expects them small does better.
func (b *driftBody) bound(ctx context.Context, o trustOptions, f *drift.Frame, wrong bool) (sd [drift.Kinds]float64, err error) {
	scan, err := b.scan(ctx, rand.New(rand.NewPCG(o.seed, 7)), false, false)
	if err != nil {
		return sd, err
	}
	facing := scan.VertexNormals()
	skin, near := b.ref.Skin(o.threads), b.ref.NewFinder()
	var points, normals []geom.Vec
	for i, p := range scan.Vertices {
		hit, ok := near.ClosestFacing(p, facing[i], 0.5, cleanWithin)
		if !ok || wrong && b.wrongAt != nil && b.wrongAt(p) {
			continue
		}
		_, n, _ := skin.At(hit.Face, hit.Point)
		if unsure, known := skin.Unsure(hit.Face, hit.Point); known && unsure <= boundKnown {
			points, normals = append(points, hit.Point), append(normals, n)
		}
	}
	return drift.Bound(f, points, normals, drift.Noise{Point: driftNoise, Shared: driftShared, Length: b.sharedLength}), nil
}

// goal measures a part of the goals.
type goal func(ctx context.Context, o trustOptions, w *steady) (missed bool, err error)

// driftGoals gives scans of a body a shape of a known size and looks what is found.
func driftGoals(which bodyNumber) goal {
	return func(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
		body, err := newDriftBody(ctx, which, o)
		if err != nil {
			return true, err
		}
		frame, err := body.frame(ctx, o)
		if err != nil {
			return true, err
		}
		var bounds [2][drift.Kinds]float64
		for k := range bounds {
			if bounds[k], err = body.bound(ctx, o, &frame, k == 1); err != nil {
				return true, err
			}
		}
		fmt.Fprintln(w, "body\tshape\twrong panel\tscans\theld\terror p50, p95 mm\tp95 by theory, mean over what is known beforehand\terror RMS mm, least by theory\tbeyond 5 % or 0.03 mm\tby theory\twithin U\tmedian U mm\tcalled seen\tothers called seen\tgoal")
		for k, kind := range []drift.Kind{drift.Twist, drift.BendMiddle, drift.BendShort, drift.ScaleLong} {
			for _, wrong := range []bool{false, true} {
				t := driftTally{bound: bounds[boolBit(wrong)][kind]}
				for run := range o.runs {
					random := rand.New(rand.NewPCG(o.seed, uint64(which)<<48|uint64(k)<<40|uint64(run)<<1|uint64(boolBit(wrong))))
					if err := t.try(ctx, random, &body, frame, kind, wrong, o.threads); err != nil {
						return true, err
					}
				}
				missed = t.row(w, body.name, kind, wrong) || missed
			}
		}
		return missed, nil
	}
}

// cleanGoals looks whether a drift is called in scans of a body that have none.
func cleanGoals(which bodyNumber) goal {
	return func(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
		body, err := newDriftBody(ctx, which, o)
		if err != nil {
			return true, err
		}
		fmt.Fprintln(w, "clean scans\tpanels' own shape\twrong panel\tscans\tcalled drifted\tof them the larger part\tset aside, mean\tgoal")
		for k, c := range [][2]bool{{false, false}, {true, false}, {false, true}, {true, true}} {
			n, drifted, mostly, aside := cleanFactor*o.runs, 0, 0, 0.0
			for run := range n {
				random := rand.New(rand.NewPCG(o.seed, 1<<60|uint64(which)<<48|uint64(k)<<40|uint64(run)))
				scan, err := body.scan(ctx, random, c[1], c[0])
				if err != nil {
					return true, err
				}
				r, err := body.explain(ctx, bodywork.Mapped(scan, smallMotion(random).Apply), o.threads)
				if err != nil {
					return true, err
				}
				aside += r.Aside / float64(n)
				if r.Drifted() {
					drifted++
					if r.TotalFollowing > 0.5 {
						mostly++
					}
				}
			}
			bad := float64(drifted) > float64(falseAlarms*float64(n))
			missed = missed || bad
			fmt.Fprintf(w, "%s\t%v\t%v\t%d\t%d\t%d\t%.3f\t%.0f%s\n", body.name, c[0], c[1], n, drifted, mostly, aside, falseAlarms*float64(n), missedMark(bad))
			w.Flush()
		}
		return missed, nil
	}
}

func boolBit(b bool) int {
	if b {
		return 1
	}
	return 0
}

func missedMark(bad bool) string {
	if bad {
		return "  MISSED"
	}
	return "  met"
}

// normal95 standard deviations hold 95 % of a normal variable.
const normal95 = 1.96

// driftTally is what a cell of shapes came to.
type driftTally struct {
	scans, held, beyond, inside, seen, others int
	errors, us                                []float64
	// bound, mm, is the least standard deviation that theory allows; unavoidable how many lie beyond the goal with it.
	bound, unavoidable float64
}

func (t *driftTally) row(w *steady, body string, kind drift.Kind, wrong bool) bool {
	bad := t.held > 0 && (float64(t.inside) < float64(driftInside*float64(t.held)) || float64(t.beyond) > 0.05*float64(t.held))
	fmt.Fprintf(w, "%s\t%s\t%v\t%d\t%d\t%.3f, %.3f\t%.3f\t%.4f, %.4f\t%d\t%.1f\t%d\t%.3f\t%d\t%d\tat most 5 %%, %.0f %% within U%s\n", body, kind, wrong, t.scans, t.held,
		percentile(t.errors, 0.5), percentile(t.errors, 0.95), normal95*t.bound, rootMean(t.errors), t.bound, t.beyond, t.unavoidable, t.inside, percentile(t.us, 0.5), t.seen, t.others, 100*driftInside, missedMark(bad))
	w.Flush()
	return bad
}

// try gives one scan a shape of 0.3 to 3 mm, either way, sizes spread evenly over their logarithm.
func (t *driftTally) try(ctx context.Context, random *rand.Rand, body *driftBody, f drift.Frame, kind drift.Kind, wrong bool, threads int) error {
	scan, err := body.scan(ctx, random, wrong, false)
	if err != nil {
		return err
	}
	size := driftLeast * math.Pow(driftMost/driftLeast, random.Float64())
	if random.IntN(2) == 0 {
		size = -size
	}
	moved := smallMotion(random)
	r, err := body.explain(ctx, bodywork.Mapped(scan, func(p geom.Vec) geom.Vec { return moved.Apply(shapedBy(f, kind, size, p)) }), threads)
	if err != nil {
		return err
	}
	t.scans++
	for k := range r.Terms {
		if x := &r.Terms[k]; x.Kind != kind && x.Seen {
			t.others++
		}
	}
	x := r.Terms[kind]
	if !r.OK || !x.Held {
		return nil
	}
	t.held++
	e := math.Abs(x.Size.V - size)
	t.errors, t.us = append(t.errors, e), append(t.us, x.Size.U)
	allowed := max(driftError, driftShare*math.Abs(size))
	if e > allowed {
		t.beyond++
	}
	t.unavoidable += math.Erfc(allowed / (math.Sqrt2 * t.bound))
	if e <= x.Size.U {
		t.inside++
	}
	if x.Seen {
		t.seen++
	}
	return nil
}

// shapedBy moves a point as a rod is turned, bent to a circle or made longer, by a size as [drift.Term.Size] has it.
func shapedBy(f drift.Frame, kind drift.Kind, size float64, p geom.Vec) geom.Vec {
	d := p.Sub(f.Centre)
	x, y, z := d.Dot(f.Axes[0]), d.Dot(f.Axes[1]), d.Dot(f.Axes[2])
	long := f.Size[0]
	switch kind {
	case drift.Twist:
		s, c := math.Sincos(size / (f.Size[1] / 2) * x / long)
		y, z = c*y-s*z, s*y+c*z
	case drift.BendMiddle, drift.BendShort:
		r := long * long / (8 * size)
		s, c := math.Sincos(x / r)
		h := &z
		if kind == drift.BendMiddle {
			h = &y
		}
		x, *h = (r-*h)*s, r-(r-*h)*c
	case drift.ScaleLong:
		x *= 1 + size/long
	}
	return f.Centre.AddScaled(x, f.Axes[0]).AddScaled(y, f.Axes[1]).AddScaled(z, f.Axes[2])
}

// smallMotion is what a placement may leave: up to 0.3 mm and 0.1 mrad.
func smallMotion(random *rand.Rand) geom.Rigid {
	v := func(s float64) geom.Vec {
		return geom.Vec{X: s * random.NormFloat64(), Y: s * random.NormFloat64(), Z: s * random.NormFloat64()}
	}
	g := geom.RotationVector(v(1e-4))
	g.T = v(0.2)
	return g
}

func (b *driftBody) explain(ctx context.Context, scan *mesh.Mesh, threads int) (*drift.Result, error) {
	n := scan.VertexNormals()
	field, err := deviation.Measure(ctx, scan, b.ref, deviation.Settings{Reach: driftReach, Normals: n, Threads: threads}, nil)
	if err != nil {
		return nil, err
	}
	return drift.Explain(ctx, drift.Input{Points: scan.Vertices, Normals: n, Areas: scan.VertexAreas(), Field: field, Surface: b.ref, Reach: driftReach, Faces: scan.Faces}, drift.Settings{Threads: threads}, nil)
}

// frame is what shapes stand about, of a scan without any.
func (b *driftBody) frame(ctx context.Context, o trustOptions) (drift.Frame, error) {
	scan, err := b.scan(ctx, rand.New(rand.NewPCG(o.seed, 7)), false, false)
	if err != nil {
		return drift.Frame{}, err
	}
	r, err := b.explain(ctx, scan, o.threads)
	if err != nil {
		return drift.Frame{}, err
	}
	if !r.OK {
		return drift.Frame{}, fmt.Errorf("%s: %s", b.name, r.Why)
	}
	return r.Frame, nil
}

// bodyNumber says which body is scanned.
type bodyNumber int

const (
	wholeVan bodyNumber = iota // whose door may stand proud
	vanSide                    // the left side of one, whose wing, a third of it, may be wrong
)

func newDriftBody(ctx context.Context, which bodyNumber, o trustOptions) (b driftBody, err error) {
	if which == vanSide {
		return newSide(ctx, o)
	}
	whole, _, err := scanpath.Reference(ctx, driftTriangles, o.threads)
	if err != nil {
		return b, err
	}
	b.name, b.sharedLength = "whole van", scanpath.NoiseLength
	if b.ref, err = surface.New(ctx, whole, o.threads, nil); err != nil {
		return b, err
	}
	b.scan = func(ctx context.Context, random *rand.Rand, wrong, own bool) (*mesh.Mesh, error) {
		s := scanpath.Options{Seed: random.Uint64(), Still: true, Triangles: driftTriangles, Noise: driftNoise, SharedNoise: driftShared, Threads: o.threads}
		if wrong {
			s.Fault.Door, s.Fault.Dent = 1+2*random.Float64(), 3
		}
		if own {
			for range 12 {
				s.Fault.Bulges = append(s.Fault.Bulges, scanpath.Bulge{
					U: scanpath.Round * random.Float64(), V: scanpath.WallTop * random.Float64(),
					Radius: 200 + 300*random.Float64(), Height: 0.2 * random.NormFloat64(),
				})
			}
		}
		scan, err := scanpath.New(ctx, s, nil)
		if err != nil {
			return nil, err
		}
		return scan.Pieces[0].Mesh, nil
	}
	return b, nil
}

func newSide(ctx context.Context, o trustOptions) (b driftBody, err error) {
	side, err := bodywork.Van(ctx, bodywork.Options{Size: sideTriangles, Seed: 1, Still: true}, nil)
	if err != nil {
		return b, err
	}
	b.name, b.sharedLength = "van's side", sideShared
	edge := side.Seams[0].Path // of wing and door, upward
	b.wrongAt = func(p geom.Vec) bool {
		for _, q := range edge {
			if q.Z >= p.Z {
				return p.X < q.X
			}
		}
		return p.X < edge[len(edge)-1].X
	}
	if b.ref, err = surface.New(ctx, side.Reference, o.threads, nil); err != nil {
		return b, err
	}
	b.scan = func(ctx context.Context, random *rand.Rand, wrong, own bool) (*mesh.Mesh, error) {
		job, err := bodywork.Van(ctx, bodywork.Options{Size: sideTriangles, Seed: random.Uint64(), Perfect: !wrong, Still: true, Threads: o.threads}, nil)
		if err != nil {
			return nil, err
		}
		scan := bodywork.WithSmoothNoise(job.Scan, driftShared, sideShared, random.Uint64())
		if own {
			scan = waved(scan, random)
		}
		return scan, nil
	}
	return b, nil
}

// waved gives a side's panels shapes of their own: a few waves 0.4 to 0.9 m long of 0.1 mm.
func waved(m *mesh.Mesh, random *rand.Rand) *mesh.Mesh {
	type wave struct{ kx, kz, phase, size float64 }
	var waves []wave
	for range 6 {
		a, l := 2*math.Pi*random.Float64(), 400+500*random.Float64()
		waves = append(waves, wave{2 * math.Pi / l * math.Cos(a), 2 * math.Pi / l * math.Sin(a), 2 * math.Pi * random.Float64(), 0.06 * random.NormFloat64()})
	}
	return bodywork.Mapped(m, func(p geom.Vec) geom.Vec {
		h := 0.0
		for _, w := range waves {
			h += w.size * math.Sin(w.kx*p.X+w.kz*p.Z+w.phase)
		}
		return p.Add(geom.Vec{Y: -h})
	})
}
