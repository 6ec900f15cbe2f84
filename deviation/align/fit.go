package align

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	anchorPool   = 400 // scan points that anchors are chosen from
	smoothRadius = 0.01

	// Samples on the grid know edges no better than their spacing; a few exact
	// steps tell a pose beside the right one from one on the wrong edge.
	nearPoints = 400
	nearLast   = 0.001 // diagonals
	nearSteps  = 5

	exactPoints = 1500
	exactFirst  = 0.004 // diagonals: the grid leaves poses within its last scale and a facet or two
	exactLast   = 0.3   // mm
	exactSteps  = 14
	keepSlid    = 6
	// walkApart in diagonals: poses nearer than what a walk covers need one walk.
	walkApart = slideReach
	// walkAgain in diagonals: a walk that begins within a step of another's beginning goes the same way.
	walkAgain  = slideStep
	keepRivals = 4
	// turnedLeast: a half turn is judged against the best pose when it explains half of what that does, as one
	// that a part's own symmetry makes does; half turns that explained two thirds trailed by 15 standard deviations.
	turnedLeast  = 0.5
	verifyPoints = 8000
	finalPoints  = 100000
)

// The seeds only keep the samples of the stages from being the same points.
const (
	seedAnchors = iota + 11
	seedCoarse
	seedGrid
	seedExact
	seedVerify
	seedFinal
	seedSlide
	seedVariant
	seedFlats
)

// fit holds a scan and a reference made ready.
type fit struct {
	ref      *reference
	cloud    *cloud
	search   *searcher
	matcher  *matcher
	settings Settings
	leverage []float64   // sampling weight per scan vertex, see leverageWeights
	byArea   *weights    // of the scan's vertices
	byWeight *weights    // the same by leverage
	inner    *weights    // the same without those on the scan's border
	image    *image      // the scan's mirror image, once it was tried
	walked   []candidate // where walks along weak directions began; no two within walkAgain
}

func newFit(ctx context.Context, scan *mesh.Mesh, ref *surface.Surface, s Settings) (*fit, error) {
	f := &fit{settings: s}
	err := parallel.Chunks(ctx, 2, 1, 2, nil, func(_, chunk, _, _ int) {
		if chunk == 0 {
			f.cloud = newCloud(ctx, scan)
		} else {
			f.ref = newReference(ctx, ref, s.Threads)
		}
	})
	if err != nil {
		return nil, err
	}
	if f.cloud.usable < leastPoints {
		return nil, fmt.Errorf("align: the scan has %d usable points, at least %d are needed: %w", f.cloud.usable, leastPoints, ErrTooFew)
	}
	if len(f.ref.samples) == 0 || !(f.ref.diag > 0) {
		return nil, fmt.Errorf("align: the reference has no area: %w", ErrNoOverlap)
	}
	f.cloud.estimateNormals()
	f.ready()
	return f, nil
}

// sample returns about n scan points, evenly by area.
func (f *fit) sample(n int, seed uint64) []point { return f.cloud.points(f.byArea.draw(n, seed)) }

// draw returns about n scan points, drawn by leverage.
func (f *fit) draw(n int, seed uint64) []point { return f.cloud.points(f.byWeight.draw(n, seed)) }

// drawInner is draw without points on the scan's border, for what compares poses.
func (f *fit) drawInner(n int, seed uint64) []point { return f.cloud.points(f.inner.draw(n, seed)) }

// ready sets what follows from the cloud and the reference.
func (f *fit) ready() {
	f.byArea = newWeights(f.cloud.area)
	f.leverage = f.cloud.leverageWeights(f.sample(leverageProbe, seedExact), f.settings.Threads)
	f.byWeight = newWeights(f.leverage)
	f.inner = f.byWeight
	if f.cloud.rim != nil {
		f.inner = newWeights(f.cloud.withoutRim(f.leverage))
	}
	f.search = &searcher{ref: f.ref, signed: f.cloud.signed, threads: f.settings.Threads, box: geom.EmptyBox()}
	for _, p := range f.sample(anchorPool, seedAnchors) {
		f.search.box = f.search.box.Extend(p.p)
	}
	f.matcher = newMatcher(f.ref, f.cloud.signed, f.settings.Threads)
}

// globalPoses returns distinct poses that rest on the triangles with few points, best first.
func (f *fit) globalPoses(ctx context.Context, e effort, progress mesh.Progress) ([]candidate, error) {
	pool := shuffled(f.sample(anchorPool, seedAnchors))
	// Taken evenly by area, not far apart: floors and stands are what lies far apart.
	anchors := append([]point(nil), pool[:min(e.anchors, len(pool))]...)
	for i := range anchors {
		anchors[i] = smoothed(anchors[i], pool, smoothRadius*f.ref.diag)
	}
	s := f.search
	coarse := shuffled(f.sample(coarsePoints, seedCoarse))
	poses, err := s.search(ctx, e, anchors, coarse, progress.Part(0, 0.5))
	if err != nil {
		return nil, err
	}
	poses = distinct(poses, s.box, samePose*f.ref.diag, e.merged)
	points := f.sample(gridPoints, seedGrid)
	poses, err = s.refineAll(ctx, poses, points, gridSteps, coarseScale, gridLast, progress.Part(0.5, 0.7))
	if err != nil {
		return nil, err
	}
	poses = distinct(poses, s.box, samePose*f.ref.diag/2, e.refined)
	points = f.drawInner(nearPoints, seedGrid)
	poses, err = f.descendBest(ctx, poses, points, fallingScales(gridLast*f.ref.diag, max(nearLast*f.ref.diag, exactLast), nearSteps), progress.Part(0.7, 1))
	if err != nil {
		return nil, err
	}
	return distinct(poses, s.box, samePose*f.ref.diag/4, e.exact), nil
}

// descendAll lets poses come to rest on the triangles and returns them scored, best first.
func (f *fit) descendAll(ctx context.Context, poses []candidate, points []point, scales []float64, progress mesh.Progress) ([]candidate, error) {
	out := make([]candidate, len(poses))
	err := f.eachPose(ctx, len(poses), progress, func(m *matcher, k int) (err error) {
		out[k], err = m.descendScored(ctx, poses[k].g, points, scales)
		return err
	})
	sortCandidates(out)
	return out, err
}

// narrowAfter of the steps the better half of the poses is left to go on.
const narrowAfter = 1.0 / 3

// everyOther returns half of the points.
func everyOther(points []point) []point {
	out := make([]point, 0, len(points)/2+1)
	for i := 0; i < len(points); i += 2 {
		out = append(out, points[i])
	}
	return out
}

// descendBest is descendAll of which only the better half goes all the way, and half of the points decides which.
func (f *fit) descendBest(ctx context.Context, poses []candidate, points []point, scales []float64, progress mesh.Progress) ([]candidate, error) {
	n := int(narrowAfter*float64(len(scales))) + 1
	first, err := f.descendAll(ctx, poses, everyOther(points), scales[:n], progress.Part(0, 0.5))
	if err != nil {
		return nil, err
	}
	return f.descendAll(ctx, first[:(len(first)+1)/2], points, scales[n:], progress.Part(0.5, 1))
}

// shuffled puts sampled points, which follow the file's order, into an order in
// which every beginning is spread over the whole.
func shuffled(points []point) []point {
	for i := len(points) - 1; i > 0; i-- {
		k := int(unitHash(seedCoarse, uint64(i)) * float64(i+1))
		points[i], points[k] = points[k], points[i]
	}
	return points
}

// judged is a pose that rests on the triangles, with the losses of the fixed
// verification points there.
type judged struct {
	g     geom.Rigid
	loss  []float64
	at    []geom.Vec // scan coordinates
	total float64
}

// rivals lets the poses come to rest on the triangles and returns those that
// are different, best first, scored at the noise of the best on the same points.
func (f *fit) rivals(ctx context.Context, e effort, poses []candidate, known []judged, progress mesh.Progress) ([]judged, error) {
	points := f.drawInner(exactPoints, seedExact)
	scales := fallingScales(max(exactFirst*f.ref.diag, 2*exactLast), exactLast, exactSteps)
	out, err := f.descendBest(ctx, poses, points, scales, progress.Part(0, 0.4))
	if err != nil {
		return nil, err
	}
	starts := f.notWalked(distinct(out, f.search.box, walkApart*f.ref.diag, e.walked))
	slid, err := f.slides(ctx, starts, progress.Part(0.4, 0.75))
	if err != nil {
		return nil, err
	}
	slid = distinct(slid, f.search.box, rivalApart, keepSlid)
	err = f.eachPose(ctx, len(slid), progress.Part(0.75, 0.8), func(m *matcher, k int) error {
		c, err := m.scored(ctx, slid[k].g, points)
		slid[k] = c
		return err
	})
	if err != nil {
		return nil, err
	}
	out = append(out, slid...)
	for _, k := range known {
		var c candidate
		if c, err = f.matcher.scored(ctx, k.g, points); err != nil {
			return nil, err
		}
		out = append(out, c)
	}
	sortCandidates(out)
	out = distinct(out, f.search.box, rivalApart, keepRivals)
	if len(out) == 0 {
		return nil, fmt.Errorf("align: no pose lays the scan on the reference; do its points lie on one line, or in one place? %w", ErrNoOverlap)
	}
	turned, err := f.turnedRound(ctx, out[0].g, points)
	if err != nil {
		return nil, err
	}
	halves, err := f.descendAll(ctx, turned, everyOther(points), scales, nil)
	if err != nil {
		return nil, err
	}
	for _, c := range halves {
		if 1+c.score > turnedLeast*(1+out[0].score) {
			out = append(out, c)
		}
	}
	return f.verify(ctx, out, progress.Part(0.8, 1))
}

// notWalked leaves out the poses beside which a walk has begun before, whose ends are known, and notes the others.
func (f *fit) notWalked(poses []candidate) []candidate {
	n := len(f.walked)
	all := distinct(append(slices.Clip(f.walked), poses...), f.search.box, walkAgain*f.ref.diag, n+len(poses))
	f.walked = all
	return all[n:]
}

// turnedRound returns a pose turned half round each principal axis of the points that follow the reference, and of the
// reference: the other ways a part lies nearly as well that is symmetric in section, which all the places along a slide
// may crowd out. What was scanned of a symmetric part need not be symmetric; turned with the part it lies on it again.
func (f *fit) turnedRound(ctx context.Context, g geom.Rigid, points []point) ([]candidate, error) {
	pairs := make([]pair, len(points))
	if err := f.matcher.pairUp(ctx, g, points, onReference, pairs); err != nil {
		return nil, err
	}
	var at []geom.Vec
	for i := range pairs {
		if pairs[i].state == paired {
			at = append(at, pairs[i].at)
		}
	}
	if len(at) < leastPoints {
		return nil, nil
	}
	return append(halfTurns(g, at, geom.BoxOf(at).Center()), halfTurns(g, f.ref.places(), f.ref.centre)...), nil
}

// halfTurns returns a pose turned half round each principal axis of the points, through the middle.
func halfTurns(g geom.Rigid, at []geom.Vec, middle geom.Vec) []candidate {
	_, axes := principalAxes(at)
	out := make([]candidate, 0, len(axes))
	for _, a := range axes {
		h := geom.Rotation(a, math.Pi)
		h.T = middle.Sub(h.ApplyDir(middle))
		out = append(out, candidate{g: h.After(g)})
	}
	return out
}

// verify settles the poses at noise level and judges them on one fixed set of points.
func (f *fit) verify(ctx context.Context, poses []candidate, progress mesh.Progress) ([]judged, error) {
	points := f.drawInner(verifyPoints, seedVerify)
	rests := make([]rest, len(poses))
	going := make([]int, len(poses))
	for k := range poses {
		rests[k] = newRest(poses[k].g, points, exactLast)
		rests[k].least = judgeScales[0]
		going[k] = k
	}
	out := make([]judged, len(poses))
	for round, steps := range [2]int{settleFirst, settleMost - settleFirst} {
		resting := make([]bool, len(poses))
		err := f.eachPose(ctx, len(going), progress.Part(0.5*float64(round), 0.5*float64(round+1)), func(m *matcher, i int) (err error) {
			k := going[i]
			resting[k], err = m.settleOn(ctx, &rests[k], points, steps, nil)
			return err
		})
		if err != nil {
			return nil, err
		}
		// One scale for all, that of the quietest: a rival must not be excused by its own noise.
		scale := math.Inf(1)
		for k := range rests {
			scale = min(scale, max(rests[k].scales[skinClass], tukeyTuning*f.settings.Noise))
		}
		for k := range rests {
			out[k] = judgedBy(points, &rests[k], losses(rests[k].pairs, scale))
		}
		best := leastLoss(out)
		going = slices.DeleteFunc(going, func(k int) bool {
			return resting[k] || k != best && lead(out[best], out[k], leadCell*f.ref.diag) > hopeless
		})
	}
	best := leastLoss(out)
	out[0], out[best] = out[best], out[0]
	return out, nil
}

// settleFirst is how many steps at noise level every pose gets; one that then trails the best by more than hopeless standard
// deviations, twice what refutes it, gets no more: ten further steps of poses that trailed by 5.8 changed that by 0.03.
const (
	settleFirst = 2
	hopeless    = 2 * clearly
)

func judgedBy(points []point, r *rest, loss []float64) judged {
	out := judged{g: r.g, loss: loss, at: make([]geom.Vec, len(points))}
	for i := range points {
		out.at[i] = points[i].p
		out.total += loss[i]
	}
	return out
}

// leastLoss returns the place of the pose that explains the points best.
func leastLoss(poses []judged) int {
	best := 0
	for k := range poses {
		if poses[k].total < poses[best].total {
			best = k
		}
	}
	return best
}

// judgeScales in mm, beside the noise: poses are judged at several scales, since
// on a scan that has bent no pose fits everywhere at the noise, and the one that
// fits most of the skin so need not be the one whose edges lie near their places.
// The widest counts most, so that the others only decide between poses whose
// edges lie equally near: with equal parts a side of 2.5 m that had bent by
// 1.5 mm was laid 0.1 m off, where more of its skin happened to fit.
var (
	judgeScales = [...]float64{3, 1, 0.3}
	judgeParts  = [...]float64{16, 2, 1}
)

// losses returns the loss per point, the mean over the scales; points without a
// pair or on a border, which show nothing, count as if far off, so that no pose
// gains by pushing points over the edge.
func losses(pairs []pair, noiseScale float64) []float64 {
	out := make([]float64, len(pairs))
	for i := range pairs {
		out[i] = 1
		if pairs[i].state == paired {
			sum := tukeyLoss(pairs[i].r, noiseScale)
			parts := 1.0
			for k, s := range judgeScales {
				sum += float64(judgeParts[k] * tukeyLoss(pairs[i].r, max(s, noiseScale)))
				parts += judgeParts[k]
			}
			out[i] = sum / parts
		}
	}
	return out
}

func meanLoss(pairs []pair, noiseScale float64) float64 {
	sum := 0.0
	for _, l := range losses(pairs, noiseScale) {
		sum += l
	}
	return sum / float64(len(pairs))
}

// finish settles the pose on many points and describes it.
func (f *fit) finish(ctx context.Context, g geom.Rigid, progress mesh.Progress) (Placement, error) {
	points := f.draw(finalPoints, seedFinal)
	r, err := f.matcher.settle(ctx, g, points, exactLast, progress)
	if err != nil {
		return Placement{}, err
	}
	progress.Report(1)
	return f.describe("best-fit", &r), ctx.Err()
}

// describe draws a placement from the pairs at a pose. Its notes are doubts; what the
// surface does not hold is said by freeWords and weakWords, where the surface is what holds.
func (f *fit) describe(method string, r *rest) Placement {
	p, pairs := Placement{Method: method, ReferenceFromScan: r.g}, r.pairs
	sum := 0.0
	for i := range pairs {
		if pairs[i].weight(pairs[i].r, &r.scales) > 0 {
			sum += float64(pairs[i].r * pairs[i].r)
			p.PointsUsed++
		}
	}
	if p.PointsUsed < leastPoints {
		p.PointsUsed = 0
		return p
	}
	p.RMS, p.RMSKnown = math.Sqrt(sum/float64(p.PointsUsed)), true
	p.ShareUsed = float64(p.PointsUsed) / float64(len(pairs))
	p.Residuals = residualsOf(r)
	h := holdOf(r, f.ref, f.settings.Threads)
	p.directionsFree = len(h.notHeld)
	p.Free, p.Centre, p.Covariance = h.free, h.centre, h.covariance
	p.Directions, p.Lever = h.directions, h.lever
	p.HeldCovariance, p.FreeMotions = h.full, h.loose
	for i := range 6 {
		p.Sigma[i] = math.Sqrt(max(h.covariance[i][i], 0))
	}
	if covers := f.cloud.total * p.ShareUsed / f.ref.area; p.ShareUsed < shareDoubtful && len(f.cloud.mesh.Faces) > 0 && covers > mostCovered {
		p.Notes = append(p.Notes, fmt.Sprintf("Only %.0f %% of the scan points follow the reference, but these cover about %.0f %% of it: the others may be surroundings. Cut them away to be sure.", 100*p.ShareUsed, min(100*covers, 100)))
	} else if p.ShareUsed < shareDoubtful {
		p.Notes = append(p.Notes, fmt.Sprintf("Only %.0f %% of the scan points follow the reference: check that it is the same part, not mirrored, and in the right unit.", 100*p.ShareUsed))
	}
	if note := p.FarScatter(); note != "" {
		p.Notes = append(p.Notes, note)
	}
	if !f.cloud.signed {
		p.Notes = append(p.Notes, "The scan has no normals, so a point may have been paired with the other side of the sheet.")
	}
	p.described = len(p.Notes)
	return p
}

// FarScatter is the note of a placement whose RMS is far more than noise, which takes the
// placement at its word and doubts the scan; "" where it is not. Who knows of a placement
// that leaves much less puts that in its place.
func (p *Placement) FarScatter() string {
	if !(p.RMS > rmsDoubtful) {
		return ""
	}
	return fmt.Sprintf("The points that follow the reference scatter by %.2f mm about it, far more than a scanner's noise: the scan has drifted, or it is another part or a mirrored one.", p.RMS)
}
