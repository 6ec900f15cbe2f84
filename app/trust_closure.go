package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/closure"
	"shutline/deviation/scanplan"
	"shutline/deviation/worth"
	"shutline/mesh"
)

// FindClosures looks where the scan lies over itself, in its own frame, so that what is found and what is held of it do not depend
// on where the scan was placed; what it returns is in the reference's frame. It returns nil for a scan without faces. A path that is shorter than the part gives a result that says so and holds nothing else.
func FindClosures(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p mesh.Progress) (*closure.Result, error) {
	if parts == nil || placed == nil || len(parts.Scan.Mesh.Faces) == 0 {
		return nil, ctx.Err()
	}
	r, err := closure.Find(ctx, parts.Scan.Mesh, nil, closure.Options{
		Travelled: travelled(i), Threads: s.Threads, ResultsFromMesh: &placed.Placement.ReferenceFromScan,
	}, p)
	var short *closure.PathTooShort
	if errors.As(err, &short) {
		return &closure.Result{Travelled: short.Travelled, Why: short.Error()}, nil
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

// closureTellers are the closures as errors over the part's length: a scan that comes back so far off is off by that
// somewhere along the part. Those without a displacement tell what their skins' distance does, see [skinsOnly].
func closureTellers(r *closure.Result, parts *Parts) []worth.Teller {
	if r == nil {
		return nil
	}
	var out []worth.Teller
	for k := range r.Closures {
		c := &r.Closures[k]
		t := worth.Teller{Kind: worth.Closure, Name: fmt.Sprintf("closure %d", k+1), Over: partSize(parts).X, Error: c.Displacement.V, U: c.Displacement.U}
		if !c.Displacement.OK {
			t.Error, t.U = skinsOnly(c), math.Abs(c.StepRMS)
		}
		out = append(out, t)
	}
	return out
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
