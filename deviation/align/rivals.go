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
	// before a rival counts as refuted.
	clearly = 4.0

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

// believable returns an error unless enough of the scan lies on the reference.
func (f *fit) believable(ctx context.Context, g geom.Rigid) error {
	points := f.cloud.sample(verifyPoints, seedVerify)
	pairs := make([]pair, len(points))
	if err := f.matcher.pairUp(ctx, g, points, onReference, pairs); err != nil {
		return err
	}
	near := 0
	for i := range pairs {
		if pairs[i].state == paired {
			near++
		}
	}
	if share := float64(near) / float64(len(points)); share < shareLeast {
		return fmt.Errorf("align: only %.0f %% of the scan lies within %.0f mm of the reference in the best pose found; "+
			"is it a scan of another part, in another unit, mirrored, inside out, or mostly floor and stand that should be cut away? %w", 100*share, onReference, ErrNoOverlap)
	}
	return nil
}

// judgeRivals marks the placement ambiguous when a different pose explains the
// points nearly as well: when the best pose's lead is within the chance that
// cells of points which may be wrong together leave. Where motions are free,
// other poses are expected and Free says which.
func (f *fit) judgeRivals(p *Placement, rivals []judged) {
	for _, free := range p.Free {
		if free {
			return
		}
	}
	for _, r := range rivals[1:] {
		apart := geom.MaxDisplacement(p.ReferenceFromScan, r.g, f.search.box)
		if apart < rivalApart {
			continue
		}
		if lead(rivals[0], r, leadCell*f.ref.diag) < clearly {
			p.Ambiguous = true
			turn := r.g.After(p.ReferenceFromScan.Inverse()).Angle() * 180 / math.Pi
			p.Notes = append(p.Notes, fmt.Sprintf("A second pose, turned by %.1f degrees and up to %.1f mm away, fits nearly as well: check that the part lies the right way round.", turn, apart))
			return
		}
	}
}

// lead returns by how many standard deviations the first pose explains the
// points better than the second: the paired difference of the losses, summed by
// cells, over the root of the cells' squares.
func lead(best, rival judged, cell float64) float64 {
	at := map[[3]int32]int{}
	var sums []float64
	for i, p := range best.at {
		q := p.Scale(1 / cell)
		key := [3]int32{int32(math.Floor(q.X)), int32(math.Floor(q.Y)), int32(math.Floor(q.Z))}
		k, ok := at[key]
		if !ok {
			k = len(sums)
			at[key] = k
			sums = append(sums, 0)
		}
		sums[k] += rival.loss[i] - best.loss[i]
	}
	total, squares := 0.0, 0.0
	for _, s := range sums {
		total += s
		squares += float64(s * s)
	}
	if squares == 0 {
		return 0
	}
	return total / math.Sqrt(squares)
}
