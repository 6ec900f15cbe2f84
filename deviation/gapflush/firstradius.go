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
	edges, err := j.freely(ctx, c, unknown, len(firstRadii), func(_ Side, from int) float64 { return firstRadii[from] })
	for k := A; k <= B && err == nil; k++ {
		if !unknown[k] {
			continue
		}
		var sure, own []float64
		for look := range looks {
			of := edges[look*len(firstRadii) : (look+1)*len(firstRadii)]
			most := 0
			for i := range of {
				if of[i][k].tells(arc) {
					most = max(most, of[i][k].n)
				}
			}
			var best *edge
			for i := range of {
				if e := &of[i][k]; e.tells(arc) && float64(e.n) >= besideBest*float64(most) && (best == nil || e.r < best.r) {
					best = e
				}
			}
			if best != nil {
				sure, own = append(sure, best.r), append(own, math.Sqrt(best.data[1][1]))
			}
		}
		if len(sure) > 0 {
			r[k], n[k], u[k] = median(sure), len(sure), median(own)
		}
	}
	return r, n, u, err
}

// tells reports whether a free fit of an edge says its radius, at least an arc of it being seen.
func (e *edge) tells(arc float64) bool {
	return e.found && e.kind == Round && e.seen >= arc && !e.sparse
}

// freely fits the edges of firstLooks stations, the radii that are unknown being free, from so many beginnings each; those of a
// station stand one after another.
func (j *job) freely(ctx context.Context, c *cutter, unknown [2]bool, beginnings int, begin func(k Side, from int) float64) ([][2]edge, error) {
	looks := min(firstLooks, len(j.at))
	out := make([][2]edge, looks*beginnings)
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, len(out), 1, j.set.Threads, nil, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			s := j.at[(2*(i/beginnings)+1)*len(j.at)/(2*looks)]
			kn := known{form: j.seam.Edges, noise: assumedNoise}
			for k := A; k <= B; k++ {
				switch {
				case unknown[k]:
					kn.radius[k], kn.radiusU[k] = begin(k, i%beginnings), freeRadius
				case j.seam.Radius[k] > 0:
					kn.radius[k], kn.radiusU[k] = j.seam.Radius[k], inspectionRadiusU
				default:
					kn.radius[k], kn.radiusU[k] = defaultRadius, defaultRadiusU
				}
			}
			o := c.fit(&workers[w], s, kn, geom.Vec{}, nil)
			out[i] = [2]edge{o.side[A].edge, o.side[B].edge}
		}
	})
	return out, err
}

// unlike is by what share, and unlikeLeast by how many mm at least, a radius that points show alone differs from the stated one
// where that is not believed; smaller errors the fits find by themselves. It is to be out by clearlyUnlike standard uncertainties, too.
const unlike, unlikeLeast, clearlyUnlike = 0.25, 0.3, 4.0

// leastHem is the least radius, mm, that the edge of a sheet folded over is made with (common practice, no source): what is drawn
// with less is drawn as a corner.
const leastHem = 0.5

// unlikeArc is how much of a roll must be seen to say that its radius is not the stated one: what less than tellingArc shows
// is not known well, but may be far from that.
const unlikeArc = 35 * math.Pi / 180

// contradicted says which radii, stated or, where the reference has a corner, drawn, mm, 0 for none, the points of some
// stations plainly contradict, and what they show instead. A hem that is drawn is one: what looks otherwise is a filter, a web,
// or a seal in the gap. A radius that is far off would bend the fits so much that they tell a web, a
// chamfer or nothing.
func (j *job) contradicted(ctx context.Context, c *cutter, drawn [2]float64) (is [2]bool, r, u [2]float64, err error) {
	var stated [2]bool
	expected := j.seam.Radius
	for k := A; k <= B; k++ {
		if !(expected[k] > 0) && drawn[k] < leastHem {
			expected[k] = drawn[k]
		}
		stated[k] = j.seam.Edges[k] == Round && expected[k] > 0
	}
	if err = j.leaveShown(ctx, c, &stated, expected); err != nil {
		return is, r, u, err
	}
	r, n, u, err := j.firstRadius(ctx, c, stated, unlikeArc)
	for k := A; k <= B; k++ {
		if !stated[k] || err != nil || n[k] < few {
			continue
		}
		off := math.Abs(r[k] - expected[k])
		is[k] = off > max(unlike*expected[k], unlikeLeast, clearlyUnlike*u[k])
		switch {
		case is[k] && j.seam.Radius[k] > 0:
			j.noteUnlike(k, r[k], n[k])
		case is[k]:
			j.noteUndrawn(k, expected[k], r[k], n[k])
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
func (j *job) leaveShown(ctx context.Context, c *cutter, stated *[2]bool, expected [2]float64) error {
	if !stated[A] && !stated[B] {
		return nil
	}
	edges, err := j.freely(ctx, c, *stated, 1, func(k Side, _ int) float64 { return expected[k] })
	for k := A; k <= B; k++ {
		n, r := 0, expected[k]
		for i := range edges {
			if e := &edges[i][k]; e.tells(tellingArc) && !e.webbed && math.Abs(e.r-r) <= max(shownBeside*r, shownLeast) {
				n++
			}
		}
		stated[k] = stated[k] && 2*n <= len(edges)
	}
	return err
}

// noteUnlike says that the radius stated is not the one that the points of n stations show.
func (j *job) noteUnlike(k Side, r float64, n int) {
	j.note("The radius stated for side %s's edge, %.1f mm, does not fit what the scan shows, which is one of %.1f mm by the points of %d stations: measured with that. Mend what was stated (radius).", sideName[k], j.seam.Radius[k], r, n)
}

// noteUndrawn says that the radius the reference is drawn with is not the one that the points of n stations show.
func (j *job) noteUndrawn(k Side, drawn, r float64, n int) {
	j.note("The reference has side %s's edge with a radius of %.1f mm, but the scan shows one of %.1f mm by the points of %d stations: measured with that.", sideName[k], drawn, r, n)
}
