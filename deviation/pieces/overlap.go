package pieces

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/mesh/geom"
)

// Shape says whether two pieces have the same shape where they overlap.
type Shape uint8

// The findings about an overlap's shape.
const (
	Untold         Shape = iota // too little to tell by
	SameShape                   // what is left is within what the noise explains
	DifferentShape              // it is more: at least one of the two is deformed
)

// String returns the word used in files, "" for Untold.
func (s Shape) String() string { return [...]string{"", "same shape", "different shape"}[s] }

// Place is what a patch of an overlap showed.
type Place struct {
	At     geom.Vec // mm, the frame of the second piece as loaded; the joined frame in a [Result]
	Offset float64  // mm, median residual: positive where the first piece stands proud of the second
	U      float64  // mm, expanded (k = 2), of the offset
	Points int
}

// Overlap is where two pieces lie on one another.
type Overlap struct {
	A, B   int     // the pieces, by index; B is the number of pieces where it is the reference
	Area   float64 // mm², of what lies on one another
	Points int     // samples used

	// BFromA carries the first piece onto the second, both as loaded, by the overlap alone.
	BFromA geom.Rigid
	// Free names the motions that the overlap does not hold.
	Free []string
	// Sigma are the standard uncertainties of the six motions of BFromA, about Centre in the second piece's
	// frame, mm and radians; 0 for those that a free motion takes part in (Loose).
	Sigma  [6]float64
	Loose  [6]bool
	Centre geom.Vec

	// Left in mm is the RMS of the residual: as loaded (where that was known), by the overlap alone, and with all pieces joined.
	Before, Alone, After float64
	HasBefore            bool

	Noise     Noise
	F         float64 // ratio of the variance left to the one explained
	FCritical float64 // what F reaches once in a hundred with pieces of the same shape
	DoF       [2]float64
	Shape     Shape
	Why       string // why the shape is untold
	Most      Place  // the patch that is off most
	Patches   []Place

	contact     *contact
	information mat6 // of the twist of BFromA about Centre, second piece's frame, per mm² and rad²
	rank        int
	values      vec6 // of the mean J Jᵀ, turns at the lever, with the directions they belong to
	vectors     [6]vec6
	lever       float64
	start       geom.Rigid
}

const (
	// patchSide in mm is the side of the patches that the residual is gathered by: noise that
	// neighbouring points share averages out over it, and drift does not change within it.
	patchSide = 40.0
	// patchLeast points make a patch. Where points lie so far apart that a patch would hold fewer than patchUsual, as on coarse pieces or in
	// an overlap of many square metres, patches are larger.
	patchLeast, patchUsual = 8, 24.0
	// explainMargin: the noise's standard deviation is known to about a tenth, since edges have
	// more of it than faces and pieces more in some places than in others.
	explainMargin = 1.1
	// falseChance is how often pieces of the same shape may exceed FCritical.
	falseChance = 0.01
	// leastDoF: with fewer degrees of freedom nothing is told.
	leastDoF = 10.0
	// shapePatches: of a difference in shape, what a rigid fit leaves changes its sign twice along the
	// overlap at least, and counts as two independent errors where nothing is known of the overlap's area.
	shapePatches = 2.0
	// alikeArea in mm²: over so much of an overlap two drifting pieces differ alike, so that a difference in shape counts as one
	// independent error there: a hand's width or two of overlap over the metre that a scanner's errors stay alike along its path.
	alikeArea = 200_000.0
	// commonPatches: so much what all overlaps show counts beside what one shows of its own, whose two or three patches tell a variance
	// within a factor of three (shrinking of variances, Smyth 2004; his experiments have 3 to 4).
	commonPatches = 4.0
	// sigmaFloor in mm: what facets and rounding leave of any overlap's motion.
	sigmaFloor = 0.0005

	// Two pieces overlap where so much of them lies on one another, and as alike as pieces that a drifting
	// scanner made. Else they only lie near one another.
	leastOverlap = 5 * patchSide * patchSide
	mostSpread   = 12.0 // mm
	leastAlike   = 0.5  // share of the samples near the other piece that lie within six spreads
)

// miss is two pieces that lie on one another and yet differ too much to be of one body.
type miss struct {
	a, b   int
	area   float64 // mm²
	spread float64 // mm, one robust standard deviation of what is left
}

// findOverlap looks whether two pieces overlap under a motion that is roughly right, within reach mm, and fits them. Both results
// are nil when they do not.
func findOverlap(ctx context.Context, a, b *body, start geom.Rigid, reach float64, threads int) (*Overlap, *miss, error) {
	if !movedBox(a.box, start).Grow(reach).Overlaps(b.box) {
		return nil, nil, ctx.Err()
	}
	c := newContact(a, b, threads)
	onA, onB, err := c.discover(ctx, start, reach)
	if err != nil || min(len(onA), len(onB)) < leastPaired/2 {
		return nil, nil, err
	}
	if err := c.coarse(ctx, onA, onB); err != nil {
		return nil, nil, err
	}
	g, spread, ok, err := c.settle(ctx, start, reach, mostSteps)
	if err != nil || !ok {
		return nil, nil, err
	}
	if g, err = c.walk(ctx, g); err != nil {
		return nil, nil, err
	}
	return c.finish(ctx, g, start, spread)
}

// lain fits two pieces that lie close on dense samples, anew from where they came to rest as long as that is so far from where the samples were
// chosen that they left one another there. ok is false where nothing holds them; onA and onB count the probes of either on the other.
func (c *contact) lain(ctx context.Context, near, start geom.Rigid, spread float64) (g geom.Rigid, settled float64, onA, onB int, ok bool, err error) {
	const again = 3
	for range again {
		reach := min(roughReach, max(leastReach, reachOfSpread*spread))
		a, b, err := c.discover(ctx, near, reach)
		if err != nil || min(len(a), len(b)) < leastPaired/2 {
			return g, 0, 0, 0, false, err
		}
		if err := c.dense(ctx, a, b); err != nil {
			return g, 0, 0, 0, false, err
		}
		if g, settled, ok, err = c.settle(ctx, near, reach, mostSteps); err != nil || !ok {
			return g, 0, 0, 0, false, err
		}
		if g, settled, err = c.rein(ctx, g, start, settled, roughReach); err != nil {
			return g, 0, 0, 0, false, err
		}
		onA, onB = len(a), len(b)
		if _, paired := c.spreadOf(); float64(paired) >= leastAlike*float64(len(c.matches)) {
			break
		}
		near = g
	}
	return g, settled, onA, onB, true, nil
}

// finish fits two pieces that lie close and describes the overlap.
func (c *contact) finish(ctx context.Context, near, start geom.Rigid, spread float64) (*Overlap, *miss, error) {
	g, spread, onA, onB, ok, err := c.lain(ctx, near, start, spread)
	if err != nil || !ok {
		return nil, nil, err
	}
	o := &Overlap{BFromA: g, Centre: c.centre, start: start, contact: c}
	o.Area = (c.a.shareOf(onA) + c.b.shareOf(onB)) / 2
	alike, near1 := 0, 0
	for i := range c.matches {
		if m := &c.matches[i]; m.paired {
			near1++
			if math.Abs(m.r) < noWeight*spread {
				alike++
			}
		}
	}
	o.Points = near1
	switch {
	case o.Area < leastOverlap:
		return nil, nil, nil
	case spread > mostSpread || float64(alike) < leastAlike*float64(len(c.matches)):
		return nil, &miss{area: o.Area, spread: spread}, nil
	}
	if err := c.refuseTwins(g, spread); err != nil {
		return nil, nil, err
	}
	if o.Noise, err = c.noise(ctx, g); err != nil {
		return nil, nil, err
	}
	c.patch = max(patchSide, math.Sqrt(patchUsual*o.Area/float64(max(o.Points, 1))))
	o.Alone, o.Patches = c.left(&o.Noise)
	o.tell()
	c.inform(o, spread)
	return o, nil, c.before(ctx, o)
}

// strayed says of an overlap that the fit carried the pieces farther than a shared frame may be off: pieces that share no frame and were
// loaded into one another by chance come to rest like that, in a place that is none.
func (o *Overlap) strayed() bool {
	var moved []float64
	for i := range o.contact.samples {
		if s := &o.contact.samples[i]; !s.onB {
			moved = append(moved, o.BFromA.Apply(s.p).Dist(o.start.Apply(s.p)))
		}
	}
	return median(moved) > roughReach
}

// before measures what was left as loaded.
func (c *contact) before(ctx context.Context, o *Overlap) error {
	err := c.pairUp(ctx, o.start, roughReach, c.samples, c.matches)
	if _, n := c.spreadOf(); err == nil && n >= leastPaired {
		o.Before, _ = c.left(&o.Noise)
		o.HasBefore = true
	}
	return err
}

// shareOf returns the area, mm², that so many probes stand for.
func (b *body) shareOf(probes int) float64 {
	total := 0.0
	for _, a := range b.area {
		total += a
	}
	return total * float64(probes) / float64(len(b.probes))
}

type patchKey struct {
	cell cellKey
	side int8
}

// left returns the RMS of the residual, mm: that of the patches' medians and that of the spread about
// them, both robust, so that an edge within a patch is outvoted and a patch that is off counts.
func (c *contact) left(noise *Noise) (rms float64, patches []Place) {
	index := map[patchKey]int{}
	var of [][]int
	for i := range c.matches {
		m := &c.matches[i]
		if !m.paired {
			continue
		}
		key := patchKey{cellOf(m.at, c.patch), facingAxis(m.n)}
		k, ok := index[key]
		if !ok {
			k = len(of)
			index[key] = k
			of = append(of, nil)
		}
		of[k] = append(of[k], i)
	}
	var within []float64
	between, points := 0.0, 0
	for _, members := range of {
		if len(members) < patchLeast {
			continue
		}
		r := make([]float64, len(members))
		var at geom.Vec
		for k, i := range members {
			r[k] = c.matches[i].r
			at = at.Add(c.matches[i].at)
		}
		slices.Sort(r)
		mid := float64((r[(len(r)-1)/2] + r[len(r)/2]) / 2)
		for k := range r {
			within = append(within, math.Abs(r[k]-mid))
		}
		between += float64(float64(len(r)) * float64(mid*mid))
		points += len(r)
		patches = append(patches, Place{At: at.Scale(1 / float64(len(r))), Offset: mid, Points: len(r)})
	}
	if points == 0 { // too thin for any patch: what all of them scatter by, and no patch tells a shape
		for i := range c.matches {
			if m := &c.matches[i]; m.paired {
				within = append(within, math.Abs(m.r))
			}
		}
		return madScale * median(within), nil
	}
	s := madScale * median(within)
	for k := range patches {
		p := &patches[k]
		independent := max(1, min(float64(p.Points), c.patch*c.patch/max(noise.Area, 1)))
		// A median scatters √(π/2) times as much as a mean.
		p.U = 2 * math.Sqrt(float64(s*s)*math.Pi/2/independent)
	}
	return math.Sqrt(float64(between/float64(points)) + float64(s*s)), patches
}

// facingAxis returns which of the six axis directions a normal is nearest to.
func facingAxis(n geom.Vec) int8 {
	big := 0
	for k := range 3 {
		if math.Abs(n.At(k)) > math.Abs(n.At(big)) {
			big = k
		}
	}
	if n.At(big) < 0 {
		return int8(big + 3)
	}
	return int8(big)
}

// tell decides by the F-test whether what is left is more than noise.
func (o *Overlap) tell() {
	if len(o.Patches) == 0 {
		o.Why = fmt.Sprintf("its %d points lie too far apart, or too few of them beside one another, to tell a shape", o.Points)
		return
	}
	o.Most = slices.MaxFunc(o.Patches, func(p, q Place) int { return cmp.Compare(math.Abs(p.Offset), math.Abs(q.Offset)) })
	if o.Noise.Looks == 0 {
		o.Why = fmt.Sprintf("the overlap is too small or too narrow to tell noise from shape: fewer than %d places have both neighbours", fewestLooks)
		return
	}
	explained := max(o.Noise.Sigma, spreadFloor)
	effective := o.effective()
	o.DoF = [2]float64{float64(madEfficiency*effective) - 6, madEfficiency * min(float64(o.Noise.Looks), effective)}
	if o.DoF[0] < leastDoF {
		o.Why = fmt.Sprintf("the overlap holds only %.0f independent points", effective)
		return
	}
	o.F = float64(o.Alone * o.Alone / float64(explained*explained))
	o.FCritical = explainMargin * explainMargin * fCritical(falseChance, o.DoF[0], o.DoF[1])
	o.Shape = SameShape
	if o.F > o.FCritical {
		o.Shape = DifferentShape
	}
}

// effective is the number of residuals that share nothing.
func (o *Overlap) effective() float64 {
	return max(1, min(float64(o.Points), o.Area/max(o.Noise.Area, 1e-6)))
}

// inform works out what the overlap holds of its motion.
func (c *contact) inform(o *Overlap, spread float64) {
	mean, _, _ := c.system(spread)
	o.values, o.vectors = mean.Eigen()
	o.lever = c.lever
	for k := range o.vectors {
		v := &o.vectors[k]
		if o.values[k] >= c.floorOf(spread) {
			o.rank++
			continue
		}
		o.values[k] = 0
		o.Free = append(o.Free, motionWords(v, c.centre, c.lever))
		for i := range 6 {
			if math.Abs(v[i]) > involved {
				o.Loose[i] = true
			}
		}
	}
	o.weigh(0)
}

// weigh sets what the overlap knows of its motion: noise averages over the effective points, a difference in shape over the patches
// within which the pieces differ alike. Both so count by the area of the overlap, and the least squares over all overlaps are those
// over all of their points. common is the variance, mm², that the pieces' shapes differ by in all overlaps: one that
// agrees better where it is small does not prove that its pieces are rigid.
func (o *Overlap) weigh(common float64) {
	noise := math.Min(o.Noise.Sigma, o.Alone)
	if o.Noise.Looks == 0 {
		noise = o.Alone
	}
	own, patches := o.shapeVariance(), o.Area/alikeArea
	shape := max(common, (float64(own*patches)+float64(common*commonPatches))/(patches+commonPatches))
	mean := float64(noise*noise)/o.effective() + sigmaFloor*sigmaFloor + float64(shape*alikeArea)/o.Area
	var information, covariance mat6
	for k := range o.vectors {
		if l := o.values[k]; l > 0 {
			variance := mean / l
			information.AddOuter(1/variance, &o.vectors[k], &o.vectors[k])
			covariance.AddOuter(variance, &o.vectors[k], &o.vectors[k])
		}
	}
	o.information = levered(&information, o.lever)
	covariance = levered(&covariance, 1/o.lever)
	for i := range 6 {
		if !o.Loose[i] {
			o.Sigma[i] = math.Sqrt(covariance[i][i])
		}
	}
}

// shapeVariance returns the variance of what is left that noise does not make, mm²: what the patches' medians scatter by beyond
// their own uncertainty, twice their standard error allowed for. Where the shape is different, or cannot be told, it is all that exceeds the noise.
func (o *Overlap) shapeVariance() float64 {
	between, expected := 0.0, 0.0
	for _, p := range o.Patches {
		between += float64(p.Offset * p.Offset)
		expected += float64(p.U * p.U / 4)
	}
	n := float64(max(len(o.Patches), 1))
	shape := max(0, between-float64(expected*(1+2*math.Sqrt(2/n)))) / n
	if o.Shape != SameShape {
		shape = max(shape, float64(o.Alone*o.Alone)-float64(o.Noise.Sigma*o.Noise.Sigma))
	}
	return shape
}

// involved: an axis takes part in a free direction, of unit length, from this share on.
const involved = 0.1

// motionWords names a direction: "slide along X", "turn about an axis along Z through (0, 0, 0) mm".
func motionWords(v *vec6, centre geom.Vec, lever float64) string {
	shift, turn := geom.Vec{X: v[0], Y: v[1], Z: v[2]}, geom.Vec{X: v[3], Y: v[4], Z: v[5]}.Scale(1/lever)
	if turn.Norm()*lever < involved {
		return "slide along " + axisWords(shift.Unit())
	}
	through := centre.Add(turn.Cross(shift).Scale(1 / turn.Norm2()))
	return fmt.Sprintf("turn about an axis along %s through (%.0f, %.0f, %.0f) mm", axisWords(turn.Unit()), through.X, through.Y, through.Z)
}

// axisWords names a direction: an axis where it is one within 2 degrees, else its components, the greatest made positive.
func axisWords(d geom.Vec) string {
	const near = 0.9994 // cos 2°
	axis := facingAxis(d) % 3
	if d.At(int(axis)) < 0 {
		d = d.Neg()
	}
	if d.At(int(axis)) > near {
		return [...]string{"X", "Y", "Z"}[axis]
	}
	return fmt.Sprintf("(%.2f, %.2f, %.2f)", d.X+0, d.Y+0, d.Z+0)
}

func movedBox(box geom.Box, g geom.Rigid) geom.Box {
	out := geom.EmptyBox()
	for _, p := range box.Corners() {
		out = out.Extend(g.Apply(p))
	}
	return out
}
