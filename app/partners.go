package app

import (
	"fmt"
	"math"

	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

const (
	// alikeRun is the cosine of 45°: paths that run more unlike have no places in common.
	alikeRun = 0.7
	// straightRun is the share of its length that a path's ends are apart at least, for it to run one way.
	straightRun = 0.5
)

// partners returns, for each station of r, the length along other's path where its partner lies, and how they were
// paired; why says why they have none. A path that is the other's picture in the plane y = 0 is paired place by place.
// Else ends that lie the same way are paired, whichever way the paths were drawn: two upright seams top with top. Of
// paths that follow one another on a line it cannot be told whether they are pictures of one another, as the halves of
// an edge across the body are, or the same twice.
func partners(r, other *gapflush.Result) (at []float64, how, why string) {
	far := 0.0
	for _, s := range r.Stations {
		along, d := geom.NearestOnPath(mirrored(s.P), other.Seam.Path)
		at = append(at, along)
		far = max(far, d)
	}
	if far <= mirroredWithin {
		return at, "Each station has the place that lies across from it.", ""
	}
	a, b := lengthOf(r.Seam.Path), lengthOf(other.Seam.Path)
	if math.Abs(a-b) > lengthsWithin*max(a, b) {
		return nil, "", fmt.Sprintf("the path of seam %q is neither this one's mirror picture nor as long (%.0f and %.0f mm); lay both paths over the same stretch", other.Seam.Name, a, b)
	}
	own, its := ends(r.Seam.Path), ends(other.Seam.Path)
	apart := its[0].Add(its[1]).Sub(own[0].Add(own[1])).Unit()
	f, g := own[1].Sub(own[0]), its[1].Sub(its[0])
	cos := f.Unit().Dot(g.Unit())
	switch {
	case f.Norm() < straightRun*a || g.Norm() < straightRun*b || math.Abs(cos) < alikeRun:
		return nil, "", fmt.Sprintf("the path of seam %q is not this one's mirror picture in the plane y = 0 and runs another way, so that no place of it belongs to one of this; place the scan so that the body's middle is y = 0", other.Seam.Name)
	case math.Abs(f.Unit().Dot(apart)) > alikeRun:
		return nil, "", fmt.Sprintf("the path of seam %q lies before or behind this one on the same line and is not its mirror picture in the plane y = 0, so that it cannot be told which ends belong together; place the scan so that the body's middle is y = 0", other.Seam.Name)
	}
	for k, s := range r.Stations {
		if at[k] = float64(s.Along * b / a); cos < 0 {
			at[k] = b - at[k]
		}
	}
	if cos < 0 {
		return at, "The paths run opposite ways: the first station has the other seam's last place.", ""
	}
	if outward(r).Dot(outward(other)) < 0 {
		return nil, "", fmt.Sprintf("the path of seam %q looks the other way from the body and runs the same way, so that its sides A and B lie the other way round; turn one of the two paths round", other.Seam.Name)
	}
	return at, "The paths run the same way: the first station has the other seam's first place.", ""
}

func ends(path []geom.Vec) [2]geom.Vec { return [2]geom.Vec{path[0], path[len(path)-1]} }

// outward is the mean of the directions that a seam's stations look in.
func outward(r *gapflush.Result) (u geom.Vec) {
	for i := range r.Stations {
		u = u.Add(r.Stations[i].U)
	}
	return u
}
