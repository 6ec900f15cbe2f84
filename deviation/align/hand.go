package align

import (
	"context"
	"fmt"

	"shutline/mesh/geom"
)

const (
	// wholeFine: of a scan of a whole part, rightly placed and without foreign points, so much lies
	// close. Less, or less of the part, and its mirror image may fit as well.
	wholeFine  = 0.985
	wholeShare = 0.75

	// poorer: as it is the scan counts as explained poorly when less than this share of what its mirror
	// image explains lies close. A small scan may have been laid on the wrong place of its own
	// side, and must be explained poorer still: of crops of 3 % of a van some had 0.8.
	poorer    = 1 / readingGain
	poorerFar = 0.5
)

// handUnsure reports whether the mirror image of a scan may explain it as well as the best pose does.
func (f *fit) handUnsure(best *found) bool {
	return !f.explainsWhole(best)
}

// explainsWhole reports whether the whole part was scanned and lies on the reference: nothing can explain it better.
func (f *fit) explainsWhole(best *found) bool {
	return best.p.RMSKnown && best.q.Fine >= wholeFine && f.covered(best.q) >= wholeShare
}

// covered is the share of the reference's area that the scan lies on; 1 for a scan whose area is not known.
func (f *fit) covered(q Overlap) float64 {
	if len(f.cloud.mesh.Faces) == 0 {
		return 1
	}
	return f.cloud.total * q.Near / f.ref.area
}

// judgeHand compares the best pose with that of the scan's mirror image. It returns an error where the mirror image explains
// the scan and the scan as it is is explained poorly, and says it in the placement where both are explained about as well.
func (f *fit) judgeHand(ctx context.Context, best *found) error {
	v := f.variant(mirrored)
	if !best.doubtful() && f.covered(best.q) >= wholeShare {
		if far, err := f.glanceAtHand(ctx, v, best); far || err != nil {
			return err
		}
	}
	poses, err := v.globalPoses(ctx, brief, nil)
	if err != nil {
		return err
	}
	rivals, err := v.rivals(ctx, brief, poses, nil, nil)
	if err != nil {
		return err
	}
	lead, err := f.handLead(ctx, v, rivals[0].g, best)
	if err != nil || lead <= -clearly {
		return err
	}
	b, err := v.known(ctx, rivals, nil)
	if err != nil {
		return err
	}
	f.image = &image{v, b}
	if !b.p.RMSKnown || b.q.Fine < readingLeast || b.p.directionsFree > mostFree {
		return nil
	}
	close := max(fineLeast, 4*f.settings.Noise)
	far := poorer
	if f.covered(best.q) < smallShare {
		far = poorerFar
	}
	better := lead >= clearly || !best.p.RMSKnown
	if better && (best.q.Fine < far*b.q.Fine || f.believable(best) != nil) {
		return f.explained(&mirrored, best, &b)
	}
	best.p.MirrorFits = true
	if better {
		best.p.Ambiguous, best.p.ambiguousElse = true, true
		best.p.Notes = append(best.p.Notes, fmt.Sprintf("The scan's mirror image fits the reference better: %.1f %% of it would lie within %.2f mm instead of %.1f %%. It may be the part of the other side.", 100*b.q.Fine, close, 100*best.q.Fine))
		return nil
	}
	best.p.Notes = append(best.p.Notes, fmt.Sprintf("The scan's mirror image fits the reference about as well (%.1f %% of it within %.2f mm, as it is %.1f %%): the surface does not tell whether it is the part of the other side.", 100*b.q.Fine, close, 100*best.q.Fine))
	return nil
}

// glanceAtHand reports whether the mirror image of a scan of a whole part, found with little work, explains it far worse. The mirror
// image of a whole part is found with less than a crop: all of it lies on the reference.
func (f *fit) glanceAtHand(ctx context.Context, v *fit, best *found) (far bool, err error) {
	poses, err := v.globalPoses(ctx, glance, nil)
	if err != nil {
		return false, err
	}
	points := v.drawInner(exactPoints, seedExact)
	poses, err = v.descendAll(ctx, poses, points, fallingScales(max(exactFirst*f.ref.diag, 2*exactLast), exactLast, exactSteps), nil)
	if err != nil {
		return false, err
	}
	lead, err := f.handLead(ctx, v, poses[0].g, best)
	return lead <= -clearly, err
}

// handLead returns by how many standard deviations the mirror image explains the points better than the scan as it is.
func (f *fit) handLead(ctx context.Context, v *fit, there geom.Rigid, here *found) (float64, error) {
	points := f.drawInner(verifyPoints, seedVerify)
	var both [2]judged
	var pairs [2][]pair
	for k, c := range [2]struct {
		f *fit
		g geom.Rigid
	}{{v, there}, {f, here.rivals[0].g}} {
		read := make([]point, len(points))
		for i, p := range points {
			read[i] = p
			if k == 0 {
				read[i] = mirrored.read(p)
			}
			both[k].at = append(both[k].at, p.p)
		}
		pairs[k] = make([]pair, len(points))
		if err := c.f.matcher.pairUp(ctx, c.g, read, judgeScales[0], pairs[k]); err != nil {
			return 0, err
		}
	}
	scale := tukeyTuning * max(min(noiseOf(pairs[0], skinClass), noiseOf(pairs[1], skinClass)), scaleFloor, f.settings.Noise)
	for k := range both {
		both[k].loss = losses(pairs[k], scale)
	}
	return lead(both[0], both[1], leadCell*f.ref.diag), nil
}
