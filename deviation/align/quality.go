package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// fineLeast in mm: what a scan of the right part, rightly placed, leaves at
	// most where it is not damaged: four times the noise of a usual scanner, and facets.
	fineLeast = 0.15

	// fineDoubtful: with a third of damage and a fifth of foreign points about
	// half of a scan lies that close; less is worth a second look.
	fineDoubtful = 0.45
	// closeOfNear: where nearly all that is near is close too, the rest is foreign.
	closeOfNear = 0.9

	// A pose is not believed when less than fineBelieved of the scan lies close
	// and most of it lies nowhere near: what overlaps then does so by chance. Other
	// parts on a body side reach 0.21; a scan bent by 2 mm 0.18, but all of it is near.
	fineBelieved = 0.25
	nearBelieved = 0.5
)

// found is the best pose of a search with what is known of it.
type found struct {
	rivals []judged // best first
	q      Overlap
	p      Placement // empty where too little of the scan is near
}

// overlapOf judges a pose on points spread evenly by area.
func (f *fit) overlapOf(ctx context.Context, g geom.Rigid) (Overlap, error) {
	points := f.sample(verifyPoints, seedVerify)
	pairs := make([]pair, len(points))
	if err := f.matcher.pairUp(ctx, g, points, onReference, pairs); err != nil {
		return Overlap{}, err
	}
	fine := max(fineLeast, 4*f.settings.Noise)
	near, close, squares := 0, 0, 0.0
	for i := range pairs {
		if pairs[i].state != paired {
			continue
		}
		near++
		squares += float64(pairs[i].r * pairs[i].r)
		if math.Abs(pairs[i].r) < fine {
			close++
		}
	}
	n := float64(len(points))
	return Overlap{Near: float64(near) / n, Fine: float64(close) / n, Scatter: math.Sqrt(squares / float64(max(near, 1)))}, nil
}

// look searches all poses, and those known already, with the effort given.
func (f *fit) look(ctx context.Context, e effort, known []judged, progress mesh.Progress) (found, error) {
	poses, err := f.globalPoses(ctx, e, progress.Part(0, 0.55))
	if err != nil {
		return found{}, err
	}
	rivals, err := f.rivals(ctx, e, poses, known, progress.Part(0.55, 0.75))
	if err != nil {
		return found{}, err
	}
	return f.known(ctx, rivals, progress.Part(0.75, 1))
}

// known returns what is known of the best of the poses.
func (f *fit) known(ctx context.Context, rivals []judged, progress mesh.Progress) (found, error) {
	out := found{rivals: rivals}
	var err error
	if out.q, err = f.overlapOf(ctx, out.rivals[0].g); err != nil || out.q.Near < shareLeast && !f.coversMost(out.q) {
		return out, err
	}
	if out.p, err = f.finish(ctx, out.rivals[0].g, progress); err != nil {
		return out, err
	}
	f.judgeRivals(&out.p, out.rivals)
	f.judgePlace(&out.p, out.q)
	out.p.Overlap = out.q
	return out, nil
}

// doubtful reports whether a wider search or another reading of the scan is worth the time.
func (b *found) doubtful() bool {
	return !b.p.RMSKnown || b.p.directionsFree > 0 || b.p.Ambiguous || b.q.Fine < fineDoubtful && b.q.Fine < closeOfNear*b.q.Near
}

// coversMost reports whether the reference is covered, closely and for the most part: what else was scanned does not matter then.
func (f *fit) coversMost(q Overlap) bool {
	return len(f.cloud.mesh.Faces) > 0 && f.cloud.total*q.Fine > mostCovered*f.ref.area
}

// believable returns an error unless the pose explains enough of the scan, or covers most of the reference with what it explains.
func (f *fit) believable(b *found) error {
	const advice = "is it a scan of another part, or mostly floor and stand that should be cut away?"
	switch {
	case !b.p.RMSKnown:
		return fmt.Errorf("align: only %.0f %% of the scan lies within %.0f mm of the reference in the best pose found; %s %w", 100*b.q.Near, onReference, advice, ErrNoOverlap)
	case b.p.directionsFree > mostFree:
		return fmt.Errorf("align: the best pose found leaves %.2g mm of scatter and holds only %d of the 6 motions; %s %w", b.p.RMS, 6-b.p.directionsFree, advice, ErrNoOverlap)
	case b.q.Fine < fineBelieved && b.q.Near < nearBelieved && !f.coversMost(b.q):
		return fmt.Errorf("align: in the best pose found only %.0f %% of the scan lies within %.0f mm of the reference, scattered by %.2f mm about it, as any part would by chance; %s %w",
			100*b.q.Near, onReference, b.q.Scatter, advice, ErrNoOverlap)
	}
	return nil
}
