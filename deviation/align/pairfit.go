package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// Pair is a point of the scan, in the scan's own frame, with its partner on the reference, mm.
type Pair struct{ Scan, Reference geom.Vec }

// PairFit is how a placement by point pairs came about.
type PairFit struct {
	Left  []PairLeft
	RMS   float64 // mm, of the distances left
	Wrong int     // the pair, from 0, that does not fit the others; -1: none that stands out

	// Scale is by what factor the reference's points lie farther apart than the
	// scan's; it is reported and never applied. ScaleSigma is its standard
	// uncertainty; 0 with three pairs, which give none.
	Scale, ScaleSigma float64

	// FLE in mm is the error of a single pair (root mean square of its length) that
	// the distances left speak of; 0 with three pairs.
	FLE float64
	// Farthest in mm is what FLE makes of the place where the reference's box
	// suffers most (root mean square); 0 with three pairs, without a box, and where the scan lies nowhere near the reference.
	Farthest float64
}

// PairLeft is what a placement leaves of a pair.
type PairLeft struct {
	Pair
	Left float64 // mm, distance between the placed scan point and its partner

	// Out in mm is that distance when the placement is made without this pair, and
	// Usual what it would be (root mean square) if the pair were as good as the
	// others; both 0 with three pairs.
	Out, Usual float64
	// Chance is how often a pair as good as the others is left out by so much; 1 with three pairs.
	Chance float64
}

const (
	// pairFloor in mm is the least scatter that pairs are judged by: typed
	// coordinates are rounded to a hundredth.
	pairFloor = 0.01 / 3

	// pairMost in mm: pairs left farther apart (RMS) contradict one another. A
	// careless click on a body is off by 3 mm, a scan that has drifted by as much again.
	pairMost = 10.0

	// wrongChance, shared among all pairs: with it a set of good pairs is suspected once in a hundred.
	wrongChance = 0.01

	// mirroredGain: the pairs fit a mirror image this many times as well as the scan itself.
	mirroredGain = 4.0

	// mirroredLeast in mm: pairs that are left closer than this need no mirror to explain them.
	mirroredLeast = 1.0

	// scaleSaid in standard deviations: from here a difference in scale is said.
	scaleSaid = 3.0
)

// FitPairs places by point pairs alone, in closed form and with no refinement, and
// tells how well each pair fits the others. box is the reference's, or empty.
// Errors are those of Pairs, and ErrPairs, with the figure, for pairs that
// contradict one another or fit only mirrored.
func FitPairs(pairs []Pair, box geom.Box) (Placement, error) {
	scan, reference := sidesOf(pairs)
	g, rms, err := Pairs(scan, reference)
	if err != nil {
		return Placement{}, err
	}
	fit := &PairFit{RMS: rms, Wrong: -1}
	for _, p := range pairs {
		fit.Left = append(fit.Left, PairLeft{Pair: p, Left: g.Apply(p.Scan).Dist(p.Reference), Chance: 1})
	}
	_, fit.Scale, _, err = Similarity(scan, reference)
	if err != nil {
		return Placement{}, err
	}
	if err := mirroredPairs(scan, reference, rms); err != nil {
		return Placement{}, err
	}
	fit.leaveOut()
	if rms > pairMost {
		return Placement{}, fit.contradiction()
	}
	p := Placement{Method: "pairs", ReferenceFromScan: g, Pairs: fit}
	fit.hold(&p, g, box)
	p.Notes = append(fit.notes(), fit.extrapolated(&p, box)...)
	return p, nil
}

// crossingShare of the scan follows a reference that it merely crosses: sheets of 2 m that cross at any angle lie within
// the reach of 10 mm over a strip of 20 mm or a few, each with its half turned away.
const crossingShare = 0.05

// beyondPairs: from this many times the uncertainty in the middle of the pairs a place is held by their lever.
const beyondPairs = 2

// extrapolated says how well the corner of the box is known that the pairs hold worst, where it lies outside them.
func (fit *PairFit) extrapolated(p *Placement, box geom.Box) []string {
	if p.NoSigma != "" || box.Empty() {
		return nil
	}
	middle, _ := p.SigmaAt(p.Centre)
	far, at := 0.0, geom.Vec{}
	for _, corner := range box.Corners() {
		if s, _ := p.SigmaAt(corner); s > far {
			far, at = s, corner
		}
	}
	_, reference := sidesOf(fit.pairs())
	pairs := geom.BoxOf(reference)
	beyond := math.Sqrt(pairs.Dist2(at))
	if beyond == 0 || far < beyondPairs*middle {
		return nil
	}
	return []string{fmt.Sprintf("The reference reaches %.0f mm beyond the pairs: what lies there is carried by their lever and placed to ±%.2g mm (k = 2), in the middle of the pairs to ±%.2g mm.", beyond, 2*far, 2*middle)}
}

// Pairs is FitPairs with what the surface says about the placement: RMS, points used and share.
// Where it lies nowhere near the reference it has no uncertainties, and NoSigma says so.
// Errors are those of FitPairs, or ctx's.
func (p *Placer) Pairs(ctx context.Context, pairs []Pair) (Placement, error) {
	fitted, err := FitPairs(pairs, p.f.ref.box)
	if err != nil {
		return Placement{}, err
	}
	seen, err := p.f.described(ctx, "pairs", fitted.ReferenceFromScan)
	if err != nil {
		return Placement{}, err
	}
	fitted.RMS, fitted.RMSKnown, fitted.PointsUsed, fitted.ShareUsed = seen.RMS, seen.RMSKnown, seen.PointsUsed, seen.ShareUsed
	// A surface that crosses the reference follows it in a few points wherever it lies.
	if (!seen.RMSKnown || seen.ShareUsed < crossingShare) && fitted.NoSigma == "" {
		fitted.withoutSigma("where the pairs put the scan it lies nowhere near the reference, so that how well they agree with one another says nothing about how far off it is")
		fitted.Notes = fitted.Pairs.notes()
	}
	fitted.Notes = append(fitted.Notes, seen.Notes...)
	return fitted, nil
}

// withoutSigma takes back what the pairs' agreement said of the placement, and says why.
func (p *Placement) withoutSigma(why string) {
	p.NoSigma = why
	p.Sigma, p.Covariance, p.HeldCovariance, p.Directions = [6]float64{}, [6][6]float64{}, [6][6]float64{}, [6]Direction{}
	p.Pairs.Farthest = 0
}

func sidesOf(pairs []Pair) (scan, reference []geom.Vec) {
	for _, p := range pairs {
		scan, reference = append(scan, p.Scan), append(reference, p.Reference)
	}
	return scan, reference
}

// freedomOf returns the degrees of freedom that n pairs leave: three coordinates each, less six motions.
func freedomOf(n int) float64 { return float64(3*n - 6) }

// leaveOut judges each pair by the placement that the others give.
//
// The left-out pair's difference d has the covariance s²(1 + J C Jᵀ), with C the
// covariance of the six motions for unit errors and J how they move the point; so
// dᵀ(1 + J C Jᵀ)⁻¹d / 3s² follows F with 3 and 3(n−1)−6 degrees of freedom, s
// coming from the others. Based on: Cook & Weisberg, "Residuals and influence in
// regression" (1982), the externally studentised residual, for three components.
func (fit *PairFit) leaveOut() {
	n := len(fit.Left)
	if n < 4 {
		return
	}
	least := wrongChance / float64(n)
	for k := range fit.Left {
		var others []Pair
		for i, p := range fit.Left {
			if i != k {
				others = append(others, p.Pair)
			}
		}
		scan, reference := sidesOf(others)
		l := &fit.Left[k]
		g, rms, err := Pairs(scan, reference)
		if err != nil {
			continue // the others lie on a line: they cannot speak against this pair
		}
		freedom := freedomOf(n - 1)
		s := max(math.Sqrt(float64(rms*rms)*float64(n-1)/freedom), pairFloor)
		d := g.Apply(l.Scan).Sub(l.Reference)
		size, trace, ok := studentised(reference, l.Reference, d)
		if !ok {
			continue
		}
		l.Out, l.Usual = d.Norm(), s*math.Sqrt(trace)
		l.Chance = fTail(size/(3*s*s), 3, freedom)
		if l.Chance < least && (fit.Wrong < 0 || worse(l, &fit.Left[fit.Wrong])) {
			fit.Wrong = k
		}
	}
}

// worse reports whether a pair fits the others worse than another does; of two that
// are both beyond any chance, the one that is off by more of the usual.
func worse(a, b *PairLeft) bool {
	if a.Chance != b.Chance {
		return a.Chance < b.Chance
	}
	return a.Out*b.Usual > b.Out*a.Usual
}

// studentised returns dᵀ(1 + J C Jᵀ)⁻¹d for the point at and the trace of 1 + J C Jᵀ.
func studentised(points []geom.Vec, at, d geom.Vec) (size, trace float64, ok bool) {
	c, centre, lever, ok := unitCovariance(points)
	if !ok {
		return 0, 0, false
	}
	j := moves(at, centre, lever)
	var full [6]vec6 // 1 + J C Jᵀ, the unused corner filled up with ones
	for a := range 6 {
		full[a][a] = 1
	}
	for a := range 3 {
		for b := range 3 {
			for i := range 6 {
				full[a][b] += float64(j[a][i] * dot6((*vec6)(&c[i]), &j[b]))
			}
		}
		trace += full[a][a]
	}
	inverse, ok := invert6(full)
	v := vec6{d.X, d.Y, d.Z}
	for a := range 3 {
		size += float64(v[a] * dot6(&inverse[a], &v))
	}
	return size, trace, ok
}

// moves returns how the six motions about a centre, turns in mm at the lever, move a
// point: a row for each coordinate.
func moves(at, centre geom.Vec, lever float64) [3]vec6 {
	d := at.Sub(centre).Scale(1 / lever)
	return [3]vec6{{1, 0, 0, 0, d.Z, -d.Y}, {0, 1, 0, -d.Z, 0, d.X}, {0, 0, 1, d.Y, -d.X, 0}}
}

// unitCovariance returns the covariance of the six motions that points with errors
// of 1 mm in each coordinate leave.
func unitCovariance(points []geom.Vec) (c sym6, centre geom.Vec, lever float64, ok bool) {
	centre, lever = meanOf(points), spanOf(points)
	var a sym6
	for _, p := range points {
		for _, row := range moves(p, centre, lever) {
			a.addOuter(1, &row)
		}
	}
	a.mirror()
	var rows [6]vec6
	for i := range rows {
		rows[i] = vec6(a[i])
	}
	inverse, ok := invert6(rows)
	for i := range inverse {
		c[i] = [6]float64(inverse[i])
	}
	return c, centre, lever, ok
}

// hold sets the six uncertainties from what the pairs leave. Three pairs leave
// three degrees of freedom, all of them distances between the points: they would
// say nothing of an error that keeps the triangle's sides, and give none.
func (fit *PairFit) hold(p *Placement, g geom.Rigid, box geom.Box) {
	n := len(fit.Left)
	var placed []geom.Vec
	for _, l := range fit.Left {
		placed = append(placed, g.Apply(l.Scan))
	}
	p.Centre, p.Lever = meanOf(placed), spanOf(placed)
	if n < 4 {
		p.NoSigma = fmt.Sprintf("%d pairs leave too little over to tell how far off they are; four or more give an uncertainty", n)
		return
	}
	c, centre, lever, ok := unitCovariance(placed)
	if !ok {
		p.NoSigma = "the pairs lie too close to a line"
		return
	}
	s2 := max(float64(fit.RMS*fit.RMS)*float64(n)/freedomOf(n), pairFloor*pairFloor)
	for i := range 6 {
		for k := range 6 {
			c[i][k] *= s2
		}
	}
	p.hold(c, centre, lever)
	fit.FLE = math.Sqrt(3 * s2)
	spread := 0.0
	for _, q := range placed {
		spread += q.Sub(centre).Norm2()
	}
	// The scale's error is that of the distances from the middle, along them.
	fit.ScaleSigma = math.Sqrt(s2 / spread)
	if !box.Empty() {
		for _, corner := range box.Corners() {
			fit.Farthest = max(fit.Farthest, TargetError(placed, fit.FLE, corner))
		}
	}
}

// TargetError returns the root mean square distance, in mm, by which a point is
// placed wrongly by pairs at the given places whose own errors have the root mean
// square length fle:
//
//	E[TRE²] = FLE²/N · (1 + ⅓ Σ d_k²/f_k²)
//
// with d_k the point's distance from principal axis k of the places and f_k the
// root mean square of theirs.
//
// Based on: Fitzpatrick, West & Maurer, "Predicting error in rigid-body
// point-based registration" (1998); the formula from memory, confirmed by the
// Monte Carlo test beside it.
func TargetError(places []geom.Vec, fle float64, at geom.Vec) float64 {
	centre := meanOf(places)
	_, axes := principalAxes(places)
	sum := 0.0
	for _, axis := range axes {
		f2 := 0.0
		for _, p := range places {
			f2 += beside2(p.Sub(centre), axis)
		}
		if f2 /= float64(len(places)); f2 > 0 {
			sum += beside2(at.Sub(centre), axis) / f2
		}
	}
	return fle * math.Sqrt((1+sum/3)/float64(len(places)))
}

// beside2 returns the squared distance of d from the line along a unit direction.
func beside2(d, along geom.Vec) float64 {
	a := d.Dot(along)
	return max(d.Norm2()-float64(a*a), 0)
}

// mirroredPairs refuses pairs that fit a mirror image of the scan far better.
func mirroredPairs(scan, reference []geom.Vec, rms float64) error {
	flipped := make([]geom.Vec, len(scan))
	for i, p := range scan {
		flipped[i] = p.Neg() // a mirror image in every plane at once is one mirror image turned
	}
	_, other, err := Pairs(flipped, reference)
	if err != nil || rms < mirroredLeast || other*mirroredGain > rms {
		return nil
	}
	return fmt.Errorf("align: the pairs fit a mirror image of the scan: mirrored they are left %.3g mm apart (RMS), as they are %.3g mm; "+
		"the reference's points may be on the other side of the vehicle: name those of this side, or set mirror in [reference]: %w", other, rms, ErrPairs)
}

// unitGain: pairs in two units fit this many times better once they are in one.
const unitGain = 5

// scaled returns the RMS, mm, that the pairs leave with the scan's points c times as far apart; infinite where they fit in no way.
func (fit *PairFit) scaled(c float64) float64 {
	scan, reference := sidesOf(fit.pairs())
	for i, p := range scan {
		scan[i] = p.Scale(c)
	}
	_, rms, err := Pairs(scan, reference)
	if err != nil {
		return math.Inf(1)
	}
	return rms
}

// contradiction says in what way the pairs contradict one another.
func (fit *PairFit) contradiction() error {
	if c := fit.Scale; (c > 2 || c < 0.5) && fit.scaled(c)*unitGain < fit.RMS {
		return fmt.Errorf("align: the pairs contradict one another by %.3g mm (RMS; at most %g is believed): the reference's points lie %.4g times as far apart as the scan's; is one side in another unit? %w",
			fit.RMS, pairMost, c, ErrPairs)
	}
	if k := fit.Wrong; k >= 0 {
		l := fit.Left[k]
		return fmt.Errorf("align: the pairs contradict one another by %.3g mm (RMS; at most %g is believed): pair %d, left out, is %.4g mm off where the others make %.2g mm usual; mend it, or take it out: %w",
			fit.RMS, pairMost, k+1, l.Out, l.Usual, ErrPairs)
	}
	worst := 0
	for k, l := range fit.Left {
		if l.Left > fit.Left[worst].Left {
			worst = k
		}
	}
	return fmt.Errorf("align: the pairs contradict one another by %.3g mm (RMS; at most %g is believed), pair %d most, by %.4g mm; check their order and coordinates: %w",
		fit.RMS, pairMost, worst+1, fit.Left[worst].Left, ErrPairs)
}

// notes are sentences about what the pairs show.
func (fit *PairFit) notes() []string {
	var out []string
	if k := fit.Wrong; k >= 0 {
		l := fit.Left[k]
		out = append(out, fmt.Sprintf("Pair %d does not fit the others: left out, it is %.3f mm off where %.3f mm would be usual. It was used; check it, or take it out.", k+1, l.Out, l.Usual))
	}
	_, reference := sidesOf(fit.pairs())
	values, _ := principalAxes(reference)
	if across, along := root(values[1]/float64(len(reference))), root(values[2]/float64(len(reference))); across < nearLine*along {
		out = append(out, fmt.Sprintf("The pairs lie nearly on a line: on the average %.0f mm from it over %.0f mm along it. The turn about it rests on that alone.", across, along))
	}
	if d := math.Abs(fit.Scale - 1); fit.ScaleSigma > 0 && d > scaleSaid*fit.ScaleSigma && d > leastScale {
		words := "farther apart"
		if fit.Scale < 1 {
			words = "closer together"
		}
		out = append(out, fmt.Sprintf("The reference's points lie %.0f ± %.0f ppm %s than the scan's (k = 2): a scale error of the scan, heat, or wrong points. No scale was applied.",
			1e6*d, 2e6*fit.ScaleSigma, words))
	}
	return out
}

// nearLine: pairs whose spread across is a twentieth of that along turn about their
// line by twenty times what they are off by along it.
const nearLine = 0.05

func (fit *PairFit) pairs() []Pair {
	out := make([]Pair, len(fit.Left))
	for k, l := range fit.Left {
		out[k] = l.Pair
	}
	return out
}

// leastScale: a tenth of a millimetre over a metre, under which no scale is talked about.
const leastScale = 1e-4
