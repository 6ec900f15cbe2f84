package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"text/tabwriter"

	"shutline/deviation/closure"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

// The goals of closures.
const (
	closureLeast = 0.2  // mm, steps from here on are found
	closureMost  = 3.0  // mm
	closureError = 0.05 // mm, of 95 in 100
	closureCalls = 0.05 // of the scans without a step, of those called open
)

// closureTally is what a cell of closures came to.
type closureTally struct {
	scans, found, invented, held int
	within                       int       // by U
	shift, step                  []float64 // mm of error
}

// closureGoals moves the end of scans over the van's front by known motions and looks what is found.
func closureGoals(ctx context.Context, o trustOptions, w *tabwriter.Writer) (missed bool, err error) {
	fmt.Fprintln(w, "points mm\tnoise mm\tstep mm\tscans\tfound\tall held\tdisplacement error p50, p95 mm\twithin U\tstep error p95 mm\tinvented\tgoal")
	for k, c := range []struct {
		spacing, own, shared float64 // mm
		step                 bool
	}{{0.8, 0.02, 0.02, true}, {1.2, 0.03, 0.02, true}, {1.5, 0.03, 0.03, true}, {1.5, 0.05, 0, true}, {1.2, 0.03, 0.02, false}} {
		var t closureTally
		for run := range o.runs {
			random := rand.New(rand.NewPCG(o.seed, uint64(k)<<32|uint64(run)))
			if err := t.try(ctx, random, c.spacing, c.own, c.shared, c.step, o.threads); err != nil {
				return true, err
			}
		}
		size, goal := fmt.Sprintf("%g to %g", closureLeast, closureMost), fmt.Sprintf("all, p95 %g", closureError)
		bad := t.found < t.scans || percentile(t.shift, 0.95) > closureError
		if !c.step {
			size, goal = "none", fmt.Sprintf("invented %g", closureCalls)
			bad = float64(t.invented) > float64(closureCalls*float64(t.scans))
		}
		missed = missed || bad
		fmt.Fprintf(w, "%g\t%g, shared %g\t%s\t%d\t%d\t%d\t%.3f, %.3f\t%d\t%.4f\t%d\t%s%s\n", c.spacing, c.own, c.shared, size, t.scans, t.found, t.held,
			percentile(t.shift, 0.5), percentile(t.shift, 0.95), t.within, percentile(t.step, 0.95), t.invented, goal, map[bool]string{true: "  MISSED"}[bad])
		w.Flush()
	}
	invented, clean, err := closuresInvented(ctx, o)
	if err != nil {
		return true, err
	}
	fmt.Fprintf(w, "scans and drawings that lie nowhere over themselves\t%d of %d with a closure\tgoal 0\n", invented, clean)
	return missed || invented > 0, nil
}

// try moves the end of one scan and measures it.
func (t *closureTally) try(ctx context.Context, random *rand.Rand, spacing, own, shared float64, step bool, threads int) error {
	low := 150 + 500*random.Float64() // mm, where on the front
	s, err := scanpath.New(ctx, scanpath.Options{
		Seed: random.Uint64(), Still: true, Spacing: spacing, Noise: own, SharedNoise: shared, Threads: threads,
		Window: scanpath.Window{FromU: scanpath.Round - 260, ToU: 260, FromV: low, ToV: low + 500},
	}, nil)
	if err != nil {
		return err
	}
	p := &s.Pieces[0]
	middle, _ := s.Drawn.At(scanpath.Place{Sheet: scanpath.Wall, U: 0, V: low + 250})
	startFromEnd := geom.Identity()
	if step {
		direction := func() geom.Vec {
			return geom.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}
		}
		size := closureLeast * math.Pow(closureMost/closureLeast, random.Float64())
		startFromEnd = geom.RotationVector(direction().Scale(size / 2000))
		startFromEnd.T = middle.Add(direction().Unit().Scale(size)).Sub(startFromEnd.ApplyDir(middle))
	}
	endFromStart := startFromEnd.Inverse()
	for i := range p.Mesh.Vertices {
		if p.Places[i].U > scanpath.Round/2 {
			p.Mesh.Vertices[i] = endFromStart.Apply(p.Mesh.Vertices[i])
		}
	}
	r, err := closure.Find(ctx, p.Mesh, nil, closure.Options{Threads: threads}, nil)
	if err != nil {
		return err
	}
	t.scans++
	if len(r.Closures) != 1 {
		return nil
	}
	c := &r.Closures[0]
	if !c.Displacement.OK {
		return nil
	}
	t.found++
	for _, p := range c.Patches {
		if p.Step.OK {
			t.step = append(t.step, math.Abs(p.Step.V-endFromStart.Apply(p.At).Sub(p.At).Dot(p.N)))
		}
	}
	if !step && c.Displacement.V > c.Displacement.U+closureError {
		t.invented++
	}
	// What is not held has no number: the truth is that of the directions that are.
	truth := c.Centre.Sub(endFromStart.Apply(c.Centre))
	if len(c.Free) == 0 {
		t.held++
	} else {
		return nil
	}
	t.shift = append(t.shift, math.Abs(c.Displacement.V-truth.Norm()))
	if math.Abs(c.Displacement.V-truth.Norm()) <= c.Displacement.U {
		t.within++
	}
	return nil
}

// closuresInvented counts the closures found where there is none: pieces of the van, and the demo's scan and drawing.
func closuresInvented(ctx context.Context, o trustOptions) (invented, scans int, err error) {
	look := func(m *mesh.Mesh) error {
		r, err := closure.Find(ctx, m, nil, closure.Options{Threads: o.threads}, nil)
		if err != nil {
			return err
		}
		scans++
		if len(r.Closures) > 0 {
			invented++
		}
		return nil
	}
	for run := range o.runs {
		random := rand.New(rand.NewPCG(o.seed, 1<<40|uint64(run)))
		s, err := scanpath.New(ctx, scanpath.Options{
			Seed: random.Uint64(), Pieces: 3 + random.IntN(6), Triangles: 400_000, Threads: o.threads, SharedNoise: 0.03,
			Drift: scanpath.GoodScanner().Times(math.Pow(30, random.Float64())), FromMiddle: run%2 == 1,
		}, nil)
		if err != nil {
			return 0, 0, err
		}
		// A piece that holds both halves of the roof lies over itself in its middle.
		twice := map[int]bool{}
		for _, c := range s.Closings() {
			twice[c.Piece] = true
		}
		for i := range s.Pieces {
			if twice[i] {
				continue
			}
			if err := look(s.Pieces[i].Mesh); err != nil {
				return 0, 0, err
			}
		}
		if run < 3 {
			van, err := bodywork.Van(ctx, bodywork.Options{Seed: random.Uint64(), Threads: o.threads}, nil)
			if err != nil {
				return 0, 0, err
			}
			for _, m := range []*mesh.Mesh{van.Scan, van.Reference} {
				if err := look(m); err != nil {
					return 0, 0, err
				}
			}
		}
	}
	return invented, scans, nil
}
