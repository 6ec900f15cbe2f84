package app

import (
	"context"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/evidence"
)

// PointChange is how a named point differs between two results.
type PointChange = evidence.PointChange

// comparePoints compares the named points that both inspections have at the same
// place; others are named with the reason.
func (c *Change) comparePoints(ctx context.Context, s Settings) error {
	a, b := c.Inspections[0].Points, c.Inspections[1].Points
	for k, f := range c.fields {
		if c.Noise[k] > 0 && f.Budget != nil {
			f.Expand(c.Noise[k], s.Threads)
		}
	}
	defer func() { c.fields = [2]*deviation.Field{} }() // as large as the scans, and asked no more
	second := map[string]inspection.Point{}
	for _, p := range b {
		second[p.Name] = p
	}
	for _, p := range a {
		other, ok := second[p.Name]
		delete(second, p.Name)
		out := PointChange{Name: p.Name, At: p.At}
		switch {
		case !ok:
			out.Why = "only the first inspection has it"
		case p.At.Dist(other.At) > sameSpot:
			out.Why = "it lies elsewhere in the second inspection"
		default:
			var spots [2]deviation.Spot
			for k, spec := range []inspection.Point{p, other} {
				spots[k] = pointOf(spec, c.fields[k], c.Parts[k], c.Placed[k], deviation.Settings{Reach: c.Inspections[k].Surface.Reach, Threads: s.Threads}).Spot
			}
			out.Before, out.After = spots[0].Value, spots[1].Value
			out.StateBefore, out.StateAfterwards = spots[0].State.String(), spots[1].State.String()
			out.Change = difference(out.After, out.Before)
			out.Decision = deviation.DecideChange(out.Change, matters(p.Tolerance, p.HasTolerance))
		}
		c.Points = append(c.Points, out)
	}
	for _, p := range b {
		if _, only := second[p.Name]; only {
			c.Points = append(c.Points, PointChange{Name: p.Name, At: p.At, Why: "only the second inspection has it"})
		}
	}
	return ctx.Err()
}

// sameSpot in mm: written and read back.
const sameSpot = 1e-6
