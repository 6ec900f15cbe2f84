package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"shutline/deviation/pieces"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

// The goals of pieces.
const (
	shapeTimes   = 3.0  // times the residual that noise explains: different shape is called from here on
	shapeCalled  = 0.95 // of them
	shapeInvent  = 0.05 // of the pairs of the same shape, of those called different
	loopOverGoal = 1.5  // times what the pieces' own drift allows
	allowedScans = 60   // scans without noise that tell what drift allows
	placeInside  = 0.90 // of the pieces' places lie within U, at the least
	placeWide    = 1.5  // times the 95th percentile of the errors: U is no more on average
	joinSeconds  = 20.0
	joinPieces   = 6
)

// pieceGoals joins rounds of pieces and measures how long the large ones take.
func pieceGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	for _, part := range []func(context.Context, trustOptions, *steady) (bool, error){loopGoals, joinTime} {
		m, err := part(ctx, o, w)
		if err != nil {
			return true, err
		}
		missed = missed || m
	}
	return missed, nil
}

// shapeGoals lays pairs of scans of the same place of the van on one another, with and without a smooth difference in shape.
func shapeGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	fmt.Fprintln(w, "points mm\tnoise mm\tpairs\tsame shape: called different\tleft over explained, 5th to 95th percentile\tdifferent by 3 times: called\tmost: error p50 mm\tgoal")
	for k, c := range []struct{ spacing, own, shared float64 }{{1.5, 0.03, 0}, {2.5, 0.03, 0.03}, {2.5, 0, 0.05}} {
		var ratios, most []float64
		invented, called := 0, 0
		for run := range o.runs {
			random := rand.New(rand.NewPCG(o.seed, 1<<40|uint64(k)<<32|uint64(run)))
			one, err := shapeRun(ctx, random, c.spacing, c.own, c.shared, o.threads)
			if err != nil {
				return true, err
			}
			ratios = append(ratios, one.ratio)
			if one.invented {
				invented++
			}
			if one.called {
				called++
			}
			most = append(most, one.most)
		}
		n := float64(o.runs)
		bad := float64(invented) > shapeInvent*n || float64(called) < shapeCalled*n
		missed = missed || bad
		fmt.Fprintf(w, "%g\t%g, shared %g\t%d\t%d\t%.3f to %.3f\t%d\t%.3f\tat most %g, at least %g%s\n", c.spacing, c.own, c.shared, o.runs, invented,
			percentile(ratios, 0.05), percentile(ratios, 0.95), called, percentile(most, 0.5), shapeInvent, shapeCalled, missedMark(bad))
		w.Flush()
		o.judge(bad, fmt.Sprintf("points %g mm apart, noise %g mm and %g shared: same shape called different in at most %.0f %%, %g times what noise explains in at least %.0f %%", c.spacing, c.own, c.shared, 100*shapeInvent, shapeTimes, 100*shapeCalled),
			fmt.Sprintf("%d of %d, %d of %d", invented, o.runs, called, o.runs))
	}
	return missed, nil
}

type shapeOutcome struct {
	invented, called bool
	ratio            float64 // left over explained, of the same shape
	most             float64 // mm, error of the greatest offset
}

// shapeRun compares two scans of a random place of the wall, then again with a wave laid over one of them.
func shapeRun(ctx context.Context, random *rand.Rand, spacing, own, shared float64, threads int) (out shapeOutcome, err error) {
	from, low := 300+6000*random.Float64(), 100+400*random.Float64()
	window := scanpath.Window{FromU: from, ToU: from + 600 + 400*random.Float64(), FromV: low, ToV: low + 400 + 200*random.Float64()}
	scan := func(own, shared float64) (*mesh.Mesh, error) {
		if own == 0 {
			own = -1
		}
		s, err := scanpath.New(ctx, scanpath.Options{Seed: random.Uint64(), Still: true, Spacing: spacing, Noise: own, SharedNoise: shared, Window: window, Threads: threads}, nil)
		if err != nil {
			return nil, err
		}
		return s.Pieces[0].Mesh, nil
	}
	left := func(a, b *mesh.Mesh) (*pieces.Overlap, error) {
		r, err := pieces.Join(ctx, []pieces.Piece{{Name: "a", Mesh: a}, {Name: "b", Mesh: b}}, nil, nil, pieces.Settings{Threads: threads}, nil)
		if err != nil {
			return nil, err
		}
		return &r.Overlaps[0], nil
	}
	a, err := scan(own, shared)
	if err != nil {
		return out, err
	}
	b, err := scan(own, shared)
	if err != nil {
		return out, err
	}
	clean, err := scan(0, 0)
	if err != nil {
		return out, err
	}
	same, err := left(a, b)
	if err != nil {
		return out, err
	}
	out.invented, out.ratio = same.Shape == pieces.DifferentShape, same.Alone/same.Noise.Sigma
	// A wave in a random direction, of a length as drift has: half the piece and more.
	along := geom.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}.Unit()
	length, phase := 600+900*random.Float64(), 2*math.Pi*random.Float64()
	middle := clean.Bounds().Center()
	towards := clean.VertexNormals()[len(clean.Vertices)/2]
	wave := func(m *mesh.Mesh, size float64) *mesh.Mesh {
		return bodywork.Mapped(m, func(p geom.Vec) geom.Vec {
			s, _ := geom.Sincos(2*math.Pi*p.Sub(middle).Dot(along)/length + phase)
			return p.AddScaled(size*s, towards)
		})
	}
	unit, err := left(wave(clean, 1), clean)
	if err != nil {
		return out, err
	}
	size := math.Sqrt(shapeTimes*shapeTimes-1) * same.Noise.Sigma / unit.Alone
	other, err := left(wave(a, size), b)
	if err != nil {
		return out, err
	}
	out.called = other.Shape == pieces.DifferentShape
	out.most = math.Abs(math.Abs(other.Most.Offset) - size*math.Abs(unit.Most.Offset))
	return out, nil
}

// loopGoals scans the van in six pieces with a good scanner, joins them, and compares their places with the best that points known to
// be the same would give.
func loopGoals(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	var joined, marked, allowed, chained, over, overMarked []float64
	var places, markedPlaces placeTally
	differ, overlaps := 0, 0
	runs := max(o.runs, 4)
	for run := range runs {
		random := rand.New(rand.NewPCG(o.seed, 2<<40|uint64(run)))
		s, all, loaded, err := sixPieces(ctx, random, scanpath.GoodScanner(), 1_500_000, o.threads)
		if err != nil {
			return true, err
		}
		r, err := pieces.Join(ctx, all, nil, nil, pieces.Settings{Threads: o.threads}, nil)
		if err != nil {
			return true, err
		}
		j, far := placeError(s, posesOf(r, loaded))
		b, _ := placeError(s, byTruePlaces(s, false, 1))
		m, _ := placeError(s, byTruePlaces(s, true, 1))
		c, _ := placeError(s, inChain(r, loaded))
		joined, allowed, chained, over = append(joined, j), append(allowed, b), append(chained, c), append(over, j/b)
		marked, overMarked = append(marked, m), append(overMarked, j/m)
		places.add(r, far)
		with, err := pieces.Join(ctx, all, nil, markersOn(random, s, loaded), pieces.Settings{Threads: o.threads}, nil)
		if err != nil {
			return true, err
		}
		_, far = placeError(s, posesOf(with, loaded))
		markedPlaces.add(with, far)
		for i := range r.Overlaps {
			overlaps++
			if r.Overlaps[i].Shape == pieces.DifferentShape {
				differ++
			}
		}
	}
	allow, err := whatDriftAllows(ctx, o, allowedScans)
	if err != nil {
		return true, err
	}
	// How much better points are than skins scatters by a third from scan to scan, and what joining adds to skins by hundredths: the first from
	// many scans and the second from the runs tell their product well.
	beside := rootMean(joined) / rootMean(allowed)
	overPoints := beside * allow.skins / allow.points
	bad := overPoints > loopOverGoal || percentile(over, 0.95) > loopOverGoal
	chain, sure := rootMean(chained)/rootMean(joined), jackknifed(chained, joined)
	theory := allow.chain / allow.skins
	badChain := chain+2*sure < theory
	missed = bad || badChain
	fmt.Fprintf(w, "van in %d pieces, good scanner\t%d runs\tjoined, RMS mm\tby true skins mm\tby true points mm\tin a chain mm\tjoined over true skins p50, p95\tover true points p50, p95\tchain over joined\tdifferent shape\n", joinPieces, runs)
	fmt.Fprintf(w, "\t\t%.2f\t%.2f\t%.2f\t%.2f\t%.2f, %.2f\t%.2f, %.2f\t%.2f ± %.2f\t%d of %d overlaps\n", rootMean(joined), rootMean(allowed), rootMean(marked), rootMean(chained),
		percentile(over, 0.5), percentile(over, 0.95), percentile(overMarked, 0.5), percentile(overMarked, 0.95), chain, 2*sure, differ, overlaps)
	fmt.Fprintf(w, "%d scans without noise\t\t\t%.2f\t%.2f\t%.2f\tskins over points\t%.2f\t%.2f\n", allowedScans, allow.skins, allow.points, allow.chain, allow.skins/allow.points, theory)
	o.judge(bad, fmt.Sprintf("a round's error after joining at most %g times what drift allows: RMS over true points, and 95 in 100 over true skins", loopOverGoal), fmt.Sprintf("%.2f (%.2f × %.2f), %.2f", overPoints, beside, allow.skins/allow.points, percentile(over, 0.95)))
	o.judge(badChain, fmt.Sprintf("better than in a chain by what true skins give, %.2f, within twice its scatter", theory), fmt.Sprintf("%.2f ± %.2f", chain, 2*sure))
	for _, t := range []struct {
		how string
		*placeTally
	}{{"overlaps alone", &places}, {"markers as well", &markedPlaces}} {
		missed = t.row(&o, w, t.how) || missed
	}
	w.Flush()
	return missed, nil
}

// posesOf returns the motions that carry pieces as they were scanned into the joined frame.
func posesOf(r *pieces.Result, loaded []geom.Rigid) (poses []geom.Rigid) {
	for k, p := range r.Pieces {
		poses = append(poses, p.JoinedFromPiece.After(loaded[k]))
	}
	return poses
}

// overlapMarkers are put on each overlap; three hold all six motions.
const overlapMarkers = 3

// markersOn puts markers on places that two pieces both see, read as well as markers are.
func markersOn(random *rand.Rand, s *scanpath.Scan, loaded []geom.Rigid) (out []pieces.Marker) {
	for _, o := range s.Overlaps() {
		for range overlapMarkers {
			at := o.Places[random.IntN(len(o.Places))]
			m := pieces.Marker{Name: fmt.Sprintf("M%d", len(out)+1)}
			for side, piece := range [2]int{o.A, o.B} {
				p, _ := s.Carried(piece, at[side])
				read := geom.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}.Scale(pieces.DefaultMarkerSigma)
				m.Seen = append(m.Seen, pieces.Sighting{Piece: piece, At: loaded[piece].Apply(p).Add(read)})
			}
			out = append(out, m)
		}
	}
	return out
}

// placeTally is how far joined pieces lie off beside what is stated, mm.
type placeTally struct {
	errors, us []float64
	inside     int
	free       int // pieces of which a motion is free: they have no U
}

func (t *placeTally) add(r *pieces.Result, far []float64) {
	for k := range r.Pieces {
		u := r.Pieces[k].UFar
		switch {
		case r.Pieces[k].Stays:
			continue
		case u == 0:
			t.free++
			continue
		}
		t.errors, t.us = append(t.errors, far[k]), append(t.us, u)
		if far[k] <= u {
			t.inside++
		}
	}
}

func (t *placeTally) row(o *trustOptions, w *steady, how string) bool {
	if len(t.us) == 0 {
		return false
	}
	mean := 0.0
	for _, u := range t.us {
		mean += u / float64(len(t.us))
	}
	worst := percentile(t.errors, 0.95)
	bad := float64(t.inside) < placeInside*float64(len(t.us)) || mean > placeWide*worst
	fmt.Fprintf(w, "places by %s\t%d within U of %d, %d not held\terror p50, p95 mm\t%.2f, %.2f\tU mean mm\t%.2f\tat least %g within U, U at most %g times p95%s\n", how, t.inside, len(t.us), t.free,
		percentile(t.errors, 0.5), worst, mean, placeInside, placeWide, missedMark(bad))
	o.judge(bad, fmt.Sprintf("places by %s: at least %.0f %% within U, U on average at most %g times what 95 in 100 are off", how, 100*placeInside, placeWide), fmt.Sprintf("%d of %d (%d not held), %.2f mm beside %.2f mm", t.inside, len(t.us), t.free, mean, worst))
	return bad
}

// sixPieces scans the van and throws each piece off by some millimetres.
func sixPieces(ctx context.Context, random *rand.Rand, d scanpath.Drift, triangles, threads int) (*scanpath.Scan, []pieces.Piece, []geom.Rigid, error) {
	s, err := scanpath.New(ctx, scanpath.Options{Seed: random.Uint64(), Triangles: triangles, Pieces: joinPieces, FromMiddle: true, Still: true, Drift: d, SharedNoise: 0.02, Threads: threads}, nil)
	if err != nil {
		return nil, nil, nil, err
	}
	var all []pieces.Piece
	var loaded []geom.Rigid
	for k := range s.Pieces {
		m := s.Pieces[k].Mesh
		any3 := func(size float64) geom.Vec {
			return geom.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()}.Scale(size)
		}
		g := geom.RotationVector(any3(0.002))
		c := m.Bounds().Center()
		g.T = c.Sub(g.ApplyDir(c)).Add(any3(3))
		all, loaded = append(all, pieces.Piece{Name: fmt.Sprintf("piece %d", k+1), Mesh: m.Moved(g)}), append(loaded, g)
	}
	return s, all, loaded, nil
}

// joinTime joins six pieces of a million triangles.
func joinTime(ctx context.Context, o trustOptions, w *steady) (missed bool, err error) {
	random := rand.New(rand.NewPCG(o.seed, 3<<40))
	_, all, _, err := sixPieces(ctx, random, scanpath.GoodScanner(), joinPieces*1_000_000, o.threads)
	if err != nil {
		return true, err
	}
	faces := 0
	for _, p := range all {
		faces += len(p.Mesh.Faces)
	}
	started := time.Now()
	r, err := pieces.Join(ctx, all, nil, nil, pieces.Settings{Threads: o.threads}, nil)
	if err != nil {
		return true, err
	}
	laid := time.Since(started)
	j, err := r.Mesh(ctx, pieces.Settings{Threads: o.threads}, nil)
	if err != nil {
		return true, err
	}
	took := time.Since(started).Seconds()
	h, err := mesh.Health(ctx, j.Mesh)
	if err != nil {
		return true, err
	}
	bad := took > joinSeconds
	fmt.Fprintf(w, "%d pieces, %d triangles\tlaid together %.1f s\tone skin %.1f s\t%d faces, %d parts, %d branching edges\tgoal %g s\t%s\n",
		joinPieces, faces, laid.Seconds(), took-laid.Seconds(), len(j.Mesh.Faces), h.Components, h.BranchingEdges, joinSeconds, missedMark(bad))
	o.judge(bad, fmt.Sprintf("%d pieces of a million triangles joined within %g s", joinPieces, joinSeconds), fmt.Sprintf("%.1f s", took))
	return bad, nil
}
