package pieces

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/deviation/align"
	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// unitRatio: pieces of one body differ less in both their spacing and their size than units do: from
	// inches to millimetres is 25, from millimetres to centimetres 10.
	unitRatio = 6.0
	// nearProbes are looked from to tell how far two pieces are apart.
	nearProbes = 400
	// mostTries is how many pairs of pieces are tried from any pose, to tie groups together that share no frame.
	mostTries = 6
)

// checkUnits refuses a piece that is some unit's factor larger or smaller than the others.
func checkUnits(bodies []*body) error {
	for k, b := range bodies {
		var spacings, sizes []float64
		for l, o := range bodies {
			if l != k {
				spacings, sizes = append(spacings, o.spacing), append(sizes, o.box.Diagonal())
			}
		}
		spacing, size := b.spacing/median(spacings), b.box.Diagonal()/median(sizes)
		if spacing > 1 && size > 1 && min(spacing, size) > unitRatio || spacing < 1 && size < 1 && max(spacing, size) < 1/unitRatio {
			if len(bodies) == 2 {
				o := bodies[1-k]
				return refusal("%s and %s are in different units: their boxes measure %.4g and %.4g mm from corner to corner, and their points lie %.3g and %.3g mm apart; say in which unit each is",
					b.name, o.name, b.box.Diagonal(), o.box.Diagonal(), b.spacing, o.spacing)
			}
			return refusal("%s is in another unit than the rest: its box measures %.4g mm from corner to corner and its points lie %.3g mm apart, %.3g and %.3g times the others'; say in which unit it is",
				b.name, b.box.Diagonal(), b.spacing, size, spacing)
		}
	}
	return nil
}

// checkTwins refuses two pieces that are the same.
func checkTwins(all []Piece) error {
	for k := range all {
		for l := range k {
			if sameMesh(all[k].Mesh, all[l].Mesh) {
				return refusal("%s and %s are the same mesh: all of their %d faces agree; name each piece once", all[l].Name, all[k].Name, len(all[k].Mesh.Faces))
			}
		}
	}
	return nil
}

// groups returns the nodes that overlaps and markers tie together, by the lowest of each.
func (j *joiner) groups() []uint32 {
	sets := mesh.NewSets(len(j.nodes))
	for _, o := range j.overlaps {
		sets.Join(uint32(o.A), uint32(o.B))
	}
	for i := range j.nodes {
		for k := range i {
			if len(common(j.markers, i, k)) >= 3 {
				sets.Join(uint32(i), uint32(k))
			}
		}
	}
	out := make([]uint32, len(j.nodes))
	for k := range out {
		out[k] = sets.Root(uint32(k))
	}
	return out
}

// tie brings groups that share no frame together by a best fit of one's piece on the other's.
func (j *joiner) tie(ctx context.Context, progress mesh.Progress) error {
	for round := range len(j.nodes) + 1 { // one more, as pieces may be taken where they strayed to
		j.takeStrays(j.groups(), false)
		root := j.groups()
		if slices.Max(root) == 0 {
			return nil
		}
		progress.Report(float64(round) / float64(len(j.nodes)))
		tied, err := j.tieOne(ctx, root)
		if err != nil {
			return err
		}
		if !tied && len(j.strays) > 0 { // no better place was found: what lies there is told for what it is
			j.takeStrays(root, true)
			continue
		}
		if !tied {
			return j.apart(root)
		}
	}
	if root := j.groups(); slices.Max(root) > 0 {
		return j.apart(root)
	}
	return nil
}

// takeStrays makes overlaps of strays: of all, or of those whose pieces the others tie already.
func (j *joiner) takeStrays(root []uint32, all bool) {
	j.strays = slices.DeleteFunc(j.strays, func(o *Overlap) bool {
		take := all || root[o.A] == root[o.B]
		if take {
			j.overlaps = append(j.overlaps, o)
		}
		return take
	})
	slices.SortStableFunc(j.overlaps, func(x, y *Overlap) int { return cmp.Or(cmp.Compare(x.A, y.A), cmp.Compare(x.B, y.B)) })
}

// tieOne ties one group to the first one's.
func (j *joiner) tieOne(ctx context.Context, root []uint32) (bool, error) {
	type try struct {
		a, b int
		size float64
	}
	var tries []try
	for a := range j.nodes {
		for b := range j.nodes {
			if root[b] == root[j.anchor] && root[a] != root[b] && !j.share(root, root[a]) {
				size := math.Min(j.nodes[a].total(), j.nodes[b].total())
				if j.nodes[b].fixed { // the whole of it is there
					size = math.Inf(1)
				}
				tries = append(tries, try{a, b, size})
			}
		}
	}
	slices.SortStableFunc(tries, func(x, y try) int {
		switch {
		case x.size > y.size:
			return -1
		case x.size < y.size:
			return 1
		}
		return 0
	})
	for _, t := range tries[:min(len(tries), mostTries)] {
		a, b := j.nodes[t.a], j.nodes[t.b]
		p, err := align.BestFit(ctx, a.mesh, b.surface, align.Settings{Threads: j.settings.Threads}, nil)
		switch {
		case ctx.Err() != nil:
			return false, ctx.Err()
		case errors.Is(err, align.ErrNoOverlap), errors.Is(err, align.ErrTooFew):
			continue
		case err != nil:
			return false, err
		case p.Ambiguous:
			continue
		}
		o, _, err := findOverlap(ctx, a, b, p.ReferenceFromScan, roughReach, j.settings.Threads)
		if err != nil {
			return false, err
		}
		if o == nil || o.rank < 6 || o.strayed() { // where it may slide, or goes on to slide, nobody knows where it lies
			continue
		}
		// As loaded it lies beside others, overlapping too little: like parts of a body fit one another in other places, too, but not well.
		if o.Shape == DifferentShape && j.beside(root, root[t.a]) {
			continue
		}
		// The whole group moves with its piece.
		move := j.poses[t.b].After(o.BFromA).After(j.poses[t.a].Inverse())
		for k := range j.nodes {
			if root[k] == root[t.a] {
				j.poses[k] = move.After(j.poses[k]).Orthonormal()
			}
		}
		j.placed = append(j.placed, fmt.Sprintf("%s shares no frame with %s as loaded; it was laid on it by a best fit", a.name, b.name))
		return true, j.overlapAll(ctx, roughReach, nil)
	}
	return false, nil
}

// beside reports whether a group lies close to another as loaded.
func (j *joiner) beside(root []uint32, group uint32) bool {
	for k := range j.nodes {
		for l := range j.nodes {
			if root[k] == group && root[l] != group && j.distance(k, l) <= roughReach {
				return true
			}
		}
	}
	return false
}

// share reports whether a group lies on another as loaded, though too unlike it to be fitted: then they do share a frame.
func (j *joiner) share(root []uint32, group uint32) bool {
	for _, m := range j.misses {
		if (root[m.a] == group) != (root[m.b] == group) {
			return true
		}
	}
	return false
}

func (b *body) total() float64 {
	sum := 0.0
	for _, a := range b.area {
		sum += a
	}
	return sum
}

// apart refuses pieces that nothing ties to the rest.
func (j *joiner) apart(root []uint32) error {
	var lonely []string
	worst := math.Inf(1)
	other := ""
	first := -1
	for k := range j.nodes {
		if root[k] == root[j.anchor] {
			continue
		}
		if first < 0 {
			first = k
		}
		if root[k] == root[first] && !j.nodes[k].fixed {
			lonely = append(lonely, j.nodes[k].name)
		}
	}
	if first >= 0 && j.nodes[first].fixed {
		lonely = []string{j.nodes[first].name}
	}
	for k := range j.nodes {
		if root[k] != root[first] {
			continue
		}
		for l := range j.nodes {
			if root[l] == root[first] {
				continue
			}
			if d := j.distance(k, l); d < worst {
				worst, other = d, j.nodes[l].name
			}
		}
	}
	for _, m := range j.misses {
		if (root[m.a] == root[first]) != (root[m.b] == root[first]) {
			return refusal("%s and %s lie on one another over %.0f cm², but differ by %.1f mm there (one standard deviation) in the best pose: at least one of the two is deformed; scan it again in smaller pieces, or lay them together by three markers that both have",
				j.nodes[m.a].name, j.nodes[m.b].name, m.area/100, m.spread)
		}
	}
	for k := range j.nodes {
		for l := range j.nodes {
			if root[k] != root[first] || root[l] == root[first] {
				continue
			}
			if area := j.insideOut(k, l); area >= leastOverlap {
				return refusal("%s lies on %s over %.0f cm², but the faces of the two look opposite ways there: one of them is inside out; turn its faces round (flip its normals) and export it again",
					j.nodes[k].name, j.nodes[l].name, area/100)
			}
		}
	}
	if all := j.nodes[first].total(); all < leastOverlap {
		return refusal("%s is a piece of %.3g cm² in all, and pieces are laid on one another where %.0f cm² and more overlap; scan so small a part in one go", j.nodes[first].name, all/100, leastOverlap/100)
	}
	return refusal("%s overlaps none of the other pieces: as loaded the nearest, %s, is %s mm away where it comes closest, less than %.0f cm² lie on one another, and no pose was found in which they do; scan with more overlap, or give three markers that both have",
		strings.Join(lonely, ", "), other, threeDigits(worst), leastOverlap/100)
}

// distance returns how far apart two nodes are where they come closest, mm, as seen from some points.
func (j *joiner) distance(k, l int) float64 {
	find := j.nodes[l].surface.NewFinder()
	to := j.poses[l].Inverse().After(j.poses[k])
	least := math.Inf(1)
	for _, v := range thinned(j.nodes[k].probes, nearProbes) {
		if hit, ok := find.Closest(to.Apply(j.nodes[k].mesh.Vertices[v]), least); ok {
			least = math.Min(least, hit.Distance)
		}
	}
	return least
}

// insideOut returns over how much area, mm², a node lies on another as loaded that faces the opposite way.
func (j *joiner) insideOut(k, l int) float64 {
	on := j.nodes[l]
	find := on.surface.NewFinder()
	to := j.poses[l].Inverse().After(j.poses[k])
	probes := thinned(j.nodes[k].probes, nearProbes)
	back := 0
	for _, v := range probes {
		hit, ok := find.Closest(to.Apply(j.nodes[k].mesh.Vertices[v]), roughReach)
		if ok && !hit.Border && on.mesh.AreaNormal(hit.Face).Unit().Dot(to.ApplyDir(j.nodes[k].normals[v])) < -cosPair {
			back++
		}
	}
	return j.nodes[k].total() * float64(back) / float64(max(len(probes), 1))
}

// threeDigits words a length, mm, by three digits or to the millimetre.
func threeDigits(x float64) string {
	if x >= 1000 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.3g", x)
}

// identityPoses are the poses as loaded.
func identityPoses(n int) []geom.Rigid {
	out := make([]geom.Rigid, n)
	for k := range out {
		out[k] = geom.Identity()
	}
	return out
}
