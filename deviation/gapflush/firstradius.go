package gapflush

import (
	"context"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// firstRadii are the radii, mm, from which an edge of unknown radius is fitted: from
// sharp hems to wide ones each is within twice the next, from where the fit finds the true one.
var firstRadii = [...]float64{0.7, 1.5, 3, 5}

const (
	// firstLooks is how many stations tell a radius that nothing states.
	firstLooks = 5
	// besideBest is by how much fewer points a smaller radius may hold and be taken: a
	// large roll laid over a small one and a piece of its wall holds hardly more.
	besideBest = 0.95
)

// firstRadius returns, side by side, the radius from which the fits had best begin
// where none is stated: the one whose roll holds the most points of some stations; n is how many tell it.
func (j *job) firstRadius(ctx context.Context, c *cutter, unknown [2]bool) (r [2]float64, n [2]int, err error) {
	r = [2]float64{defaultRadius, defaultRadius}
	if !unknown[A] && !unknown[B] {
		return r, n, nil
	}
	looks := min(firstLooks, len(j.at))
	type tried struct{ r, n [2]float64 }
	found := make([]tried, looks*len(firstRadii))
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err = parallel.Chunks(ctx, len(found), 1, j.set.Threads, nil, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			s := j.at[(2*(i/len(firstRadii))+1)*len(j.at)/(2*looks)]
			kn := known{form: j.seam.Edges, noise: assumedNoise}
			for k := A; k <= B; k++ {
				kn.radius[k], kn.radiusU[k] = firstRadii[i%len(firstRadii)], freeRadius
				if !unknown[k] {
					kn.radius[k], kn.radiusU[k] = j.seam.Radius[k], inspectionRadiusU
				}
			}
			o := c.fit(&workers[w], s, kn, geom.Vec{}, nil)
			for k := A; k <= B; k++ {
				if e := &o.side[k].edge; e.found && e.kind == Round && e.seen >= tellingArc && !e.sparse {
					found[i].r[k], found[i].n[k] = e.r, float64(e.n)
				}
			}
		}
	})
	for k := A; k <= B && err == nil; k++ {
		if !unknown[k] {
			continue
		}
		var sure []float64
		for look := range looks {
			of := found[look*len(firstRadii) : (look+1)*len(firstRadii)]
			most := 0.0
			for i := range of {
				most = math.Max(most, of[i].n[k])
			}
			best := math.Inf(1)
			for i := range of {
				if of[i].n[k] > 0 && of[i].n[k] >= besideBest*most {
					best = min(best, of[i].r[k])
				}
			}
			if !math.IsInf(best, 1) {
				sure = append(sure, best)
			}
		}
		if len(sure) > 0 {
			r[k], n[k] = median(sure), len(sure)
		}
	}
	return r, n, err
}

// restate looks for the radius of edges of which a smaller one was stated than points lie apart, and hardly a station
// has such a roll: it would be too small to be seen. again says that there is another, to look at the scan with.
func (j *job) restate(ctx context.Context, c *cutter, first []raw, kn []known) (again bool, err error) {
	const hardly = 3 // of so many stations one
	var wrong [2]bool
	for k := A; k <= B; k++ {
		if kn[0].form[k] != Round || !(j.seam.Radius[k] > 0) {
			continue
		}
		var spread []float64
		rolls := 0
		for i := range first {
			if !first[i].seenA[k] {
				continue
			}
			spread = append(spread, first[i].spread)
			if first[i].side[k].edge.found {
				rolls++
			}
		}
		wrong[k] = len(spread) > 0 && median(spread) > j.seam.Radius[k] && rolls*hardly < len(spread)
	}
	if !wrong[A] && !wrong[B] {
		return false, nil
	}
	r, n, err := j.firstRadius(ctx, c, wrong)
	if err != nil {
		return false, err
	}
	for k := A; k <= B; k++ {
		if !wrong[k] || n[k] < few {
			continue
		}
		again = true
		j.noteRadius(k, j.seam.Radius[k], r[k]-j.seam.Radius[k], n[k], "measured with that")
		for i := range kn {
			kn[i].radius[k], kn[i].radiusU[k] = r[k], defaultRadiusU
		}
	}
	return again, nil
}
