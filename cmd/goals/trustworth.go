package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/scanpath"
	"shutline/mesh/surface"
)

const (
	worthInside    = 0.95 // of the lengths' errors lie within U (k = 2), at the least
	worthTriangles = 60_000
	worthReach     = 30.0 // mm
)

// across are the lengths over the van that are measured: from front to rear, and from side to side. The first of each
// is known, as in the demo.
var across = []struct {
	u, v  float64
	sides bool
	known bool
}{
	{400, 700, false, true}, {3700, 500, true, true},
	{scanpath.Round - 400, 300, false, false}, {200, 600, false, false}, {1700, 600, true, false}, {2450, 500, true, false}, {3200, 700, true, false}, {4300, 600, true, false},
}

// worthTally is what the lengths of a scanner's scans came to.
type worthTally struct {
	errors, errorU []float64 // of known lengths: off the scan's true error by, and U of the error
	body, bodyU    []float64 // of lengths across the body: off the true length by, and U of the length
	found, inside  int       // of the errors
	within         int       // of the lengths
	lengths, known int
}

// worthGoals measures lengths of drifting scans of a whole van: the error of a known one is a finding about the scan, within its U of what the
// scanner truly made of the two places; a length is a statement about the body, within its U of what the body is.
func worthGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	ref, _, err := scanpath.Reference(ctx, worthTriangles, o.threads)
	if err != nil {
		return true, err
	}
	skin, err := surface.New(ctx, ref, o.threads, nil)
	if err != nil {
		return true, err
	}
	fmt.Fprintln(w, "scanner\tscans\tknown lengths\terrors off p50, p95 mm\tmedian U mm\twithin U\tlengths\toff the body p50, p95 mm\tmedian U mm\twithin U\tgoal")
	for k, scanner := range []struct {
		name string
		o    scanpath.Options
	}{
		{"good", scanpath.Options{Drift: scanpath.GoodScanner()}},
		{"good, loop closed", scanpath.Options{Drift: scanpath.GoodScanner(), LoopClosed: true}},
		{"poor", scanpath.Options{Drift: scanpath.PoorScanner()}},
	} {
		var t worthTally
		for run := range o.runs {
			random := rand.New(rand.NewPCG(o.seed, uint64(k)<<32|uint64(run)))
			options := scanner.o
			options.Seed, options.Still, options.Triangles, options.Noise, options.SharedNoise, options.Threads = random.Uint64(), true, worthTriangles, 0.03, 0.02, o.threads
			s, err := scanpath.New(ctx, options, nil)
			if err != nil {
				return true, err
			}
			if err := t.try(ctx, s, skin, o.threads); err != nil {
				return true, err
			}
		}
		bad := float64(t.inside) < float64(worthInside*float64(t.found)) || float64(t.within) < float64(worthInside*float64(t.lengths))
		missed = missed || bad
		fmt.Fprintf(w, "%s\t%d\t%d of %d\t%.3f, %.3f\t%.3f\t%d\t%d\t%.3f, %.3f\t%.3f\t%d\t%.0f %% within U%s\n", scanner.name, o.runs, t.found, t.known,
			percentile(t.errors, 0.5), percentile(t.errors, 0.95), percentile(t.errorU, 0.5), t.inside, t.lengths,
			percentile(t.body, 0.5), percentile(t.body, 0.95), percentile(t.bodyU, 0.5), t.within, 100*worthInside, missedMark(bad))
		w.Flush()
		o.judge(bad, fmt.Sprintf("%s scanner: at least %.0f %% of known lengths' errors, and of lengths of the body, within U", scanner.name, 100*worthInside), fmt.Sprintf("%d of %d, %d of %d", t.inside, t.found, t.within, t.lengths))
	}
	return missed, nil
}

// try measures the lengths of one scan, placed where the scanner began.
func (t *worthTally) try(ctx context.Context, s *scanpath.Scan, skin *surface.Surface, threads int) error {
	i := inspection.Default("scan.stl", "reference.stl")
	i.Scan.Travelled = s.Pieces[0].Path.Length
	i.Surface.Reach = worthReach
	var drawn, read []float64
	for k, a := range across {
		from := scanpath.Place{Sheet: scanpath.Wall, U: a.u, V: a.v}
		to := scanpath.Place{Sheet: scanpath.Wall, U: math.Mod(1.5*scanpath.Round-a.u, scanpath.Round), V: a.v}
		if a.sides {
			to.U = scanpath.Round - a.u
		}
		p, _ := s.Drawn.At(from)
		q, _ := s.Drawn.At(to)
		pc, okP := s.Carried(0, from)
		qc, okQ := s.Carried(0, to)
		if !okP || !okQ {
			return fmt.Errorf("length %d lies where the scan has no surface", k+1)
		}
		drawn, read = append(drawn, p.Dist(q)), append(read, pc.Dist(qc))
		i.Lengths = append(i.Lengths, inspection.Length{Name: fmt.Sprint(k + 1), From: p, To: q, HasKnown: a.known, Known: p.Dist(q), KnownU: 0.1})
	}
	m := s.Pieces[0].Mesh
	parts := &app.Parts{
		Scan: &meshio.Loaded{Mesh: m}, Reference: &meshio.Loaded{Mesh: skin.Mesh}, Mirrored: skin.Mesh, Surface: skin, ScanAreas: m.VertexAreas(),
	}
	placed := &app.Placed{Placement: align.Placement{ReferenceFromScan: geom.Identity()}, Mesh: m, Normals: m.VertexNormals()}
	settings := app.Settings{Threads: threads}
	compared, err := app.Compare(ctx, i, parts, placed, settings, nil)
	if err != nil {
		return err
	}
	r, err := app.LookForTrust(ctx, i, parts, placed, compared, settings, nil)
	if err != nil {
		return err
	}
	for k := range r.Lengths {
		l := &r.Lengths[k]
		if across[k].known {
			t.known++
		}
		if !l.Measured.OK {
			continue
		}
		if across[k].known {
			t.found++
			off := math.Abs(l.Error.V - (read[k] - drawn[k]))
			t.errors, t.errorU = append(t.errors, off), append(t.errorU, l.Error.U)
			if off <= l.Error.U {
				t.inside++
			}
		}
		t.lengths++
		off := math.Abs(l.Measured.V - drawn[k])
		t.body, t.bodyU = append(t.body, off), append(t.bodyU, l.Measured.U)
		if off <= l.Measured.U {
			t.within++
		}
	}
	return nil
}
