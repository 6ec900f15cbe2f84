package align

import (
	"context"
	"errors"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Hands tells how well a scan fits a reference as it is and mirrored.
type Hands struct {
	// Here and There are the shares of the scan's area that lie within HandWithin
	// of the reference: as placed, and of the scan's mirror image in its own best pose.
	Here, There float64
	// HereRMS and ThereRMS in mm are the scatter of the points that follow the reference; 0 without a placement.
	HereRMS, ThereRMS float64
}

const (
	// HandWithin in mm: the usual tolerance of a skin. Of a part of the other hand
	// the broad smooth skin may come within millimetres, its edges and lines do not.
	HandWithin = 0.5

	// handGain is by how much of the area the other hand must fit better to be told:
	// more than damage takes from the right one.
	handGain = 0.2

	// handScatter: or the scatter is this many times as great as the other hand's,
	// which fits no less of the area.
	handScatter = 4.0

	// handDoubt in mm: from this scatter on the other hand is worth a look. A usual
	// scanner's noise is a third of it.
	handDoubt = 0.1
)

// OtherFits reports whether the scan's mirror image fits far better than the scan.
func (h Hands) OtherFits() bool {
	return h.There > h.Here+handGain || h.There > h.Here && h.HereRMS > handDoubt && h.ThereRMS > 0 && h.HereRMS > handScatter*h.ThereRMS
}

// Doubtful reports whether a placement leaves so much of the scan beside the
// reference, or so much scatter, that it may be of another part or the other hand.
func (p *Placement) Doubtful() bool {
	return !p.RMSKnown || p.Ambiguous || p.ShareUsed < shareDoubtful || p.RMS > handDoubt
}

// OtherHand compares how well the scan and its mirror image fit the reference.
// placed is nil where no placement was found. It takes as long as a best fit, and
// next to nothing where a best fit has found the mirror image's pose already. It returns ctx's error.
func (p *Placer) OtherHand(ctx context.Context, placed *Placement, progress mesh.Progress) (h Hands, err error) {
	if placed != nil {
		h.HereRMS = placed.RMS
		if h.Here, err = p.f.shareWithin(ctx, placed.ReferenceFromScan); err != nil {
			return Hands{}, err
		}
	}
	other, there := p.f.variant(mirrored), Placement{}
	if seen := p.f.image; seen != nil && !seen.best.doubtful() {
		other, there = seen.fit, seen.best.p
	} else if there, err = other.bestFit(ctx, oneHand, progress); errors.Is(err, ErrNoOverlap) {
		return h, nil
	} else if err != nil {
		return Hands{}, err
	}
	h.ThereRMS = there.RMS
	h.There, err = other.shareWithin(ctx, there.ReferenceFromScan)
	return h, err
}

// shareWithin returns the share of the scan's area that lies within HandWithin of the reference.
func (f *fit) shareWithin(ctx context.Context, g geom.Rigid) (float64, error) {
	points := f.sample(verifyPoints, seedVerify)
	pairs := make([]pair, len(points))
	if err := f.matcher.pairUp(ctx, g, points, reachLeast, pairs); err != nil {
		return 0, err
	}
	n := 0
	for i := range pairs {
		if pairs[i].state == paired && math.Abs(pairs[i].r) <= HandWithin {
			n++
		}
	}
	return float64(n) / float64(max(len(points), 1)), nil
}
