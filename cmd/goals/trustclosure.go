package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"shutline/deviation/closure"
	"shutline/deviation/pieces"
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
	known                        []float64 // mm, what an efficient estimate of each displacement scatters by, see [bestKnown]
}

// overKnown is the error of the displacements, RMS, over what they may be off by: as an efficient estimate scatters, or as the goal has it
// where that is more. limit is what the ratio of an efficient estimate exceeds once in a hundred (chi-square).
func (t *closureTally) overKnown() (ratio, limit float64) {
	const within95 = 1.959963984540054
	var x []float64
	for i, e := range t.shift {
		x = append(x, e/max(t.known[i], closureError/within95))
	}
	n := max(len(x), 1)
	return rootMean(x), math.Sqrt(chiSquareOf(n, 0.01) / float64(n))
}

// closureGoals moves the end of scans over the van's front by known motions and looks what is found.
func closureGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	fmt.Fprintln(w, "points mm\tnoise mm\tstep mm\tscans\tfound\tall held\tstep error p95 mm\tdisplacement error p50, p95 mm\tp95 that noise allows mm\terror over allowed\twithin U\tinvented\tgoal")
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
		ratio, limit := t.overKnown()
		size, goal := fmt.Sprintf("%g to %g", closureLeast, closureMost), fmt.Sprintf("all, step p95 %g, displacement %g or as noise allows: ratio %.2f", closureError, closureError, limit)
		bad := t.found < t.scans || percentile(t.step, 0.95) > closureError || ratio > limit
		if !c.step {
			size, goal = "none", fmt.Sprintf("invented %g", closureCalls)
			bad = float64(t.invented) > float64(closureCalls*float64(t.scans))
		}
		missed = missed || bad
		fmt.Fprintf(w, "%g\t%g, shared %g\t%s\t%d\t%d\t%d\t%.4f\t%.3f, %.3f\t%.3f\t%.2f\t%d\t%d\t%s%s\n", c.spacing, c.own, c.shared, size, t.scans, t.found, t.held, percentile(t.step, 0.95),
			percentile(t.shift, 0.5), percentile(t.shift, 0.95), allowed95(t.known), ratio, t.within, t.invented, goal, missedMark(bad))
		w.Flush()
		at := fmt.Sprintf("points %g mm apart, noise %g mm and %g shared: ", c.spacing, c.own, c.shared)
		if c.step {
			o.judge(bad, at+fmt.Sprintf("steps of %s mm all found, 95 in 100 of them measured within %g mm, displacements within that or as noise allows (error over allowed at most %.2f)", size, closureError, limit),
				fmt.Sprintf("%d of %d found, within %.3f mm, %.2f", t.found, t.scans, percentile(t.step, 0.95), ratio))
		} else {
			o.judge(bad, at+fmt.Sprintf("without a step at most %.0f %% called open", 100*closureCalls), fmt.Sprintf("%d of %d", t.invented, t.scans))
		}
	}
	return missed, nil
}

// unclosedGoals looks for closures where there is none.
func unclosedGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	invented, clean, err := closuresInvented(ctx, o)
	if err != nil {
		return true, err
	}
	fmt.Fprintf(w, "scans and drawings that lie nowhere over themselves\t%d of %d with a closure\tgoal 0%s\n", invented, clean, missedMark(invented > 0))
	o.judge(invented > 0, "scans and drawings that lie nowhere over themselves: none with a closure", fmt.Sprintf("%d of %d", invented, clean))
	return invented > 0, nil
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
	t.known = append(t.known, bestKnown(p, c, truth, own, shared))
	if math.Abs(c.Displacement.V-truth.Norm()) <= c.Displacement.U {
		t.within++
	}
	return nil
}

// chiSquareOf returns what a chi-square of n degrees of freedom exceeds by the given chance.
func chiSquareOf(n int, chance float64) float64 {
	return bisected(10*float64(n)+10, func(x float64) bool { return pieces.ChiSquareTail(x, n) > chance })
}

// bisected returns where below stops holding, from 0 up to most.
func bisected(most float64, below func(x float64) bool) float64 {
	lo, hi := 0.0, most
	for range 60 {
		if mid := (lo + hi) / 2; below(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// bestKnown returns the standard deviation, mm, that no unbiased estimate of a displacement along its direction falls below, from the skin
// without noise and the noise that either skin has: own noise counts once a point, shared noise, whose correlation falls as exp(-d²/l²),
// once in π l² of area, as whatever holds a skin is much wider than l.
//
// Based on: Cramér, "Mathematical Methods of Statistics" (1946), 32.3; Rao (1945).
func bestKnown(p *scanpath.Piece, c *closure.Closure, displaced geom.Vec, own, shared float64) float64 {
	const lever = 300.0 // mm, about half the patch
	clean := &mesh.Mesh{Vertices: p.Clean, Faces: p.Mesh.Faces}
	var hold geom.Mat6
	area := 0.0
	for _, f := range c.Start {
		n, a := clean.AreaNormal(f), 0.0
		a, n = n.Norm()/2, n.Unit()
		x, y, z := clean.Corners(f)
		q := x.Add(y).Add(z).Scale(1.0 / 3).Sub(c.Centre).Scale(1 / lever).Cross(n)
		j := geom.Vec6{n.X, n.Y, n.Z, q.X, q.Y, q.Z}
		hold.AddOuter(a, &j, &j)
		area += a
	}
	perPoint := area / (float64(len(c.Start)) / 2) // a closed mesh has half as many points as faces
	density := 2 * (own*own*perPoint + shared*shared*math.Pi*scanpath.NoiseLength*scanpath.NoiseLength)
	d := displaced.Unit()
	along := geom.Vec6{d.X, d.Y, d.Z}
	variance := 0.0
	values, vectors := hold.Eigen()
	for k := range vectors {
		x := vectors[k].Dot(&along)
		variance += x * x * density / values[k]
	}
	return math.Sqrt(variance)
}

// allowed95 is what 95 in 100 errors are within that scatter by the given standard deviations, each about nothing.
func allowed95(sigmas []float64) float64 {
	return bisected(5*slices.Max(append([]float64{0}, sigmas...)), func(x float64) bool {
		beyond := 0.0
		for _, s := range sigmas {
			beyond += math.Erfc(x/(s*math.Sqrt2)) / float64(len(sigmas))
		}
		return beyond > 0.05
	})
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
			if twice[i] || slidOver(s, &s.Pieces[i]) {
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

// slidOver reports whether a piece's drift has brought its wall's rim over its roof, which lies beside it on the body: that
// surface does lie over itself, and drift is what a closure shows. Vertices within slidNear mm of one another in the scan tell it that lay farther apart by more than that.
func slidOver(s *scanpath.Scan, p *scanpath.Piece) bool {
	const slidNear = 10.0 // mm
	cell := func(v geom.Vec) [3]int {
		v = v.Scale(1 / slidNear)
		return [3]int{int(math.Floor(v.X)), int(math.Floor(v.Y)), int(math.Floor(v.Z))}
	}
	rim := map[[3]int][]int{}
	for i, at := range p.Places {
		if at.Sheet == scanpath.Wall && at.V > scanpath.WallTop-100 {
			c := cell(p.Mesh.Vertices[i])
			rim[c] = append(rim[c], i)
		}
	}
	slid := func(i, k int) bool {
		a, _ := s.Drawn.At(p.Places[i])
		b, _ := s.Drawn.At(p.Places[k])
		d := p.Mesh.Vertices[i].Dist(p.Mesh.Vertices[k])
		return d < slidNear && a.Dist(b) > d+slidNear
	}
	for i, at := range p.Places {
		if at.Sheet == scanpath.Wall {
			continue
		}
		c := cell(p.Mesh.Vertices[i])
		for near := range 27 {
			for _, k := range rim[[3]int{c[0] + near%3 - 1, c[1] + near/3%3 - 1, c[2] + near/9 - 1}] {
				if slid(i, k) {
					return true
				}
			}
		}
	}
	return false
}
