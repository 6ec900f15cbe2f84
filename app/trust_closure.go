package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/closure"
	"shutline/deviation/pieces"
	"shutline/deviation/scanplan"
	"shutline/deviation/worth"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// FindClosures looks where the scan lies over itself, in its own frame, so that what is found and what is held of it do not depend
// on where the scan was placed; what it returns is in the reference's frame. It returns nil for a scan without faces. A path that is shorter than the part gives a result that says so and holds nothing else.
func FindClosures(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p mesh.Progress) (*closure.Result, error) {
	if parts == nil || placed == nil || len(parts.Scan.Mesh.Faces) == 0 {
		return nil, ctx.Err()
	}
	o := closure.Options{Travelled: travelled(i), Threads: s.Threads, ResultsFromMesh: &placed.Placement.ReferenceFromScan}
	r, err := closure.Find(ctx, parts.Scan.Mesh, nil, o, p)
	var short *closure.PathTooShort
	if !errors.As(err, &short) {
		return r, err
	}
	o.Travelled = 0
	if r, err = closure.Find(ctx, parts.Scan.Mesh, nil, o, p); err == nil {
		r.PathWhy = short.Error()
	}
	return r, err
}

// travelled returns the length of the scanner's path, mm, 0 where the inspection does not say it.
func travelled(i *inspection.Inspection) float64 {
	if i.Scan.Travelled == 0 && i.Plan != nil {
		return i.Plan.Path
	}
	return i.Scan.Travelled
}

// closureDraws is how many draws of the scan's error its closures are together: they lie on one path, so that they are not
// independent, and the displacement of one of them has three components.
const closureDraws = 3.0

// loopClosed is why a closure does not count beside others.
const loopClosed = "it comes back within its U where others do not, as where a program closed the loop"

// closureTellers are the closures as errors over the part's length: a scan that comes back so far off is off by that
// somewhere along the part, and a length sees one direction of it. Those without a displacement tell what their skins' distance does, see [skinsOnly].
// Beside one that does not close, one that closes within its U does not count.
func closureTellers(r *closure.Result, parts *Parts) []worth.Teller {
	if r == nil {
		return nil
	}
	var out []worth.Teller
	open := 0
	for k := range r.Closures {
		c := &r.Closures[k]
		t := worth.Teller{
			Kind: worth.Closure, Name: fmt.Sprintf("closure %d", k+1), Over: partSize(parts).X, Error: c.Displacement.V, U: c.Displacement.U,
			Share: 1 / math.Sqrt(float64(max(1, 3-slidesOf(c.Free)))),
		}
		if !c.Displacement.OK {
			t.Error, t.U, t.Share = skinsOnly(c), math.Abs(c.StepRMS), 1/math.Sqrt(3)
		}
		if math.Abs(t.Error) > t.U {
			open++
		}
		out = append(out, t)
	}
	counts := float64(len(out))
	for k := range out {
		if t := &out[k]; open > 0 && math.Abs(t.Error) <= t.U {
			t.Not = loopClosed
			counts--
		}
	}
	for k := range out {
		out[k].Draws = closureDraws / counts
	}
	return out
}

// overlapTellers are what the overlaps of joined pieces are still off by, as errors over the part's length, and how badly the join
// holds the piece that it holds least.
func overlapTellers(j *PiecesJoined, parts *Parts) []worth.Teller {
	if j == nil || j.Result == nil {
		return nil
	}
	r := j.Result
	name := func(k int) string { return r.Names[min(k, len(r.Names)-1)] }
	var out []worth.Teller
	for k := range r.Overlaps {
		o := &r.Overlaps[k]
		if o.Shape == pieces.Untold {
			continue
		}
		left := math.Sqrt(max(float64(o.After*o.After)-float64(o.Noise.Sigma*o.Noise.Sigma), 0))
		out = append(out, worth.Teller{
			Kind: worth.Overlap, Name: fmt.Sprintf("overlap of %s and %s", name(o.A), name(o.B)), Over: partSize(parts).X, Error: left, U: o.Most.U,
		})
	}
	for k := range out {
		out[k].Draws = closureDraws / float64(len(out)) // of one session, and tied to one another
	}
	far, loose := -1, -1
	for k := range r.Pieces {
		p := &r.Pieces[k]
		switch {
		case p.Stays:
		case p.Free != [6]bool{}:
			loose = k
		case far < 0 || p.UFar > r.Pieces[far].UFar:
			far = k
		}
	}
	if far >= 0 {
		out = append(out, worth.Teller{Kind: worth.Overlap, Name: "place of " + r.Pieces[far].Name, Over: partSize(parts).X, U: r.Pieces[far].UFar})
	}
	if loose >= 0 {
		out = append(out, worth.Teller{
			Kind: worth.Overlap, Name: "place of " + r.Pieces[loose].Name, Over: partSize(parts).X,
			Not: "a motion of it is not held by its overlaps, and what that adds has no number", Unheld: true,
		})
	}
	return out
}

// slidesOf counts the free motions that are shifts.
func slidesOf(free []align.FreeMotion) int {
	n := 0
	for i := range free {
		if free[i].Turn == (geom.Vec{}) {
			n++
		}
	}
	return n
}

// skinsOnly is about how far a closure without a displacement is off, mm: of a displacement skins show
// only what lies along their normals, and where those look all ways that is a third of its square.
// What one skin shows of it may be much less or all, so that the U of this is the distance itself.
func skinsOnly(c *closure.Closure) float64 { return math.Sqrt(3) * math.Abs(c.StepRMS) }

// closureSeen is the greatest closure as an error seen along the path, for the plan of the next scan.
func closureSeen(r *closure.Result) []scanplan.Seen {
	if r == nil || r.Travelled == 0 || r.Greatest() == nil {
		return nil
	}
	c := r.Greatest()
	x := scanplan.Seen{Path: r.Travelled, Error: skinsOnly(c)}
	if c.Displacement.OK {
		x.Error = c.Displacement.V
	}
	if !(x.Error > 0) {
		return nil
	}
	return []scanplan.Seen{x}
}
