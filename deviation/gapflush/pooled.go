package gapflush

import (
	"math"
	"slices"
)

const few = 3 // stations, the fewest whose agreement says something of a seam

// poolForms takes the form of an edge from the stations whose points tell it, where
// they tell another than was stated.
func (j *job) poolForms(first []raw, kn []known) {
	for k := A; k <= B; k++ {
		stated := j.seam.Edges[k]
		best, votes, n := j.voted(first, kn, k)
		if best == Sharp && stated == Chamfer && j.tooCoarseForFacets(first, k) {
			continue
		}
		if best == stated {
			continue
		}
		j.note("Side %s's edge was taken to be %s, but at %d of %d stations its points lie on a %s one: it was measured as that.", sideName[k], formName[stated], votes, n, formName[best])
		if stated == Round && j.seam.Radius[k] > 0 {
			j.note("If side %s's edge is round, the radius stated, %.1f mm, does not fit what the scan shows: check it (radius).", sideName[k], j.seam.Radius[k])
		}
		for i := range kn {
			kn[i].form[k] = best
			if best == Round {
				kn[i].radiusU[k] = freeRadius
			}
		}
	}
}

// voted returns the form of an edge by the points of the stations that tell it, which is the stated one unless most tell
// another; votes is how many of those n tell that. Where few are sure, those that are not count as well.
func (j *job) voted(first []raw, kn []known, k Side) (best EdgeKind, votes, n int) {
	all, n, seen := formVotes(first, kn, k, true)
	if n*4 < seen {
		all, n, seen = formVotes(first, kn, k, false)
	}
	best = j.seam.Edges[k]
	for form := range all {
		// Webs make single stations look otherwise.
		if all[form] > all[best] && all[form]*3 >= n*2 && n*4 >= seen {
			best = EdgeKind(form)
		}
	}
	return best, all[best], n
}

// formVotes counts what form a side's edge has by the stations' points, how many of them say so, on demand the sure ones
// alone, and how many were asked.
func formVotes(first []raw, kn []known, k Side, sure bool) (votes [3]int, n, seen int) {
	for i := range first {
		if first[i].seenA[k] && kn[i].weighed {
			seen++
		}
		if v := &first[i].shows[k]; v.voted && (v.sure || !sure) {
			votes[v.vote]++
			n++
		}
	}
	return votes, n, seen
}

// leastFacet is the width, mm, of the narrowest chamfer that is still one.
const leastFacet = 0.5

// tooCoarseForFacets reports whether a chamfer of leastFacet would hold fewer points than a fit asks
// for: that none was found then does not tell a sharp corner from it.
func (j *job) tooCoarseForFacets(first []raw, k Side) bool {
	var spread []float64
	for i := range first {
		if first[i].seenA[k] {
			spread = append(spread, first[i].spread)
		}
	}
	s := median(spread)
	return s*s > 2*j.seam.Band*leastFacet/minOnArc
}

var formName = [...]string{"round", "chamfered", "sharp"}

const (
	// pickedMean times the share that was left out is by how many standard deviations the mean of the upper part of a normal
	// distribution lies above that of all (Cohen 1959, table 1; to 5 % where a quarter or more is in it).
	pickedMean = 1.7
	// picking is how far what a station shows hangs together with its being asked: an arc that is seen far enough to
	// tell a radius is one that noise made so, in part (common practice, no source).
	picking = 0.5
)

// pooledShown is the median of what stations show of a side, its standard
// uncertainty, and by how much they differ besides their own scatter. What fewer
// than a quarter of them show may be what made them show it.
func pooledShown(first []raw, kn []known, k Side, pick func(*evidence) shown) (mean, u, between float64, n int) {
	var v, own []float64
	faces := 0
	for i := range first {
		if first[i].seenA[k] && kn[i].weighed {
			faces++
		}
		if s := pick(&first[i].shows[k]); s.ok {
			v, own = append(v, s.v), append(own, s.variance)
		}
	}
	if n = len(v); n == 0 || n*4 < faces {
		return 0, 0, 0, 0
	}
	mean = median(slices.Clone(v))
	typical := median(own)
	for i := range v {
		v[i] = math.Abs(v[i] - mean)
	}
	spread := robustSigma(v, 1)
	spread = float64(spread * spread)
	picked := picking * pickedMean * (1 - float64(n)/float64(max(faces, n)))
	// 1.57 is the variance of a median over that of a mean.
	return mean, math.Sqrt(1.57*max(spread, typical)/float64(n) + float64(picked*picked*typical)), math.Sqrt(max(spread-typical, 0)), n
}

// poolRadius corrects the radius assumed by what the stations' points show: a hem
// is made with one tool along its length. Where they contradict it, it is said.
func (j *job) poolRadius(first []raw, kn []known, smoothed bool) {
	const round = 0.03 // mm, hems that are not quite round
	for k := A; k <= B; k++ {
		if kn[0].form[k] != Round {
			continue
		}
		if smoothed && kn[0].radiusU[k] < defaultRadiusU {
			// A filter changes the radius points show more than one that was stated is off.
			for i := range kn {
				kn[i].held[k] = true
			}
			continue
		}
		off, se, between, n := pooledShown(first, kn, k, func(v *evidence) shown {
			s := v.round
			if smoothed {
				s = v.smoothedRound
			}
			s.v -= v.assumed
			return s
		})
		if n == 0 {
			continue
		}
		se = math.Sqrt(float64(se*se) + round*round)
		var stated []float64
		contradicted := 0
		for i := range kn {
			r, ur := &kn[i].radius[k], &kn[i].radiusU[k]
			d := off
			shownR := *r + off
			stated = append(stated, *r)
			against := math.Abs(d) > 2*math.Sqrt(float64(*ur**ur)+float64(se*se))
			if against {
				contradicted++
			}
			switch {
			case n < few && against:
				*ur = max(*ur, math.Abs(d))
			case n < few:
			case smoothed:
				*r, *ur, kn[i].held[k] = shownR, max(shownR/5, *ur/2), true
			case against || *ur >= defaultRadiusU:
				*r = shownR
				*ur = max(math.Sqrt(float64(se*se)+float64(between*between)), inspectionRadiusU)
			default:
				w := 1/float64(*ur**ur) + 1/float64(se*se)
				*r += d / float64(se*se) / w
				*ur = min(max(math.Sqrt(1/w+float64(between*between)), inspectionRadiusU), *ur)
			}
		}
		if contradicted*2 > len(kn) && kn[0].form[k] == j.seam.Edges[k] && (j.seam.Radius[k] > 0 || j.ref != nil) {
			what := "measured with that"
			if n < few {
				what = "the uncertainty was raised"
			}
			j.noteRadius(k, median(stated), off, n, what)
		}
	}
}

// noteRadius says that the points of n stations have a radius that differs by off from the one expected.
func (j *job) noteRadius(k Side, expected, off float64, n int, what string) {
	j.note("Side %s's edge has a radius of %.1f mm by the points of %d stations, where %.1f mm was expected: %s.", sideName[k], expected+off, n, expected, what)
}

// poolSmoothing looks for the trace of a filter in the noise and takes from the
// rolls by how much it drew them inward: smoothing with a kernel of variance s²
// moves a roll of radius r inward by s²/2r, about its own middle.
func (j *job) poolSmoothing(first []raw, kn []known) (smoothed bool) {
	// Crumbs and dents are alike from point to point too, but not in most zones.
	const inMost = 0.02
	var all correlation
	var zones []float64
	asked := 0
	for i := range first {
		for k := A; k <= B; k++ {
			if first[i].seenA[k] && kn[i].weighed {
				asked++
			}
			c := &first[i].shows[k].corr
			all.add(c)
			if v := c.near(); v.ok {
				zones = append(zones, v.v)
			}
		}
	}
	f := all.filtering(len(zones))
	if kn[0].thinned > 0 {
		f.found = false // points laid on faces are alike
	}
	f.found = f.found && median(zones) > inMost
	// Zones as quiet as that say nothing of a filter.
	quiet := 2*len(zones) <= asked && kn[0].thinned == 0
	for k := A; k <= B; k++ {
		sunk, se, between, n := pooledShown(first, kn, k, func(v *evidence) shown { return v.sunk })
		apart, apartU, _, m := pooledShown(first, kn, k, func(v *evidence) shown { return v.apart })
		if q, u, _, _ := pooledShown(first, kn, k, func(v *evidence) shown { return v.quiet }); quiet && q > 0 {
			apartU = u // a filter draws a roll under the face
		}
		arc, seen := shownTo(first, kn, k)
		silent := seen && quiet && kn[0].form[k] == Round && arc < toNose
		for i := range kn {
			switch {
			case kn[i].form[k] != Round:
				if f.found && !math.IsInf(first[i].spread, 1) {
					// A corner is cut by about as much; what is fitted of face, facet and wall lies farther off.
					kn[i].sunkU[k] = first[i].spread / 8
				}
			case f.found:
				// What the filter does at most, and what it does by the points, a third of
				// which its unknown form may be off by.
				most := f.most(kn[i].pitch[k], kn[i].radius[k])
				kn[i].sunk[k], kn[i].sunkU[k] = most/2, most/2
				if n > 0 && sunk < float64(2*most) {
					kn[i].sunk[k] = max(sunk, 0)
					kn[i].sunkU[k] = math.Sqrt(float64(se*se) + float64(between*between) + float64(sunk*sunk)/9 + float64(most*most)/36)
				}
			case m >= few && math.Abs(apart) > 3*apartU, m > 0 && m < few && math.Abs(apart) > 2.5*apartU:
				// No roll that is tangent to the face: of another form, or smoothed by a
				// filter whose trace in the noise of few stations is not plain. Twice this
				// holds the whole of what was found, and half as much again.
				kn[i].formU[k] = float64(0.75 * math.Abs(apart))
				if quiet {
					kn[i].formU[k] *= 2 // without noise nothing tells by how many passes
				}
			}
			kn[i].quiet = quiet && !f.found
			if silent {
				// One filter did both sides: what it moved their noses by adds up.
				kn[i].sunkU[k] = max(kn[i].sunkU[k], math.Sqrt2*silentFilter(kn[i].pitch[k], kn[i].radius[k]))
			}
		}
		if silent {
			j.note("The scan has too little noise to tell by it whether it was smoothed, and too little of side %s's edge was seen to tell it there: unless its points lie exactly on a roll, the uncertainty holds what six passes over neighbouring points would have done.", sideName[k])
		}
	}
	if !f.found {
		return false
	}
	for i := range kn {
		kn[i].shared = f.shared
	}
	j.note("The scan's noise is alike at neighbouring points, as after smoothing, which rounds edges off: they were moved back by %.2f mm on side A and %.2f mm on side B, and the uncertainty holds what is not known of that.", kn[0].sunk[A], kn[0].sunk[B])
	return true
}

// exact is how closely, mm, points lie on a roll of 45° and more that no filter was over: a pass over the neighbours that would move the
// nose by 0.01 mm leaves more, and a file's 32-bit numbers less.
const exact = 2 * leastNoise

// toNose is an arc, 85°, from which on a roll without noise shows by its shape whether it was smoothed.
const toNose = 85 * math.Pi / 180

// silentFilter is the standard uncertainty, mm, of a roll of whose filter nothing is known: six passes over the neighbours of points
// a pitch apart move it by six times as much as one, none does not, and all between is as likely (JCGM 100:2008, 4.3.7).
func silentFilter(pitch, r float64) float64 {
	return 6 * filter{}.most(pitch, r) / math.Sqrt(3)
}

const (
	// slides is how many times as far as its points scatter about it, at one standard uncertainty, the shoulder of a roll without noise
	// lies from the true one where it was seen to its nose. A filter of variance s² draws a roll of radius r inward by s²/2r,
	// but not the face: the circle tangent to that which fits best has the nose nearly there and begins slidBy/arc times
	// as far behind the shoulder, and the points miss it by the less the shorter the arc is, by the fifth power of it at most.
	// Computed for arcs of 40 to 105° and filters to half the radius, and tried on scans that were smoothed.
	slides, slidBy = 12.0, 4.0
)

// bulging is an arc, 60°, below which the best circle's radius grows so much by a filter that the nose moves by more than the roll was
// drawn inward: of 50° by 5 times as much, of 40° by 10 times.
const bulging = 60 * math.Pi / 180

// slid is the standard uncertainty, mm, of a roll's shoulder along the face for a filter that no noise tells: by how badly the
// points lie on the roll, and by silentFilter at most.
func (e *edge) slid(pitch, r float64) float64 {
	arc := min(e.seen, toNose)
	q := toNose / arc
	return min(slides*max(e.misses-exact, 0)*float64(q*q*q*q*q), silentFilter(pitch, r)*slidBy/arc)
}

// shownTo is the median, in radians, of how much of a side's rolls was seen where they tell what a seam's edges are, 0 where no
// roll was found; seen: that side's face was.
func shownTo(first []raw, kn []known, k Side) (arc float64, seen bool) {
	var arcs []float64
	for i := range first {
		if !kn[i].weighed || !first[i].seenA[k] {
			continue
		}
		seen = true
		if e := &first[i].side[k].edge; e.found && e.kind == Round {
			arcs = append(arcs, e.seen)
		}
	}
	return median(arcs), seen
}
