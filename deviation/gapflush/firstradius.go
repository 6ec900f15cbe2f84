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
// where none is stated: the one whose roll holds the most points of some stations.
func (j *job) firstRadius(ctx context.Context, c *cutter, unknown [2]bool) (r [2]float64, err error) {
	r = [2]float64{defaultRadius, defaultRadius}
	if !unknown[A] && !unknown[B] {
		return r, nil
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
				if e := &o.side[k].edge; e.found && e.kind == Round && e.seen >= tellingArc {
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
			r[k] = median(sure)
		}
	}
	return r, err
}
