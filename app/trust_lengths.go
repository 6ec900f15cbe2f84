package app

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
)

// GrowLengths returns the lengths with what the scan's growth adds to them.
//
// As a statement about the body a length carries the scan's drift: Measured.U grows by it. The error of a known length is a finding about the scan, and
// what it finds is no uncertainty of it; but where the scan may lie beside the place that the inspection names, the line meets another place of the body,
// and that is one. Either is drawn from what the others tell: a length that is judged is not excused by the drift that it shows itself. Only where
// nothing else tells, a known length's own error makes the U of its length.
func GrowLengths(ctx context.Context, i *inspection.Inspection, placed *Placed, lengths []Length, g *worth.Growth, s Settings) ([]Length, error) {
	out := slices.Clone(lengths)
	teller := 0
	for k := range out {
		l := &out[k]
		others := *g
		if l.Error.OK {
			others = g.Without(teller)
			teller++
		}
		if !l.Measured.OK {
			continue
		}
		if i.Reference != nil && others.OK {
			if err := l.goAstray(ctx, placed, others.Grown(l.Measured.V)/2, s); err != nil {
				return nil, err
			}
			if !l.Measured.OK {
				continue
			}
		}
		if !others.OK {
			others, l.Alone = *g, g.OK
		}
		if !others.OK {
			continue
		}
		l.Grown = true
		grown := others.Grown(l.Measured.V)
		l.Measured.U = math.Sqrt(float64(l.Measured.U*l.Measured.U) + float64(grown*grown))
		source := "the scan's drift, as all else tells it"
		if l.Alone {
			source = "the scan's drift, as this length alone tells it"
		}
		l.Budget = append(slices.Clone(l.Budget), length.Line{Source: source, U: grown / 2})
	}
	return out, ctx.Err()
}

// goAstray adds what a scan that lies s mm beside the length's places, one standard deviation each way, leaves open of the length read along its line.
func (l *Length) goAstray(ctx context.Context, placed *Placed, s float64, set Settings) error {
	u, end, err := length.Astray(ctx, placed.Mesh, &length.Result{Measured: l.Measured, Ends: l.Ends, Fits: l.Fits}, s, set.Threads)
	if err != nil {
		return err
	}
	if end != "" {
		l.Why = fmt.Sprintf("The scan may lie %.3g mm beside the %s point (k = 2), as closures, drift and the other lengths tell, and much of that lies off the surface: which place of the body the line meets is not known.", 2*s, end)
		l.Measured, l.Reading, l.Error, l.ErrorPPM, l.Budget = verdict.Value{}, verdict.Value{}, verdict.Value{}, 0, nil
		if l.Judged {
			l.Verdict = verdict.Undecided
		}
		return nil
	}
	if u == 0 {
		return nil
	}
	more := float64(4 * float64(u*u))
	for _, v := range []*verdict.Value{&l.Measured, &l.Reading, &l.Error} {
		if v.OK {
			v.U = math.Sqrt(float64(v.U*v.U) + more)
		}
	}
	l.Budget = append(slices.Clone(l.Budget), length.Line{Source: "which place of the body the line meets", U: u})
	if l.Judged && l.Error.OK {
		l.Verdict = verdict.Decide(l.Error, verdict.Tolerance{Lo: -l.Allowed, Hi: l.Allowed})
		if placed.Placement.Ambiguous {
			l.Verdict = verdict.Opened(l.Verdict)
		}
	}
	return nil
}

// spanOf is the length beyond which the part's errors do not grow, see [worth.Growth].
func spanOf(parts *Parts) float64 {
	size := partSize(parts)
	if (scanplan.Part{Length: size.X, Width: size.Y, Height: size.Z}).Closes() {
		return size.Y
	}
	return size.X
}

const (
	// mostBeyond is the share of the scan beyond the reference's reach above which deviations do not tell how far it is off.
	mostBeyond = 0.05
	// leastFacing is the share of the surface that must face each way for deviations to tell of lengths: of a panel's they
	// see nothing. A van's roof is a quarter of it, front and rear together a sixth.
	leastFacing = 0.05
	// fieldDraws: the deviations of a body seen from all sides are about as many draws as it has sides.
	fieldDraws = 3.0
	// halfOfNormal is the median of the absolute value of a standard normal variable.
	halfOfNormal = 0.6745
)

// fieldTeller takes the spread of the deviations all round a body as the error of a length between two of its sides: the root of two
// times their standard deviation, drawn from the median, so that a wrong panel, up to a third of the area, hardly counts.
func fieldTeller(parts *Parts, c *Compared) (worth.Teller, bool) {
	f := c.Field
	m := parts.Mirrored
	if f == nil || m == nil || c.Ambiguous || spanOf(parts) == partSize(parts).X {
		return worth.Teller{}, false
	}
	var facing [3]float64
	all := 0.0
	for k := range m.Faces {
		n := m.AreaNormal(uint32(k))
		if a := n.Norm(); a > 0 {
			all += a
			for axis := range 3 {
				facing[axis] += float64(n.At(axis)*n.At(axis)) / a
			}
		}
	}
	if !(slices.Min(facing[:]) >= leastFacing*all) {
		return worth.Teller{}, false
	}
	var sizes []float64
	beyond := 0
	for k, state := range f.State {
		switch state {
		case deviation.Measured:
			sizes = append(sizes, math.Abs(f.Deviation[k]))
		case deviation.BeyondReach:
			beyond++
		}
	}
	if len(sizes) == 0 || float64(beyond) > mostBeyond*float64(len(sizes)+beyond) {
		return worth.Teller{}, false
	}
	slices.Sort(sizes)
	spread := sizes[len(sizes)/2] / halfOfNormal
	spread = math.Sqrt(max(float64(spread*spread)-float64(f.Noise*f.Noise), 0))
	return worth.Teller{
		Kind: worth.Drift, Name: "deviations all round", Error: float64(math.Sqrt2 * spread), U: float64(2 * math.Sqrt2 * f.Noise), Over: partSize(parts).X, Draws: fieldDraws,
	}, true
}
