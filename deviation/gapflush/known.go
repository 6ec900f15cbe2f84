package gapflush

import (
	"context"
	"math"
	"slices"
)

// known is what is taken for granted at a station before it is measured.
type known struct {
	curvature  [2]float64 // of the faces across the seam, 1/mm
	curvatureU [2]float64
	radius     [2]float64 // mm
	radiusU    [2]float64
	givenU     [2]float64 // as radiusU was before the scan's points said anything of the radius
	gathers    bool       // this station is one of those that say what form the seam's edges have
	pitch      [2]float64 // mm, spacing of points on the edges hereabouts; 0: not known
	facet      [2]float64 // mm, how wide chamfers hereabouts are; 0: not known
	noise      float64    // mm
	weighed    bool       // this station is one of those that say what the seam's edges are
	apart      bool       // it is one of those that have no points in common, and say how the seam's faces bend
	form       [2]EdgeKind
	sunk       [2]float64 // mm, by which smoothing drew the edges' rolls inward
	sunkU      [2]float64
	held       [2]bool    // the points are not believed about the radius
	quiet      bool       // the scan has no noise that tells whether it was smoothed
	formU      [2]float64 // mm, standard uncertainty of the edges for their form
	thinned    float64    // by how many times as many points lie on faces as there are true ones; 0 counts as 1
	grazedU    [2]float64 // mm, standard uncertainty of noses that were seen grazingly
	uneven     [2]*uneven // how the points of the rolls scatter; nil: alike
	shared     float64    // by how much a mean's variance is larger than that of as many independent points; 0 counts as 1
}

// besideRadii is how many stations to either side tell the radius of a hem on a reference that is a scan.
const besideRadii = 5

// referenceRadii returns the radii that the reference shows at each station, mm, 0 where none. A scan's points scatter: one station of
// it may show nearly twice the radius, and a hem's changes slowly, so that there the median of the stations around counts.
func (j *job) referenceRadii() (of [2][]float64) {
	for k := A; k <= B; k++ {
		of[k] = make([]float64, len(j.ref))
		for i := range j.ref {
			lo, hi := i, i+1
			if j.set.Scanned {
				lo, hi = max(i-besideRadii, 0), min(i+besideRadii+1, len(j.ref))
			}
			var r []float64
			for _, s := range j.ref[lo:hi] {
				if s.side[k].edge.toldWhole() {
					r = append(r, s.side[k].edge.r)
				}
			}
			if j.ref[i].side[k].edge.toldWhole() {
				of[k][i] = median(r)
			}
		}
	}
	return of
}

// wholeFrom is how much of a reference's roll is shown where it tells its radius and its nose: a drawing has all of it, a
// scan may end before, and what is carried on has an uncertainty that no nominal has.
const wholeFrom = 75 * math.Pi / 180

// toldWhole reports whether a reference shows an edge to near its nose.
func (e *edge) toldWhole() bool { return e.found && (e.kind != Round || e.seen >= wholeFrom) }

// before returns what is known of every station before it is measured on the scan; a
// radius that neither the inspection nor the reference tells is looked for at some.
func (j *job) before(ctx context.Context, c *cutter) ([]known, error) {
	kn := make([]known, len(j.at))
	var pooled [2]float64
	unknown := j.unstated()
	for k := A; k <= B; k++ {
		var r []float64
		for i := range j.ref {
			if j.ref[i].side[k].edge.toldWhole() {
				r = append(r, j.ref[i].side[k].edge.r)
			}
		}
		pooled[k] = median(r)
		unknown[k] = unknown[k] && len(r) == 0
	}
	shown := j.referenceRadii()
	begin, _, _, err := j.firstRadius(ctx, c, unknown, tellingArc)
	if err != nil {
		return nil, err
	}
	is, other, otherU, err := j.contradicted(ctx, c, pooled)
	if err != nil {
		return nil, err
	}
	for k := A; k <= B; k++ {
		if is[k] {
			begin[k], j.seam.Radius[k] = other[k], 0
		}
		if unknown[k] {
			j.note("The radius of side %s's edge was not given and no reference shows it; %.1f mm with a standard uncertainty of %.1f mm was assumed.", sideName[k], begin[k], defaultRadiusU)
			j.assumed = append(j.assumed, j.result.Notes[len(j.result.Notes)-1])
		}
	}
	var apart [2]float64
	for k := A; k <= B; k++ {
		if d := math.Abs(j.seam.Radius[k] - pooled[k]); j.seam.Radius[k] > 0 && pooled[k] > 0 && j.seam.Edges[k] == Round && d > contradicts*math.Sqrt(inspectionRadiusU*inspectionRadiusU+referenceRadiusU*referenceRadiusU) {
			apart[k] = d
			j.note("The radius stated for side %s's edge, %.1f mm, is not the reference's, %.1f mm: where the points do not tell it, the uncertainty holds both. Mend what was stated (radius), or leave it out.", sideName[k], j.seam.Radius[k], pooled[k])
		}
	}
	const enough = 64 // stations tell what a seam shares
	step := (len(kn) + enough - 1) / enough
	own := j.apart()
	for i := range kn {
		kn[i].apart = i%own == own/2
		kn[i].weighed = i%step == step/2
		kn[i].noise, kn[i].form = assumedNoise, j.seam.Edges
		if j.set.Noise > 0 {
			kn[i].noise = j.set.Noise
		}
		for k := A; k <= B; k++ {
			switch {
			case j.seam.Radius[k] > 0:
				kn[i].radius[k], kn[i].radiusU[k] = j.seam.Radius[k], max(inspectionRadiusU, apart[k]/2)
			case is[k]:
				kn[i].radius[k], kn[i].radiusU[k] = begin[k], max(defaultRadiusU, otherU[k])
			case j.ref != nil && shown[k][i] > 0:
				kn[i].radius[k], kn[i].radiusU[k] = shown[k][i], referenceRadiusU
			case pooled[k] > 0:
				kn[i].radius[k], kn[i].radiusU[k] = pooled[k], referenceRadiusU
			default:
				kn[i].radius[k], kn[i].radiusU[k] = begin[k], defaultRadiusU
			}
			kn[i].givenU[k] = kn[i].radiusU[k]
			if j.ref != nil && j.ref[i].seenA[k] {
				kn[i].curvature[k] = j.ref[i].side[k].face.quad
			}
		}
	}
	return kn, nil
}

// apart is of how many stations one is taken so that those have no points in common, or are few.
func (j *job) apart() int {
	own := int(math.Ceil(2 * j.seam.Band / j.seam.Every))
	return max(min(own, len(j.at)/few), 1)
}

// pool takes the noise and the curvatures from the whole seam. A reference's
// curvature stays where the scan's own zones agree with it. scatter is that of points which none were laid among, 0
// where the zones' own counts.
func (j *job) pool(first []raw, kn []known, scatter float64) {
	var sigmas []float64
	for i := range first {
		for k := A; k <= B; k++ {
			if first[i].seenA[k] {
				f := &first[i].side[k].face
				if f.bent != nil {
					f = f.bent // of points about a face that is bent as they are
				}
				sigmas = append(sigmas, f.sigma)
			}
		}
	}
	j.noise = j.set.Noise
	if j.noise <= 0 {
		if j.noise = max(median(sigmas), leastNoise); scatter > 0 {
			j.noise = max(scatter, leastNoise)
		}
	}
	for k := A; k <= B; k++ {
		mean, u := pooledCurvature(first, k, nil)
		off, offU := 0.0, math.Inf(1)
		if j.ref != nil {
			off, offU = pooledCurvature(first, k, j.ref)
		}
		for i := range kn {
			kn[i].noise = j.noise
			c, uc := mean, u
			if j.ref != nil && j.ref[i].seenA[k] {
				if v, uv, ok := j.curvatureFrom(i, k, u); ok {
					// What the scan's zones have more than the reference's, as far as they tell.
					data, taken := 1/float64(offU*offU), 1/float64(uv*uv)
					c, uc = v+float64(off*data/(data+taken)), 1/math.Sqrt(data+taken)
				}
			}
			if f := &first[i].side[k].face; first[i].seenA[k] && f.quadU > 0 {
				b, ub := f.bend()
				if math.Abs(b-c) > 4*math.Sqrt(float64(ub*ub)+float64(uc*uc)) {
					c, uc = mean, u
				}
				// What even the chosen curvature does not explain counts as not known.
				if d := math.Abs(b - c); d > 4*math.Sqrt(float64(ub*ub)+float64(uc*uc)) {
					uc = max(uc, d/2)
				}
				c, uc = f.across(c), f.across(uc)
			}
			kn[i].curvature[k], kn[i].curvatureU[k] = c, uc
		}
	}
}

// curvatureFrom returns the curvature a reference shows at a station and how far a panel
// may be from it; a reference that was scanned itself may tell less than the seam's own
// mean, known to u: then ok is false.
func (j *job) curvatureFrom(i int, k Side, u float64) (c, uc float64, ok bool) {
	c, own := j.ref[i].side[k].face.bend()
	// A tenth of the curvature, and the 2 % of 1/m two panels of one shape differ by.
	uc = math.Abs(c)/10 + 2e-5
	if own > uc/2 {
		// It has noise of its own, which neighbours have each for themselves.
		c, own = j.referenceCurvature(i, k)
		uc = math.Sqrt(float64(uc*uc) + float64(own*own))
		return c, uc, own <= u
	}
	return c, uc, true
}

// referenceCurvature is the mean of what a noisy reference shows at a station and at those beside it, with the
// standard uncertainty of that mean, of their scatter or of their own, whichever is more.
func (j *job) referenceCurvature(i int, k Side) (c, u float64) {
	const beside = 4 // stations either way, over which a panel bends alike
	var q []float64
	own := 0.0
	for d := range around(i, len(j.ref), beside, j.apart()) {
		if r := &j.ref[d]; r.seenA[k] && r.side[k].face.quadU > 0 {
			c, u := r.side[k].face.bend()
			q = append(q, c)
			own += float64(u * u)
		}
	}
	n := float64(len(q))
	for _, v := range q {
		c += v / n
	}
	scatter := 0.0
	for _, v := range q {
		scatter += float64((v - c) * (v - c))
	}
	u = math.Sqrt(own) / n
	if n > 1 {
		u = max(u, math.Sqrt(scatter/(n-1)/n))
	}
	return c, u
}

// pitches gives every station the spacing of points on the edges hereabouts: the
// median over the stations beside it, for one station's few points scatter. Where
// no edge was found at all it is the spacing on the faces.
func pitches(first []raw, kn []known, stride int) {
	const beside = 4 // stations either way
	for i := range kn {
		for k := A; k <= B; k++ {
			var near, wide []float64
			for d := range around(i, len(first), beside, stride) {
				if p := first[d].side[k].pitch; p > 0 {
					near = append(near, p)
				}
				if e := &first[d].side[k].edge; e.found && e.kind == Chamfer {
					wide = append(wide, e.facet())
				}
			}
			kn[i].facet[k] = median(wide)
			if kn[i].pitch[k] = median(near); len(near) == 0 && !math.IsInf(first[i].spread, 1) {
				kn[i].pitch[k] = first[i].spread
			}
		}
	}
}

// pooledCurvature is the robust mean of what the stations' faces show, with a reference
// of what they have more than it, and how far a station may lie from the mean: the
// scatter their own noise does not explain. Where longer stretches than the zones bend as
// parabolas do, they say it.
func pooledCurvature(first []raw, k Side, ref []raw) (mean, u float64) {
	if mean, u, ok := pooledWide(first, k, ref); ok {
		return mean, u
	}
	q, uu := shownBy(first, k, ref, func(f *face) (c, u float64, ok bool) {
		c, u = f.bend()
		return c, u, f.quadU > 0
	})
	switch {
	case len(q) == 0 && ref != nil:
		return 0, math.Inf(1)
	case len(q) == 0:
		return 0, 5e-4 // a radius of 2 m either way
	}
	mean, u = robustMean(q, uu)
	return mean, u + bendLeast
}

// bendLeast is by how much, 1/mm, a face may bend otherwise before its edge than in its
// zone where nothing says so.
const bendLeast = 2e-5

// pooledWide is pooledCurvature of longer stretches; ok is false where few stations have
// them or they bend ever more toward the gap.
func pooledWide(first []raw, k Side, ref []raw) (mean, u float64, ok bool) {
	const (
		most   = 0.75 // of the stations whose faces were seen
		beyond = 2.5  // standard uncertainties of the change
	)
	faces, arm := 0, 0.0
	for i := range first {
		if f := &first[i].side[k].face; first[i].seenA[k] && first[i].apart && f.quadU > 0 {
			faces++
			arm = max(arm, f.wide.arm)
		}
	}
	q, uu := shownBy(first, k, ref, func(f *face) (c, u float64, ok bool) { return f.wide.c, f.wide.u, f.wide.ok })
	changes, own := shownBy(first, k, ref, func(f *face) (c, u float64, ok bool) { return f.wide.change, f.wide.moreU, f.wide.ok })
	if len(q) < few || float64(len(q)) < most*float64(faces) {
		return 0, 0, false
	}
	mean, u = robustMean(q, uu)
	// What the faces leave room for of a change over the arm, and no more than panels have.
	change, changeU := robustMean(changes, own)
	shown, room := math.Abs(arm*change), arm*changeU
	had := math.Abs(mean)/10 + bendLeast
	switch {
	case shown > beyond*room && shown > had:
		return 0, 0, false
	case shown > beyond*room:
		room = shown
	default:
		room = 1 / math.Sqrt(1/float64(room*room)+1/float64(had*had))
	}
	return mean, math.Sqrt(float64(u*u) + float64(room*room)), true
}

// shownBy gathers what the faces of stations without points in common show, with a reference of what they have more than it.
func shownBy(first []raw, k Side, ref []raw, pick func(*face) (c, u float64, ok bool)) (q, uu []float64) {
	for i := range first {
		if !first[i].seenA[k] || !first[i].apart {
			continue
		}
		c, own, ok := pick(&first[i].side[k].face)
		if ref != nil && ok {
			var drawn float64
			if ok = ref[i].seenA[k]; ok {
				drawn, _, ok = pick(&ref[i].side[k].face)
			}
			c -= drawn
		}
		if ok {
			q, uu = append(q, c), append(uu, own)
		}
	}
	return q, uu
}

// robustMean is the mean of values with standard uncertainties of their own, and how far one may
// lie from it.
func robustMean(q, uu []float64) (mean, u float64) {
	n := float64(len(q))
	typical := median(uu)
	middle := median(slices.Clone(q))
	off := make([]float64, len(q))
	for i := range q {
		off[i] = math.Abs(q[i] - middle)
	}
	spread := robustSigma(off, 1)
	scale := max(spread, typical)
	if scale == 0 {
		return middle, 0
	}
	sum, weights := 0.0, 0.0
	for _, c := range q {
		w := tukey(c-middle, scale)
		sum += float64(w * (c - middle))
		weights += w
	}
	mean = middle + sum/weights
	between := math.Sqrt(max(float64(spread*spread)-float64(typical*typical), 0))
	// One step of the biweight from the median is about 95 % efficient.
	return mean, math.Sqrt(max(spread*spread, typical*typical)/(0.95*n) + float64(between*between))
}
