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
// where none is stated: the one whose roll holds the most points of some stations; n is how many tell it, and u the standard
// uncertainty that one of them has of it. Only rolls of which at least an arc was seen, radians, count.
func (j *job) firstRadius(ctx context.Context, c *cutter, unknown [2]bool, arc float64) (r [2]float64, n [2]int, u [2]float64, err error) {
	r = [2]float64{defaultRadius, defaultRadius}
	if !unknown[A] && !unknown[B] {
		return r, n, u, nil
	}
	looks := min(firstLooks, len(j.at))
	type tried struct{ r, n, u [2]float64 }
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
				if e := &o.side[k].edge; e.found && e.kind == Round && e.seen >= arc && !e.sparse {
					found[i].r[k], found[i].n[k], found[i].u[k] = e.r, float64(e.n), math.Sqrt(e.data[1][1])
				}
			}
		}
	})
	for k := A; k <= B && err == nil; k++ {
		if !unknown[k] {
			continue
		}
		var sure, own []float64
		for look := range looks {
			of := found[look*len(firstRadii) : (look+1)*len(firstRadii)]
			most := 0.0
			for i := range of {
				most = math.Max(most, of[i].n[k])
			}
			best, with := math.Inf(1), 0.0
			for i := range of {
				if of[i].n[k] > 0 && of[i].n[k] >= besideBest*most && of[i].r[k] < best {
					best, with = of[i].r[k], of[i].u[k]
				}
			}
			if !math.IsInf(best, 1) {
				sure, own = append(sure, best), append(own, with)
			}
		}
		if len(sure) > 0 {
			r[k], n[k], u[k] = median(sure), len(sure), median(own)
		}
	}
	return r, n, u, err
}

// unlike is by what share, and unlikeLeast by how many mm at least, a radius that points show alone differs from the stated one
// where that is not believed; smaller errors the fits find by themselves. It is to be out by clearlyUnlike standard uncertainties, too.
const unlike, unlikeLeast, clearlyUnlike = 0.25, 0.3, 4.0

// unlikeArc is how much of a roll must be seen to say that its radius is not the stated one: what less than tellingArc shows
// is not known well, but may be far from that.
const unlikeArc = 35 * math.Pi / 180

// contradicted says which stated radii the points of some stations plainly contradict, and what they show instead. A radius that is
// far off would bend the fits so much that they tell a web, a chamfer or nothing.
func (j *job) contradicted(ctx context.Context, c *cutter) (is [2]bool, r, u [2]float64, err error) {
	var stated [2]bool
	for k := A; k <= B; k++ {
		stated[k] = j.seam.Edges[k] == Round && j.seam.Radius[k] > 0
	}
	if err = j.leaveShown(ctx, c, &stated); err != nil {
		return is, r, u, err
	}
	r, n, u, err := j.firstRadius(ctx, c, stated, unlikeArc)
	for k := A; k <= B; k++ {
		if !stated[k] || err != nil || n[k] < few {
			continue
		}
		off := math.Abs(r[k] - j.seam.Radius[k])
		is[k] = off > max(unlike*j.seam.Radius[k], unlikeLeast, clearlyUnlike*u[k])
		if is[k] {
			j.noteUnlike(k, r[k], n[k])
		}
	}
	return is, r, u, err
}

const (
	// shownBeside is by what share, and shownLeast by how many mm, a radius may differ from the stated one and be that.
	shownBeside, shownLeast = 0.15, 0.2
)

// leaveShown takes those stated radii out of a list that most of some stations show when the fits begin from them and are free: there is no
// need to look for others.
func (j *job) leaveShown(ctx context.Context, c *cutter, stated *[2]bool) error {
	if !stated[A] && !stated[B] {
		return nil
	}
	looks := min(firstLooks, len(j.at))
	shown := make([][2]bool, looks)
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, looks, 1, j.set.Threads, nil, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			kn := known{form: j.seam.Edges, noise: assumedNoise, radius: j.seam.Radius, radiusU: [2]float64{freeRadius, freeRadius}}
			for k := A; k <= B; k++ {
				if !stated[k] && !(kn.radius[k] > 0) {
					kn.radius[k] = defaultRadius
				}
			}
			o := c.fit(&workers[w], j.at[(2*i+1)*len(j.at)/(2*looks)], kn, geom.Vec{}, nil)
			for k := A; k <= B; k++ {
				e, r := &o.side[k].edge, j.seam.Radius[k]
				shown[i][k] = e.found && e.kind == Round && !e.webbed && e.seen >= tellingArc && math.Abs(e.r-r) <= max(shownBeside*r, shownLeast)
			}
		}
	})
	for k := A; k <= B; k++ {
		n := 0
		for i := range shown {
			if shown[i][k] {
				n++
			}
		}
		if 2*n > looks {
			stated[k] = false
		}
	}
	return err
}

// noteUnlike says that the radius stated is not the one that the points of n stations show.
func (j *job) noteUnlike(k Side, r float64, n int) {
	j.note("The radius stated for side %s's edge, %.1f mm, does not fit what the scan shows, which is one of %.1f mm by the points of %d stations: measured with that. Mend what was stated (radius).", sideName[k], j.seam.Radius[k], r, n)
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
	r, n, _, err := j.firstRadius(ctx, c, wrong, tellingArc)
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
