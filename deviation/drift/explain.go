package drift

import (
	"context"
	"math"

	"shutline/deviation"
	"shutline/deviation/length"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// Input is a measured deviation field.
type Input struct {
	Points  []geom.Vec // of the scan, placed, mm
	Normals []geom.Vec // unit, of the scan; nil: unknown
	Areas   []float64  // mm² that each point stands for; nil: all the same
	Field   *deviation.Field
	Surface *surface.Surface // of the reference
	Reach   float64          // mm, as the field was measured with
	// Faces of the scan tell panels that a gap parts: a panel of which a good part is wrong is set aside as a whole. nil: not known.
	Faces [][3]uint32
}

// Settings of an explanation; the zero value works.
type Settings struct{ Threads int }

// Term is one shape.
type Term struct {
	Kind Kind
	// Held says that the surface tells this shape from the rigid motions and the other shapes.
	// What is not held has no number, and Why says why.
	Held bool
	Why  string
	// Gain is the deviation, RMS, that the shape leaves on the surface for each mm that it moves it by, beside
	// what the motions and other shapes can leave; Alone the share of what it leaves beside the motions that this is, squared.
	Gain, Alone float64
	// Size is what the shape does over the part, mm, with U (k = 2): the change of length of a scale or a
	// shear over the part's extent, a bend's sagitta over its length, how far a
	// twist moves the edge at one end beside the other.
	Size verdict.Value
	// Value is the same in [Kind.Unit]: ppm, mm of sagitta, degrees end to end, mm per metre.
	Value verdict.Value
	// Seen: larger than chance explains, one such in 40 clean scans.
	Seen bool
	// Share of the deviation's variance over the whole part that goes when this shape alone is taken out, at
	// least 0; ShareFollowing the same of the part that was not set aside.
	Share, ShareFollowing float64
}

// Result is what shapes explain of a deviation field.
type Result struct {
	// OK is false where nothing could be fitted; Why says why then.
	OK    bool
	Why   string
	Frame Frame
	Terms [Kinds]Term
	// RMS in mm of the deviation, means of cells, after the placement's own motions were
	// fitted: of the whole part and of what was not set aside.
	RMS, RMSFollowing float64
	// Left is the RMS in mm of what was not set aside once the shapes seen are taken out.
	Left float64
	// Total is the share of the variance that goes with all shapes seen together, over the whole part, and
	// TotalFollowing over what was not set aside.
	Total, TotalFollowing float64
	// Aside is the share of the area that follows no such shape and was left out of the fit: a dent, a wrong panel.
	Aside float64
	// Own and Shape are the standard deviations in mm of what is left: cell by cell, and what hangs together over Reach mm.
	Own, Shape, Reach float64
	// EdgesOff says that edges of what was not set aside as a whole lie off their places by more than the shapes found explain, as where a
	// part is longer by more than their radius: then a shape along the skin may be there unseen.
	EdgesOff bool
	// Chord is what the place of the reference's skin is known to where it was compared, mm: 0.01, or more where its facets are coarse.
	Chord float64
	// Cell is the side of the cells in mm; Cells and Samples how many there were.
	Cell           float64
	Cells, Samples int

	undo row
}

const (
	// within95 and within997 are the shares of a normal variable within 2 and 3 standard deviations: U is the first, a
	// shape is seen from the second on, which one of nine normal values passes by chance in 2.4 % of clean scans. Both are
	// widened as Student's t asks for where few patches tell the uncertainty.
	within95, within997 = 0.9545, 0.9973
	// leastSeen, mm: what is less does not matter to any part, whatever is known of it.
	leastSeen = 0.05
	// leastGain is the least deviation, RMS, that a shape must leave on the surface for each mm that it moves it
	// by, RMS, beside what motions and other shapes can leave: half of what a placement asks for, as the U of
	// a shape holds what the skin's own deviations do to it.
	leastGain = 0.01
	// mostScattered of the cells may lie off here and there, as beside a wrong panel; with more of them edges have left
	// their places by more than their radius, and then shapes of which less than leastAlone is their own are not told apart.
	mostScattered, leastAlone = 0.08, 0.05
	// mostEdges of the cells along edges may be set aside; a wrong panel that goes as a whole, with its edges, does not count. With more,
	// edges have left their places, too, though a shape that looks alike may have brought some back.
	mostEdges = 0.3
	// modelShare of a shape is what the forms of it, small against the truth's, leave of it.
	modelShare = 0.005
	// rimLeft, mm: what is set aside within a piece does not end where it is cut off, and its rim pulls what is kept, RMS and with k = 2, by
	// this much for the share that is set aside. Of 20 bends within a van's side beside a wrong wing, a third of it, 6 lay beyond
	// a U without it; they were off by 1.65 times what it told, root mean square.
	rimLeft = 0.015
	// leastTold: what is known beforehand must be known better by this factor from the surface,
	// or it would pull the number toward nothing by more than 4 % of itself.
	leastTold = 0.2
)

// Explain fits the shapes to a field. The error is ctx's.
func Explain(ctx context.Context, in Input, s Settings, progress mesh.Progress) (*Result, error) {
	r := &Result{}
	e := explaining{in: &in, threads: s.Threads, r: r, list: choose(&in)}
	why, err := e.gather(ctx, progress)
	if err != nil {
		return nil, err
	}
	if r.Why = why; why != "" {
		return r, nil
	}
	if err := e.robustly(ctx, progress); err != nil {
		return nil, err
	}
	fit, err := e.together(ctx)
	if err != nil {
		return nil, err
	}
	if !fit.ok {
		r.Why = "too little of the surface agrees with any shape to tell one from"
		return r, nil
	}
	r.Own, r.Shape, r.Reach = fit.own, fit.shape, fit.reach
	r.OK = true
	r.EdgesOff = edgesAside(e.kept, r.Cell) > mostEdges
	r.terms(&e.x, &fit, e.kept, r.EdgesOff || e.off > mostScattered)
	r.shares(e.all, e.kept, &e.before, &e.x)
	return r, ctx.Err()
}

// largest is the largest of the shapes, mm.
func largest(x *row) float64 {
	s := 0.0
	for k := range Kinds {
		s = max(s, math.Abs(x[k]))
	}
	return s
}

// most is how far the unknowns may move a point, mm.
func most(x *row) float64 {
	s := 0.0
	for _, v := range x {
		s += math.Abs(v)
	}
	return s
}

// terms fills in the shapes with their uncertainties.
//
// edgesOff: edges lie off by more than any shape explains, so that shapes that look alike cannot be told apart by them.
func (r *Result) terms(x *row, fit *correlated, cells []cell, edgesOff bool) {
	sd := r.Frame.likely()
	seen := length.Coverage(within997, fit.free) / length.Coverage(within95, fit.free)
	gain, alone := holds(cells, &r.Frame, &sd)
	rimmed := rimmedShare(cells)
	for k := range Kinds {
		t := &r.Terms[k]
		t.Kind = Kind(k)
		t.Gain, t.Alone = gain[k], alone[k]
		if !(gain[k] >= leastGain) { // a shape that moves no point has none
			t.Why = "it hardly moves the surface along its normals, or as the motions and other shapes do"
			continue
		}
		if edgesOff && alone[k] < leastAlone {
			t.Why = "edges lie off their places by more than shapes explain, and beside them it looks like other shapes"
			continue
		}
		u := float64(length.Coverage(within95, fit.free) * math.Sqrt(max(fit.covariance[k][k], 0)))
		chord, own := r.Chord, float64(modelShare*x[k])
		if t.Kind <= ScaleShort {
			chord *= 2 // facets move the skin inward, on both sides of a body
		}
		rim := float64(rimLeft*rimmed) / gain[k]
		u = math.Sqrt(float64(u*u) + float64(chord*chord) + float64(own*own) + float64(rim*rim))
		if u > 2*leastTold*sd[k] {
			t.Why = "the surface tells less of it than is known of scanners beforehand"
			continue
		}
		t.Held = true
		per := r.Frame.perMM(t.Kind)
		t.Size = verdict.Value{V: x[k], U: u, OK: true}
		t.Value = verdict.Value{V: float64(x[k] * per), U: float64(u * per), OK: true}
		t.Seen = math.Abs(x[k]) > max(float64(seen*u), leastSeen)
	}
}

// rimmedShare is the share of the area that was set aside of pieces of which some is kept: a piece that was set aside as a whole ends at
// its gap, and has no rim that pulls.
func rimmedShare(cells []cell) float64 {
	keeps := map[uint32]bool{}
	for i := range cells {
		if !cells[i].out {
			keeps[cells[i].key.piece] = true
		}
	}
	out, total := 0.0, 0.0
	for i := range cells {
		total += cells[i].area
		if cells[i].out && keeps[cells[i].key.piece] {
			out += cells[i].area
		}
	}
	return out / total
}

// narrowPart: a cell with less than this part of a cell's square is narrow, as at an edge; leastNarrow of the cells must be to tell of edges.
const narrowPart, leastNarrow = 16.0, 0.03

// edgesAside is the share of the cells that are narrow, as at edges, of pieces of which some is kept, that was set aside; 0 where they
// are too few to tell.
func edgesAside(cells []cell, h float64) float64 {
	keeps := map[uint32]bool{}
	for i := range cells {
		if !cells[i].out {
			keeps[cells[i].key.piece] = true
		}
	}
	off, narrow, all := 0.0, 0.0, 0.0
	for i := range cells {
		if !keeps[cells[i].key.piece] {
			continue
		}
		all++
		if cells[i].area < float64(h*h)/narrowPart {
			narrow++
			if cells[i].out {
				off++
			}
		}
	}
	if narrow < float64(leastNarrow*all) {
		return 0
	}
	return off / narrow
}

// holds returns for each shape the deviation it leaves on the surface beside all other
// unknowns for each mm that it moves it by, and the share of its own that this is, squared.
func holds(cells []cell, f *Frame, sd *row) (gain, alone [Kinds]float64) {
	var a square
	var moved [Kinds]float64
	total := 0.0
	for i := range cells {
		if !cells[i].out {
			total += cells[i].area
		}
	}
	for i := range cells {
		c := &cells[i]
		if c.out {
			continue
		}
		w := c.area / total
		addOuter(&a, w, &c.j)
		for k := range Kinds {
			moved[k] += float64(w * f.shape(Kind(k), c.at).Norm2())
		}
	}
	var known row
	for m := range columns {
		known[m] = settledVariance / float64(sd[m]*sd[m])
		a[m][m] += known[m]
	}
	l, ok := factor(&a)
	if !ok {
		return gain, alone
	}
	inv := inverse(&l)
	// The motions alone, for what a shape leaves beside them.
	b := a
	for k := range Kinds {
		for m := range columns {
			if m != k {
				b[k][m], b[m][k] = 0, 0
			}
		}
	}
	for k := range Kinds {
		// Variance of shape k beside the motions: a Schur complement, from a matrix that holds only them and k.
		c := b
		for m := Kinds; m < columns; m++ {
			c[m][k] = a[m][k]
		}
		lc, ok := factor(&c)
		if !ok {
			continue
		}
		ic := inverse(&lc)
		own, left := max(1/ic[k][k]-known[k], 0), max(1/inv[k][k]-known[k], 0)
		gain[k] = math.Sqrt(left / moved[k])
		if own > 0 {
			alone[k] = left / own
		}
	}
	return gain, alone
}

// shares fills in what the shapes explain of the variance: of the deviation, means of cells,
// less the motions that fit it best beside the shapes.
func (r *Result) shares(all, kept []cell, before, x *row) {
	in := map[cellKey]bool{}
	var follow []cell // as they were before anything was taken out
	for i := range kept {
		if c := kept[i]; !c.out {
			in[c.key] = true
			c.d += dot(&c.j, before)
			follow = append(follow, c)
		}
	}
	aside, total := 0.0, 0.0
	for i := range all {
		total += all[i].area
		if !in[all[i].key] {
			aside += all[i].area
		}
	}
	r.Aside = aside / total
	r.confirm(follow, x)
	var seen row
	any := false
	for k := range Kinds {
		if r.Terms[k].Seen {
			seen[k], any = x[k], true
		}
	}
	plain := r.withMotions(follow, row{})
	base, baseFollowing := variance(all, &plain), variance(follow, &plain)
	r.RMS, r.RMSFollowing = math.Sqrt(base), math.Sqrt(baseFollowing)
	share := func(by *row) (whole, following float64) {
		if base > 0 {
			whole = max(1-variance(all, by)/base, 0)
		}
		if baseFollowing > 0 {
			following = max(1-variance(follow, by)/baseFollowing, 0)
		}
		return whole, following
	}
	for k := range Kinds {
		t := &r.Terms[k]
		if !t.Held {
			continue
		}
		var one row
		one[k] = x[k]
		with := r.withMotions(follow, one)
		t.Share, t.ShareFollowing = share(&with)
	}
	r.undo = r.withMotions(follow, seen)
	if any {
		r.Total, r.TotalFollowing = share(&r.undo)
	}
	r.Left = math.Sqrt(variance(follow, &r.undo))
}

// leastGained is the share of what is left that must go with a shape beside the others seen.
const leastGained = 0.02

// confirm lets only those shapes count as seen without which more is left of the deviation: an estimate that weighs what hangs
// together may find a shape that the deviation as a whole does not have.
func (r *Result) confirm(follow []cell, x *row) {
	for range Kinds {
		var all row
		for k := range Kinds {
			if r.Terms[k].Seen {
				all[k] = x[k]
			}
		}
		with := r.withMotions(follow, all)
		left := variance(follow, &with)
		idle, least := -1, math.Inf(1)
		for k := range Kinds {
			if !r.Terms[k].Seen {
				continue
			}
			but := all
			but[k] = 0
			without := r.withMotions(follow, but)
			if v := variance(follow, &without); float64(v*(1-leastGained)) <= left && v < least {
				idle, least = k, v
			}
		}
		if idle < 0 {
			return
		}
		t := &r.Terms[idle]
		t.Seen = false
		t.Size.U, t.Value.U = max(t.Size.U, math.Abs(t.Size.V)), max(t.Value.U, math.Abs(t.Value.V))
	}
}

// variance is the mean square of what the unknowns leave of the cells, mm², by area.
func variance(cells []cell, by *row) float64 {
	sum, area := 0.0, 0.0
	for i := range cells {
		e := cells[i].d - dot(&cells[i].j, by)
		sum += float64(cells[i].area * float64(e*e))
		area += cells[i].area
	}
	return sum / max(area, math.SmallestNonzeroFloat64)
}

// withMotions returns shapes together with the motions that fit the cells best beside them.
func (r *Result) withMotions(cells []cell, shapes row) row {
	sd := r.Frame.likely()
	rest, w := make([]cell, len(cells)), make([]float64, len(cells))
	for i := range cells {
		w[i] = cells[i].area
		rest[i] = cell{d: cells[i].d - dot(&cells[i].j, &shapes)}
		copy(rest[i].j[Kinds:proud], cells[i].j[Kinds:proud])
	}
	if m, ok := leastSquares(rest, w, &sd); ok {
		copy(shapes[Kinds:proud], m[Kinds:proud])
	}
	return shapes
}

// Drifted reports whether any shape is seen.
func (r *Result) Drifted() bool {
	for k := range r.Terms {
		if r.Terms[k].Seen {
			return true
		}
	}
	return false
}

// Undo returns a point of the scan with the shapes that are seen, and the motion that goes
// with them, taken out: for a what-if view alone.
func (r *Result) Undo(p geom.Vec) geom.Vec {
	return p.Sub(r.Frame.displaced(p, &r.undo))
}
