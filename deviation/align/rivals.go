package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// rivalApart in mm: converged poses closer than this over the scan's box are one pose.
	rivalApart = 2.0

	// clearly is how many standard deviations the best pose's lead must have
	// before a rival counts as refuted. Ten cells of a shut line that all speak for
	// one pose make no more than the root of ten, 3.2.
	clearly = 2.5

	// leadCell in diagonals: points within such a cell may be wrong together.
	leadCell = 1.0 / 50

	// onReference in mm: how close a point must come to count as lying on the
	// reference; damage to be measured stays mostly within it.
	onReference = 2.0

	// shareLeast of the scan (or of the reference) has to lie on the other.
	shareLeast = 0.2

	// shareDoubtful of the points following the reference is worth a warning:
	// with a fifth of foreign points and a third of damage more than half remain.
	shareDoubtful = 0.5

	// mostCovered of the reference is more than another part would lie on by chance.
	mostCovered = 0.7

	// rmsDoubtful in mm: ten times the noise of a usual scanner.
	rmsDoubtful = 0.5
)

// eachPose runs body for every pose, each on one goroutine with a finder of its own.
func (f *fit) eachPose(ctx context.Context, n int, progress mesh.Progress, body func(m *matcher, k int) error) error {
	errs := make([]error, n)
	err := parallel.Chunks(ctx, n, 1, len(f.matcher.finders), progress, func(worker, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			errs[k] = body(f.matcher.alone(worker), k)
		}
	})
	if err != nil {
		return err
	}
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

// judgeRivals marks the placement ambiguous when a different pose explains the
// points nearly as well: when the best pose's lead is within the chance that
// cells of points which may be wrong together leave. Poses along motions that are free
// are expected, and Free says which. It also names the runner-up.
func (f *fit) judgeRivals(p *Placement, rivals []judged) {
	var other *RunnerUp // of those that the free motions do not explain
	for _, r := range rivals[1:] {
		apart := geom.MaxDisplacement(p.ReferenceFromScan, r.g, f.search.box)
		if apart < rivalApart {
			continue
		}
		second := RunnerUp{
			ReferenceFromScan: r.g, Apart: apart, Lead: lead(rivals[0], r, leadCell*f.ref.diag),
			Angle: r.g.After(p.ReferenceFromScan.Inverse()).Angle(), Loss: r.total / float64(len(r.loss)), BestLoss: rivals[0].total / float64(len(r.loss)),
		}
		if p.RunnerUp == nil || second.Lead < p.RunnerUp.Lead {
			p.RunnerUp = &second
		}
		if (other == nil || second.Lead < other.Lead) && !p.alongFree(&second) {
			other = &second
		}
	}
	if r := other; r != nil && r.Lead < clearly {
		p.Ambiguous = true
		p.rivalled = fmt.Sprintf("A second pose, turned by %.1f degrees and up to %.1f mm away, fits nearly as well: check that the part lies the right way round.", r.Angle*180/math.Pi, r.Apart)
		p.Notes = append(p.Notes, p.rivalled)
	}
}

// turnHeld is the part of a turn about an axis, and shiftHeld that of a shift, in radians and mm, above which another pose is
// no matter of the motions that are free: far above what the held ones are known to.
const (
	turnHeld  = 0.05
	shiftHeld = 2 * rivalApart
)

// alongFree reports whether another pose differs from the placement by motions that are free alone, which
// the placement names as such. A half turn of a part that may slide is no slide.
func (p *Placement) alongFree(r *RunnerUp) bool {
	g := r.ReferenceFromScan.After(p.ReferenceFromScan.Inverse())
	shift := g.Apply(p.Centre).Sub(p.Centre)
	turn := turnAlong(&g)
	slides, turns := false, false
	for k := range 3 {
		slides, turns = slides || p.Free[k], turns || p.Free[k+3]
		if !p.Free[k] && math.Abs(shift.At(k)) > shiftHeld || !p.Free[k+3] && turn.At(k) > turnHeld {
			return false
		}
	}
	return turns || slides && r.Angle < turnHeld
}

// lead returns by how many standard deviations the first pose explains the
// points better than the second: the paired difference of the losses, summed by
// cells, over the root of the cells' squares.
func lead(best, rival judged, cell float64) float64 {
	total, squares := 0.0, 0.0
	for _, s := range cellSums(best, rival, cell) {
		total += s
		squares += float64(s * s)
	}
	if squares == 0 {
		return 0
	}
	return total / math.Sqrt(squares)
}

// cellSums returns by how much the losses of one pose are less than those of another, by cells.
func cellSums(best, rival judged, cell float64) []float64 {
	at := map[[3]int32]int{}
	var sums []float64
	for i, p := range best.at {
		key := cellOf(p, cell)
		k, ok := at[key]
		if !ok {
			k = len(sums)
			at[key] = k
			sums = append(sums, 0)
		}
		sums[k] += rival.loss[i] - best.loss[i]
	}
	return sums
}
