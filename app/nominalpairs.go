package app

import (
	"fmt"
	"math"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// likeness is the least cosine, on average over the stations, by which directions of two seams are those of one another's
// picture: panels of the two sides of a body lean within 45° of it.
const likeness = 0.7071

// pairing is how the stations of one seam lie by those of another. A is on the left of
// both paths, so that a mirrored seam, with the same panel as side A, runs the other way, and one
// that was only moved runs the same way.
type pairing struct {
	at      []float64 // mm along the other's path, for each station
	across  bool      // the other is the mirror picture
	swapped bool      // side A is the panel that is side B there
	why     unlike    // they cannot be paired; 0: they can
}

// unlike is why two seams cannot be paired.
type unlike uint8

const (
	otherLength unlike = iota + 1
	otherWay
)

// told says in a note how the stations were paired.
func (p *pairing) told() string {
	switch {
	case p.across && !p.swapped:
		return "It was taken as this seam's mirror picture: the first station here stands across from the last there."
	case p.across:
		return "It was taken as this seam's mirror picture, of which sides A and B have changed places: the first station here stands across from the first there."
	}
	return "It was taken as lying the same way as this seam: the first station here has the nominal of the first there."
}

// refused says why seam from, as it was paired with own, gives own no nominal, of the flush or of the gap; "" where it gives one.
func (p *pairing) refused(own, from *gapflush.Result, flush bool) string {
	name := from.Seam.Name
	switch {
	case sameGap(own, from):
		return fmt.Sprintf("seam %q lies in the same gap as this one, which is no nominal for itself; name another seam", name)
	case p.why == otherLength:
		return fmt.Sprintf("the path of seam %q is neither this one's mirror picture nor as long (%.0f and %.0f mm); lay both paths over the same stretch", name, lengthOf(own.Seam.Path), lengthOf(from.Seam.Path))
	case p.why == otherWay:
		return fmt.Sprintf("whether seam %q lies the same way as this one or is its mirror picture cannot be told by which way their panels lie and face; side A must be the same panel of both: where it is not, write the points of one path the other way round", name)
	case p.swapped && flush:
		return fmt.Sprintf("side A of seam %q is the panel that is side B here, so that its flush is counted the other way; write the points of one path the other way round, and mind the master", name)
	case !p.swapped && own.Seam.Master != from.Seam.Master:
		return fmt.Sprintf("seam %q has the other side as its master; give both the same", name)
	}
	return ""
}

// pair tells how the stations of r lie by those of other: by place where one path is the other's picture in the
// plane y = 0, else, for paths of one length, by which way the panels lie and face.
func pair(r, other *gapflush.Result) pairing {
	p, far := pairing{across: true}, 0.0
	for _, s := range r.Stations {
		along, d := geom.NearestOnPath(mirrored(s.P), other.Seam.Path)
		p.at = append(p.at, along)
		far = max(far, d)
	}
	if far <= mirroredWithin {
		p.swapped = len(p.at) > 1 && p.at[len(p.at)-1] > p.at[0]
		return p
	}
	a, b := lengthOf(r.Seam.Path), lengthOf(other.Seam.Path)
	if math.Abs(a-b) > lengthsWithin*max(a, b) {
		p.why = otherLength
		return p
	}
	moved, turned := alikeness(r, other, a, b)
	switch {
	case moved >= likeness && turned < likeness:
		p.across = false
	case turned < likeness || moved >= likeness:
		p.why = otherWay
		return p
	}
	for k, s := range r.Stations {
		p.at[k] = float64(s.Along * b / a)
		if p.across {
			p.at[k] = b - p.at[k]
		}
	}
	return p
}

// sameGapWithin is how far from another path, mm, stations lie at most that are in the same gap: the widest measured is 12 mm.
const sameGapWithin = 6.0

// sameGap reports whether two seams lie in the same gap.
func sameGap(r, other *gapflush.Result) bool {
	for _, s := range r.Stations {
		if _, d := geom.NearestOnPath(s.P, other.Seam.Path); d > sameGapWithin {
			return false
		}
	}
	return len(r.Stations) > 0
}

// alikeness returns how well the directions of r's stations, outward and from A to B, are those of other: moved along with r,
// and mirrored in the plane midway between the two with the other end first; mean cosines of the worse of
// the two directions.
func alikeness(r, other *gapflush.Result, a, b float64) (moved, turned float64) {
	n := middleOf(other).Sub(middleOf(r)).Unit()
	mirror := func(d geom.Vec) geom.Vec { return d.AddScaled(-2*d.Dot(n), n) }
	for _, s := range r.Stations {
		at := float64(s.Along * b / a)
		same, opposite := nearestAlong(other, at), nearestAlong(other, b-at)
		moved += min(s.U.Dot(same.U), s.A.Dot(same.A))
		turned += min(mirror(s.U).Dot(opposite.U), mirror(s.A).Dot(opposite.A))
	}
	count := float64(max(1, len(r.Stations)))
	return moved / count, turned / count
}

// nearestAlong returns the station that stands nearest to a length along the path, mm.
func nearestAlong(r *gapflush.Result, at float64) *gapflush.Station {
	best := &gapflush.Station{Along: math.Inf(1)}
	for k := range r.Stations {
		if s := &r.Stations[k]; math.Abs(s.Along-at) < math.Abs(best.Along-at) {
			best = s
		}
	}
	return best
}

// middleOf returns the mean of a seam's stations.
func middleOf(r *gapflush.Result) geom.Vec {
	var sum geom.Vec
	for k := range r.Stations {
		sum = sum.Add(r.Stations[k].P)
	}
	return sum.Scale(1 / float64(max(1, len(r.Stations))))
}
