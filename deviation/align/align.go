// Package align finds the placement: the rigid motion that carries scan
// coordinates into the reference's frame.
//
// BestFit needs no starting pose. It searches all poses coarsely (an oriented
// scan point on every oriented reference point in every spin), refines the best
// on a grid of nearest samples, then on the triangles, point to plane (Chen &
// Medioni 1992) with Tukey's redescending weights at a falling scale, so that
// the result follows the majority of the surface and not its damage.
//
// A Placer also places by six datums (3-2-1), by point pairs and by best fit on
// regions of the reference; FindMirror finds the plane in which a body is symmetric.
package align

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// What a placement can fail with; see the messages for the figures.
var (
	ErrTooFew    = errors.New("too few points to place the scan")
	ErrNoOverlap = errors.New("the scan does not lie on the reference in any pose")
	// ErrReadWrongly is an ErrNoOverlap of a scan that is in another unit or inside out: what else it looks like then means nothing.
	ErrReadWrongly = fmt.Errorf("%w", ErrNoOverlap)
)

// Placement is a motion with what is known about it.
type Placement struct {
	Method            string // "best-fit", "datums", "pairs", "given" or "none"
	ReferenceFromScan geom.Rigid
	RMS               float64 // mm, of the points used, about the reference surface
	PointsUsed        int     // points that carry weight at the end
	ShareUsed         float64 // of the points offered
	RMSKnown          bool    // false where no point lay near the reference

	// Standard uncertainties of the six motions, translations in mm along the
	// reference's axes, rotations in radians about them through Centre. A free
	// motion (Free[i]) has no number: Sigma[i] is 0 then.
	Sigma      [6]float64
	Free       [6]bool
	Centre     geom.Vec
	Covariance [6][6]float64 // same order and units, rows of free motions are 0

	// A motion that is not held need not lie along an axis: a slide aslant of two
	// axes makes both of them free. HeldCovariance is the covariance, in the order and units
	// of Covariance, of all that is held; FreeMotions are the motions that are not.
	HeldCovariance [6][6]float64
	FreeMotions    []FreeMotion

	// NoSigma says why the six motions have no uncertainties although they are held; "" where they have.
	NoSigma string

	// How the placement came about, by method; nil where it did not.
	Datums  *DatumFit
	Pairs   *PairFit
	Regions *RegionFit
	Borders []BorderRun // of a best fit: the stretches of the part's border that hold what the surface leaves free

	Ambiguous bool // a second, different pose, or the scan's mirror image, explains the data nearly as well or better
	// MirrorFits: the scan's mirror image explains the data about as well or better, so that
	// the surface does not tell whether the scan is of the part or of the one of the other side.
	MirrorFits bool
	RunnerUp   *RunnerUp // of a best fit; nil where every other pose was far worse
	Residuals  Residuals
	Overlap    Overlap
	Notes      []string // sentences for the user: what is weakly held, what to check

	// Directions are six ways in which the placement may be off independently of
	// one another, the weakest first, for motions about Centre; Lever in mm is
	// half the diagonal of the box of the points used.
	Directions [6]Direction
	Lever      float64

	directionsFree int    // of the six dimensions of a motion
	described      int    // of the notes, those that are about this motion alone
	rivalled       string // the note on a second pose that makes it ambiguous, "" for none
	ambiguousElse  bool   // it would be without that pose
}

// FreeMotion is a motion that the surface does not hold: it moves a point p by
// Shift + Turn × (p - Centre) for each mm, as seen from half the diagonal of what
// was fitted. Sigma, in mm and 10 at most, is how far off it may be as a standard
// uncertainty; Words name it: "slide along X".
type FreeMotion struct {
	Shift, Turn geom.Vec
	Sigma       float64
	Words       string
}

// Settings of a best fit; the zero value works.
type Settings struct {
	Threads int
	Noise   float64 // mm, scanner noise, 0: estimated
}

// leastPoints is the fewest scan points that a fit is tried with: six motions
// and twice as many points as a fifth of clutter and a third of damage may spoil.
const leastPoints = 50

// BestFit finds the placement from any starting pose. The result has the same
// bits for any number of threads. It returns ErrTooFew, ErrNoOverlap or ctx's
// error, never a pose that it does not believe in.
func BestFit(ctx context.Context, scan *mesh.Mesh, ref *surface.Surface, s Settings, progress mesh.Progress) (Placement, error) {
	f, err := newFit(ctx, scan, ref, s)
	if err != nil {
		return Placement{}, err
	}
	return f.bestFit(ctx, bothHands, progress)
}

// Whether a scan whose best pose leaves doubt is tried mirrored as well; one that is itself the mirror
// image of what is known need not be.
const (
	bothHands = true
	oneHand   = false
)

// bestFit is BestFit for a scan and a reference made ready.
func (f *fit) bestFit(ctx context.Context, both bool, progress mesh.Progress) (Placement, error) {
	progress.Report(0.1)
	best, err := f.look(ctx, usual, nil, progress.Part(0.1, 0.9))
	if err != nil {
		return Placement{}, err
	}
	// A wrong unit and faces turned round show at once; a mirror image, which is much
	// like the part, only beside the best that a thorough search finds.
	if best.doubtful() && !(f.explainsWhole(&best) && best.p.directionsFree == 0) {
		if err := f.otherwise(ctx, &best, f.plainReadings(&best)); err != nil {
			return Placement{}, err
		}
		if best, err = f.look(ctx, thorough, best.rivals, progress.Part(0.9, 0.95)); err != nil {
			return Placement{}, err
		}
	}
	if best.p.Ambiguous {
		if best, err = f.walkFinely(ctx, best, nil); err != nil {
			return Placement{}, err
		}
	}
	if best.doubtful() && !f.explainsWhole(&best) {
		bare, b, err := f.lookWithoutFlats(ctx, &best)
		if err != nil {
			return Placement{}, err
		}
		if bare != nil {
			f, best = bare, *b
		}
	}
	if both && f.handUnsure(&best) {
		if err := f.judgeHand(ctx, &best); err != nil {
			return Placement{}, err
		}
	}
	if err := f.believable(&best); err != nil {
		return Placement{}, err
	}
	if best.p.weakest() > weakSigma || best.p.rivalled != "" {
		if err := f.letBordersDecide(ctx, &best, progress.Part(0.95, 1)); err != nil {
			return Placement{}, err
		}
	}
	best.p.Notes = slices.Concat(best.p.freeWords(), best.p.weakWords(f.ref.box), best.p.Notes)
	if note := f.ref.inward(); note != "" {
		best.p.Notes = append(best.p.Notes, note)
	}
	progress.Report(1)
	return best.p, ctx.Err()
}

// mostFree is how many directions a true fit can leave free: a plane and a
// sphere leave three, every other surface fewer.
const mostFree = 3

// Describe fills in the RMS, points used and uncertainties of a motion that was
// given; the motion itself is not changed. method is "given" or "none". Where
// fewer than 50 scan points follow the reference within 10 mm RMSKnown is false and all
// six motions are free. It returns ctx's error.
func Describe(ctx context.Context, method string, referenceFromScan geom.Rigid, scan *mesh.Mesh, ref *surface.Surface, s Settings) (Placement, error) {
	f, err := newFit(ctx, scan, ref, s)
	if errors.Is(err, ErrTooFew) {
		none := unknown(method, referenceFromScan)
		none.Notes = []string{"Nothing is known about this placement: " + err.Error() + "."}
		return none, nil
	}
	if err != nil {
		return Placement{}, err
	}
	return f.describeGiven(ctx, method, referenceFromScan)
}

// describeGiven is describeAt for a motion that nothing holds but the surface.
func (f *fit) describeGiven(ctx context.Context, method string, referenceFromScan geom.Rigid) (Placement, error) {
	p, err := f.describeAt(ctx, method, referenceFromScan)
	if p.directionsFree <= mostOfSkin {
		p.Notes = append(p.freeWords(), p.Notes...)
	}
	return p, err
}

// mostOfSkin: a smooth skin leaves at most a plane's three motions. More are left only where the scan has another shape, and
// are then no slides of its own.
const mostOfSkin = 3

// unknown returns a placement of which nothing is known but the motion.
func unknown(method string, referenceFromScan geom.Rigid) Placement {
	return Placement{Method: method, ReferenceFromScan: referenceFromScan, Free: [6]bool{true, true, true, true, true, true}}
}

// describeAt says what the points show of a motion, and leaves out what the surface does not hold.
func (f *fit) describeAt(ctx context.Context, method string, referenceFromScan geom.Rigid) (Placement, error) {
	points := f.sample(finalPoints, seedFinal)
	r := newRest(referenceFromScan, points, 0)
	if err := f.matcher.judge(ctx, &r, points, describeReach, nil); err != nil {
		return Placement{}, err
	}
	for c := range r.scales {
		r.scales[c] = max(r.scales[c], tukeyTuning*f.settings.Noise)
	}
	p := f.describe(method, &r)
	if !p.RMSKnown {
		none := unknown(method, referenceFromScan)
		none.Notes = []string{fmt.Sprintf("Fewer than %d scan points follow the reference within %.0f mm in this placement.", leastPoints, float64(describeReach))}
		return none, nil
	}
	return p, nil
}

// describeReach in mm is the reach that surface comparison has by default.
const describeReach = 10
