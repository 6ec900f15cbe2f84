package app

import (
	"context"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/closure"
	"shutline/deviation/scanplan"
	"shutline/deviation/worth"
)

// Trust is what tells whether a scan can be trusted over a length.
type Trust struct {
	Lengths []Length
	Closure *closure.Result // nil: a scan without faces
	Growth  worth.Growth
	Plan    *scanplan.Plan // nil: not asked for
}

// LookForTrust measures the known lengths, looks where the scan lies over itself, and
// draws from these and from the drift what the scan is good for and how the next one is to be
// made. compared may be nil. The error is a stage's, or the context's.
func LookForTrust(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, compared *Compared, s Settings, p Progress) (*Trust, error) {
	t := &Trust{}
	var err error
	if t.Lengths, err = MeasureLengths(ctx, i, placed, s); err != nil {
		return nil, err
	}
	if t.Closure, err = FindClosures(ctx, i, parts, placed, s, p.part("looking where the scan lies over itself", 0, 1)); err != nil {
		return nil, err
	}
	noise, err := scanNoise(ctx, i, placed, compared)
	if err != nil {
		return nil, err
	}
	more := append(closureTellers(t.Closure, parts), overlapTellers(parts.Joined, parts)...)
	t.Growth = EstimateGrowth(parts, compared, noise, t.Lengths, more...)
	if t.Lengths, err = GrowLengths(ctx, i, placed, t.Lengths, &t.Growth, s); err != nil {
		return nil, err
	}
	// Once more, as errors are known less well where the scan lies aside.
	t.Growth = EstimateGrowth(parts, compared, noise, t.Lengths, more...)
	if t.Plan = PlanNext(i, parts, compared, closureSeen(t.Closure)...); t.Plan != nil {
		t.Plan.Closed = slices.ContainsFunc(more, func(t worth.Teller) bool { return t.Not == loopClosed })
	}
	return t, ctx.Err()
}

// Take puts what was found into the outcome.
func (o *Outcome) Take(t *Trust) {
	o.Lengths, o.Closure, o.Growth, o.Plan = t.Lengths, t.Closure, &t.Growth, t.Plan
}
