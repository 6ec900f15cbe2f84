package app

import (
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Doubtful is a tolerance in which nothing can be accepted, since U is larger
// than half of it: the tolerance narrowed by the guard band on both sides is empty.
type Doubtful struct {
	What     string  // "the surface", "the point A", "the gap of wing to door"
	U, Half  float64 // mm
	Measured bool    // U was found, not only foreseen from the noise that is stated
	Shape    float64 // mm: as [deviation.Spot], where that makes U and no noise does; else 0
	Radius   float64 // mm, within which it does
}

// String words it with both numbers.
func (d Doubtful) String() string {
	how := "will be at least"
	if d.Measured {
		how = "is"
	}
	if d.Shape > 0 {
		return fmt.Sprintf("nothing can be accepted for %s: U %s %.3f mm (k = 2), larger than half the tolerance, %.3f mm; "+
			"the points within %.1f mm differ by %.2g mm in shape: an edge or a step lies in the radius; make radius smaller", d.What, how, d.U, d.Half, d.Radius, d.Shape)
	}
	return fmt.Sprintf("nothing can be accepted for %s: U %s %.3f mm (k = 2), larger than half the tolerance, %.3f mm; "+
		"a scan with less noise can accept something, or a wider tolerance where the job allows it", d.What, how, d.U, d.Half)
}

// pointTerms is the variance of a named point's value in that of one of n scan
// points, times n: 4 for the constant of a quadratic over an even disc.
const pointTerms = 4

// Foresee tells, before anything is measured, in which tolerances nothing can
// be accepted, from the noise that is stated; without one nothing can be told yet.
// What a seam's U will be depends on how its edges are seen and is told after it was measured.
func Foresee(i *inspection.Inspection, parts *Parts) []Doubtful {
	noise := i.Scan.Noise
	if !(noise > 0) || i.Reference == nil {
		return nil
	}
	var out []Doubtful
	half := (i.Surface.Tolerance.Hi - i.Surface.Tolerance.Lo) / 2
	if u := 2 * noise; i.Surface.HasShare && u > half {
		out = append(out, Doubtful{What: "the surface", U: u, Half: half})
	}
	for _, p := range i.Points {
		if !p.HasTolerance {
			continue
		}
		half := (p.Tolerance.Hi - p.Tolerance.Lo) / 2
		if u := 2 * noise * math.Sqrt(min(1, pointTerms/pointsOn(parts, radiusOf(p, parts)))); u > half {
			out = append(out, Doubtful{What: fmt.Sprintf("the point %s", p.Name), U: u, Half: half})
		}
	}
	return out
}

// radiusOf is the radius of a point's patch, mm: as stated, or as large as the scan's spacing asks for.
func radiusOf(p inspection.Point, parts *Parts) float64 {
	if p.Radius > 0 {
		return p.Radius
	}
	spacing := 0.0
	if parts != nil {
		spacing = spacingOf(parts)
	}
	return max(inspection.DefaultRadius, float64(inspection.DefaultSpacings*spacing))
}

// pointsOn is how many points of the scan lie on a disc, on average, 1 where that is not known.
func pointsOn(parts *Parts, radius float64) float64 {
	if parts == nil {
		return 1
	}
	spacing := spacingOf(parts)
	if !(spacing > 0) {
		return 1
	}
	return max(1, math.Pi*radius/spacing*(radius/spacing))
}

// measured returns, of one U that was found, what it leaves unacceptable.
func measured(what string, u float64, t verdict.Tolerance) []Doubtful {
	if half := (t.Hi - t.Lo) / 2; u > half {
		return []Doubtful{{What: what, U: u, Half: half, Measured: true}}
	}
	return nil
}

// Unacceptable tells, once the surface is measured, whether nothing can be accepted for it or for a point.
func (c *Compared) Unacceptable(i *inspection.Inspection) []Doubtful {
	var out []Doubtful
	if u := c.Summary.U; u.OK && i.Surface.HasShare {
		out = append(out, measured("the surface (half of its points)", u.P50, i.Surface.Tolerance)...)
	}
	for _, p := range c.Points {
		if p.Spec.HasTolerance && p.Spot.Value.OK {
			for _, d := range measured("the point "+p.Spec.Name, p.Spot.Value.U, p.Spec.Tolerance) {
				d.Shape, d.Radius = p.Spot.Shape, p.Spec.Radius
				out = append(out, d)
			}
		}
	}
	return out
}

// UnacceptableSeam tells whether nothing can be accepted at any station of a seam, by the smallest U of them.
func UnacceptableSeam(r *gapflush.Result) []Doubtful {
	gap, flush := math.Inf(1), math.Inf(1)
	for k := range r.Stations {
		s := &r.Stations[k]
		if s.Gap.OK {
			gap = min(gap, s.Gap.U)
		}
		if s.Flush.OK {
			flush = min(flush, s.Flush.U)
		}
	}
	var out []Doubtful
	if r.Seam.Gap.Judged && !math.IsInf(gap, 1) {
		out = append(out, measured("any gap of "+r.Seam.Name, gap, r.Seam.Gap.Tolerance)...)
	}
	if r.Seam.Flush.Judged && !math.IsInf(flush, 1) {
		out = append(out, measured("any flush of "+r.Seam.Name, flush, r.Seam.Flush.Tolerance)...)
	}
	return out
}

// Worst returns the verdict of the stage: the worst of the surface's and the points'.
func (c *Compared) Worst() verdict.Verdict {
	w := c.Verdict
	for _, p := range c.Points {
		w = verdict.Worst(w, p.Verdict)
	}
	return w
}
