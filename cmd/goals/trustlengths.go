package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

// lengthInside is the least share of known lengths whose truth lies within U (k = 2).
const lengthInside = 0.9

// lengthGoals measures lengths between forms on scans with noise that neighbours share.
func lengthGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	fmt.Fprintln(w, "between\tlength mm\tnoise mm\tlengths\twith a number\terror p50, p95 mm\tmean error mm\tmedian U mm\twithin U\tgoal")
	ball := bodywork.SpherePatch(25, 1.1, 1.0)
	flat := bodywork.Plane(80, 80, 1.5)
	cap := bodywork.SpherePatch(500, 0.25, 1.5)
	move := func(m *mesh.Mesh, g geom.Rigid) *mesh.Mesh { return bodywork.Mapped(m, g.Apply) }
	over := func(p geom.Vec) geom.Rigid { return geom.Rigid{R: geom.Identity3(), T: p} }
	for k, c := range []struct {
		name   string
		truth  float64
		body   *mesh.Mesh
		ends   *[2]length.End
		axis   geom.Vec
		shared bool
	}{
		{"two spheres", 500, bodywork.Together(ball, move(ball, over(geom.Vec{X: 500}))), &[2]length.End{{Kind: length.Sphere, At: geom.Vec{X: 1, Y: 1}, Radius: 25}, {Kind: length.Sphere, At: geom.Vec{X: 499, Z: 1}, Radius: 25}}, geom.Vec{}, true},
		{"two planes", 1000, bodywork.Together(move(flat, geom.Rotation(geom.Vec{X: 1}, math.Pi)), move(flat, over(geom.Vec{Y: -80, Z: 1000}))), &[2]length.End{{Kind: length.Plane, At: geom.Vec{X: 40, Y: -40}, Radius: 30}, {Kind: length.Plane, At: geom.Vec{X: 40, Y: -40, Z: 1000}, Radius: 30}}, geom.Vec{}, true},
		{"extremes", 1000, bodywork.Together(cap, move(cap, geom.Rotation(geom.Vec{X: 1}, math.Pi))), nil, geom.Vec{Z: 1}, false},
	} {
		n, with, inside, mean := 10*o.runs, 0, 0, 0.0 // so many that 95 in 100 within U are not told as fewer than 90 by chance
		var errors, us []float64
		for run := range n {
			random := rand.New(rand.NewPCG(o.seed, uint64(k)<<32|uint64(run)))
			scan := bodywork.WithNoise(c.body, 0.03, random.Uint64())
			if c.shared {
				scan = bodywork.WithSmoothNoise(c.body, 0.03, 6, random.Uint64())
			}
			r, err := length.Measure(ctx, scan, length.Known{Ends: c.ends, Axis: c.axis, Length: c.truth}, length.Settings{Normals: scan.VertexNormals(), Threads: o.threads})
			if err != nil {
				return true, err
			}
			if !r.Measured.OK {
				continue
			}
			with++
			errors, us = append(errors, math.Abs(r.Error.V)), append(us, r.Measured.U)
			mean += r.Error.V
			if math.Abs(r.Error.V) <= r.Measured.U {
				inside++
			}
		}
		bad := with < n || float64(inside) < float64(lengthInside*float64(with))
		missed = missed || bad
		fmt.Fprintf(w, "%s\t%g\t0.03\t%d\t%d\t%.4f, %.4f\t%+.4f\t%.3f\t%d\t%.0f %%%s\n", c.name, c.truth, n, with, percentile(errors, 0.5), percentile(errors, 0.95),
			mean/float64(max(with, 1)), percentile(us, 0.5), inside, 100*lengthInside, missedMark(bad))
		w.Flush()
		o.judge(bad, fmt.Sprintf("%s, %g mm apart: all with a number, at least %.0f %% within U", c.name, c.truth, 100*lengthInside), fmt.Sprintf("%d of %d with a number, %d within U (median %.3f mm)", with, n, inside, percentile(us, 0.5)))
	}
	return missed, nil
}

// planOff is the most that a prediction may be off from the simulated scanners' root mean square, as a share of it.
const planOff = 0.35

// planScans is the fewest scans in a cell of plans: a root mean square of so many scatters by 5 %, of 20 by 16 %, and what is predicted from
// one of them beside another by half as much again.
const planScans = 200

// planGoals lays predictions of the next scan beside simulated scanners that walk a whole van.
func planGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	fmt.Fprintln(w, "scanner\tway\tfar end, simulated and predicted mm\tlength, simulated and predicted mm\tgoal")
	total := scanpath.NewPath(0, scanpath.Round).Length
	van := scanplan.Part{Length: scanpath.Length, Width: scanpath.Width, Height: 1400}
	for _, scanner := range []struct {
		name  string
		drift scanpath.Drift
	}{{"good", scanpath.GoodScanner()}, {"poor", scanpath.PoorScanner()}} {
		var growth scanplan.Growth
		for _, c := range []struct {
			name string
			o    scanpath.Options
			w    scanplan.Way
		}{
			{"in one go", scanpath.Options{}, scanplan.Way{Pieces: 1}},
			{"from the middle", scanpath.Options{FromMiddle: true}, scanplan.Way{Pieces: 1, Start: scanplan.InMiddle}},
			{"loop closed", scanpath.Options{LoopClosed: true}, scanplan.Way{Pieces: 1, Hold: scanplan.Loop}},
		} {
			far, long, n := 0.0, 0.0, max(10*o.runs, planScans)
			for run := range n {
				random := rand.New(rand.NewPCG(o.seed, uint64(run)))
				options := c.o
				options.Drift, options.Seed, options.Still, options.Noise, options.Triangles = scanner.drift, random.Uint64(), true, -1, 1000
				s, err := scanpath.New(ctx, options, nil)
				if err != nil {
					return true, err
				}
				f, l := walked(s, c.w.Hold == scanplan.Loop)
				far += f * f / float64(n)
				long += l * l / float64(n)
			}
			far, long = math.Sqrt(far), math.Sqrt(long)
			if c.name == "in one go" {
				growth = scanplan.Fit([]scanplan.Seen{{Path: total, Error: far}})
			}
			p := scanplan.Predict(van, &growth, c.w)
			bad := math.Abs(p.Length-long) > planOff*long || math.Abs(p.FarEnd-far) > planOff*far
			missed = missed || bad
			fmt.Fprintf(w, "%s\t%s\t%.2f, %.2f\t%.2f, %.2f\twithin %.0f %%%s\n", scanner.name, c.name, far, p.FarEnd, long, p.Length, 100*planOff, missedMark(bad))
			w.Flush()
			o.judge(bad, fmt.Sprintf("%s scanner, %s: error at the far end and over the length predicted within %.0f %%", scanner.name, c.name, 100*planOff), fmt.Sprintf("%+.0f %%, %+.0f %%", 100*(p.FarEnd/far-1), 100*(p.Length/long-1)))
		}
	}
	return missed, nil
}

// walked returns how far off the end of a scan lies, of a closed loop the place half way round, and by how much its length is wrong.
func walked(s *scanpath.Scan, closed bool) (far, long float64) {
	at := func(share float64) (q, truth geom.Vec) {
		p := scanpath.Place{Sheet: scanpath.Wall, U: share * scanpath.Round, V: scanpath.WallTop / 2}
		q, _ = s.Carried(0, p)
		truth, _ = s.Drawn.At(p)
		return q, truth
	}
	end, truth := at(1)
	a, pa := at(0)
	b, pb := at(0.5)
	if closed {
		end, truth = b, pb
	}
	return end.Dist(truth), a.Dist(b) - pa.Dist(pb)
}
