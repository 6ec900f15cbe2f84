package align

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// RunnerUp is the pose that comes nearest to explaining the scan as well as the best.
type RunnerUp struct {
	ReferenceFromScan geom.Rigid
	Apart             float64 // mm, greatest displacement from the placement over the scan's box
	Angle             float64 // radians between the two
	BestLoss, Loss    float64 // 0 to 1, of the placement and of this pose on the same points: 0 where all lie on the reference
	Lead              float64 // by how many standard deviations the placement is better; under 2.5 it is ambiguous
}

// Overlap says how much of the scan lies on the reference, as shares of the scan's area.
type Overlap struct {
	Near    float64 // within 2 mm
	Fine    float64 // within 0.15 mm, or four times the noise where that is more
	Scatter float64 // mm, RMS of what is near
}

// residualBins of equal width reach from -Width*residualBins/2 to +Width*residualBins/2.
const residualBins = 40

// Residuals is the distribution of the signed distances of the points offered,
// positive where the scan stands proud of the reference.
type Residuals struct {
	Width    float64           // mm, of a bin
	Count    [residualBins]int // bin k begins at (k - 20) Width
	Below    int               // paired, but lower than the lowest bin
	Above    int
	Unpaired int // beyond the search's reach, facing away, or past the reference's border
}

// residualsOf counts the residuals of a resting pose in bins to twice the scale
// at which points are let go.
func residualsOf(r *rest) Residuals {
	out := Residuals{Width: 2 * max(r.scales[skinClass], r.scales[featureClass]) / (residualBins / 2)}
	for i := range r.pairs {
		if r.pairs[i].state != paired {
			out.Unpaired++
			continue
		}
		switch k := math.Floor(r.pairs[i].r/out.Width) + residualBins/2; {
		case k < 0:
			out.Below++
		case k >= residualBins:
			out.Above++
		default:
			out.Count[int(k)]++
		}
	}
	return out
}

// freeWords names each direction that is not held in a sentence, and what to do about
// them. Where a second pose fits as well nothing is said of the deviations: in the
// other pose they are different ones.
func (p *Placement) freeWords() []string {
	var out []string
	for _, m := range p.FreeMotions {
		if slides, axis := axisOf(m.Shift, m.Turn, p.Centre, p.Lever); slides {
			out = append(out, fmt.Sprintf("The surface does not hold the scan against sliding along %s: its position that way is free.", axis))
		} else {
			out = append(out, fmt.Sprintf("The surface does not hold the scan against turning about an axis along %s: its angle is free.", axis))
		}
	}
	switch {
	case len(out) == 0:
		return nil
	case p.Ambiguous:
		return append(out, "To hold it, scan edges, openings or character lines, or place by datums or point pairs. What is known of the other motions holds only where the scan lies along it now.")
	}
	return append(out, "Such a motion hardly changes the deviations square to the surface; to hold the scan against it, scan edges, openings or character lines, or place by datums or point pairs.")
}

// weakWords names each held direction along which the placement may be off by
// more than weakMove somewhere in the box.
func (p *Placement) weakWords(box geom.Box) []string {
	var out []string
	for k := range p.Directions {
		d := &p.Directions[k]
		if d.Free {
			continue
		}
		most := 0.0
		for _, c := range box.Corners() {
			most = max(most, 2*d.Sigma*d.at(c, p.Centre).Norm())
		}
		if most < weakMove {
			continue
		}
		t := geom.Vec{X: d.Motion[0], Y: d.Motion[1], Z: d.Motion[2]}
		w := geom.Vec{X: d.Motion[3], Y: d.Motion[4], Z: d.Motion[5]}
		if w.Norm()*p.Lever < t.Norm() {
			out = append(out, fmt.Sprintf("The scan can slide along %s by ±%.2g mm (k = 2), ±%.2g mm at the far end of the reference: little holds it that way.", axisWords(t.Unit()), 2*d.Sigma*t.Norm(), most))
			continue
		}
		out = append(out, fmt.Sprintf("The scan can turn about an axis along %s by ±%.2g degrees (k = 2), ±%.2g mm at the far end of the reference: little holds it that way.", axisWords(w.Unit()), 2*d.Sigma*w.Norm()*180/math.Pi, most))
	}
	return out
}

// weakMove in mm: half of the usual tolerance of a gap.
const weakMove = 0.5

// Refuted reports whether the placement is so much better than this pose that it cannot be chance.
func (r *RunnerUp) Refuted() bool { return r.Lead >= clearly }
