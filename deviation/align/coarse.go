package align

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/order"
	"shutline/mesh/parallel"
)

// The exhaustive search. The figures are those that a trial of 100 poses each at
// 100, 60 and 40 % coverage with 20 % clutter never failed with; lengths are in
// reference diagonals, so that a bracket is searched like a body side.
const (
	spinCount    = 24 // 15 degrees: half a step moves the far end by 0.065 diagonals, which the first refinement takes back
	coarseScale  = 0.02
	coarseFirst  = 16  // scan points that sift all poses
	coarseKept   = 0.3 // and the share of the poses that pass on
	coarseProbe  = 64  // scan points that sift those
	coarsePoints = 200 // scan points that rank what is left

	// cosCoarse is 45 degrees: half a spin step, a bent skin between samples and
	// noise stay inside; a sheet's other side does not.
	cosCoarse = 0.70710678

	// samePose: poses closer than this, in diagonals, fall into one basin.
	samePose = 0.01
)

// effort is how widely the search looks.
type effort struct {
	anchors   int // scan points laid on the reference
	targets   int // reference points they are laid on
	probed    int // poses of each anchor that are ranked with all coarse points
	perAnchor int // and of these the poses kept
	merged    int // different poses refined on the grid
	refined   int // and of these the poses refined on the triangles with few points
	exact     int // and of these the poses refined with more
	walked    int // and of these the poses from which weak directions are walked
}

// usual serves nearly every scan; thorough, some three times as much work, is for
// scans whose best pose leaves doubt; brief is for other readings of such a scan,
// and glance for the mirror image of one that leaves none.
var (
	glance   = effort{anchors: 6, targets: 400, probed: 800, perAnchor: 200, merged: 300, refined: 24, exact: 4}
	brief    = effort{anchors: 8, targets: 600, probed: 1000, perAnchor: 300, merged: 500, refined: 40, exact: 8, walked: 1}
	usual    = effort{anchors: 8, targets: 600, probed: 1000, perAnchor: 300, merged: 700, refined: 60, exact: 12, walked: 3}
	thorough = effort{anchors: 16, targets: 1200, probed: 2000, perAnchor: 600, merged: 2000, refined: 160, exact: 24, walked: 3}
)

// candidate is a trial pose; a greater score is better.
type candidate struct {
	g     geom.Rigid
	score float64
}

// sortCandidates orders by score, keeping the order of equals.
func sortCandidates(c []candidate) {
	slices.SortStableFunc(c, func(a, b candidate) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
}

// searcher holds what the coarse stages share.
type searcher struct {
	ref     *reference
	signed  bool
	threads int
	box     geom.Box // of the scan points used, in scan coordinates
}

// alike reports whether two normals may belong to one skin.
func (s *searcher) alike(a, b geom.Vec, minCos float64) bool {
	d := a.Dot(b)
	return d >= minCos || (!s.signed && (d <= -minCos || a == (geom.Vec{})))
}

// score returns the mean of 1 - d²/tau² over the points, 0 for those that find nothing.
func (s *searcher) score(g *geom.Rigid, points []point, tau float64) float64 {
	sum, t2 := 0.0, tau*tau
	for i := range points {
		p := carried(g, &points[i].p)
		q := s.ref.grid.nearest(p)
		if q == nil {
			continue
		}
		if d2 := p.Sub(q.p).Norm2(); d2 < t2 && s.alike(turned(&g.R, &points[i].n), q.n, cosCoarse) {
			sum += 1 - d2/t2
		}
	}
	return sum / float64(len(points))
}

// search lays every anchor on every reference point in every spin and returns
// the best poses, best first.
func (s *searcher) search(ctx context.Context, e effort, anchors, points []point, progress mesh.Progress) ([]candidate, error) {
	every := max(1, len(s.ref.samples)/e.targets)
	var targets []point
	for i := every / 2; i < len(s.ref.samples); i += every {
		targets = append(targets, s.ref.samples[i])
	}
	flips := 1
	if !s.signed {
		flips = 2
	}
	perTarget := spinCount * flips
	scores := make([]float64, len(anchors)*len(targets)*perTarget)
	upright := make([]geom.Mat3, len(anchors)*perTarget)
	for k := range upright {
		spin, n := k%perTarget, anchors[k/perTarget].n
		if spin >= spinCount {
			n = n.Neg()
		}
		upright[k] = setUpright(n, 2*math.Pi*float64(spin%spinCount)/spinCount)
	}
	frames := make([]geom.Mat3, len(targets))
	for i := range frames {
		frames[i] = frameAbout(targets[i].n)
	}
	pose := func(k int) geom.Rigid {
		spin, rest := k%perTarget, k/perTarget
		a, t := rest/len(targets), rest%len(targets)
		g := geom.Rigid{R: frames[t].Mul(upright[a*perTarget+spin])}
		g.T = targets[t].p.Sub(g.ApplyDir(anchors[a].p))
		return g
	}
	first, probe := points[:min(coarseFirst, len(points))], points[:min(coarseProbe, len(points))]
	tau := coarseScale * s.ref.diag
	err := parallel.Chunks(ctx, len(scores), 512, s.threads, progress.Part(0, 0.4), func(_, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			g := pose(k)
			scores[k] = s.score(&g, first, tau)
		}
	})
	if err != nil {
		return nil, err
	}
	per := len(targets) * perTarget
	least := make([]float64, len(anchors))
	for a := range least {
		least[a] = quantile(append([]float64(nil), scores[a*per:(a+1)*per]...), 1-coarseKept)
	}
	err = parallel.Chunks(ctx, len(scores), 512, s.threads, progress.Part(0.4, 0.7), func(_, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			if scores[k] < least[k/per] {
				scores[k] = -1
				continue
			}
			g := pose(k)
			scores[k] = s.score(&g, probe, tau)
		}
	})
	if err != nil {
		return nil, err
	}
	var kept []candidate
	for a := range anchors {
		group := bestOf(scores[a*per:(a+1)*per], e.probed)
		poses := make([]candidate, len(group))
		part := progress.Part(0.7+0.3*float64(a)/float64(len(anchors)), 0.7+0.3*float64(a+1)/float64(len(anchors)))
		err := parallel.Chunks(ctx, len(group), 64, s.threads, part, func(_, _, lo, hi int) {
			for k := lo; k < hi; k++ {
				g := pose(a*per + group[k])
				poses[k] = candidate{g, s.score(&g, points, tau)}
			}
		})
		if err != nil {
			return nil, err
		}
		sortCandidates(poses)
		kept = append(kept, poses[:min(e.perAnchor, len(poses))]...)
	}
	sortCandidates(kept)
	return kept, nil
}

// bestOf returns the places of the n greatest scores.
func bestOf(scores []float64, n int) []int {
	least := math.Inf(-1)
	if n < len(scores) {
		least = order.Nth(slices.Clone(scores), len(scores)-n)
	}
	best := make([]int, 0, n)
	for i, s := range scores {
		if s >= least {
			best = append(best, i)
		}
	}
	slices.SortStableFunc(best, func(a, b int) int {
		switch {
		case scores[a] > scores[b]:
			return -1
		case scores[a] < scores[b]:
			return 1
		}
		return 0
	})
	return best[:min(n, len(best))]
}

// setUpright returns the turn that brings a normal to +Z, and then by spin radians about it.
func setUpright(n geom.Vec, spin float64) geom.Mat3 {
	return geom.Rotation(geom.Vec{Z: 1}, spin).R.Mul(frameAbout(n).Transpose())
}

// frameAbout returns a right-handed frame, as columns, whose third axis is n.
func frameAbout(n geom.Vec) geom.Mat3 {
	x := geom.Vec{X: 1}
	if math.Abs(n.X) > 0.7 {
		x = geom.Vec{Y: 1}
	}
	x = x.AddScaled(-x.Dot(n), n).Unit()
	y := n.Cross(x)
	return geom.Mat3{{x.X, y.X, n.X}, {x.Y, y.Y, n.Y}, {x.Z, y.Z, n.Z}}
}

// distinct returns the first n poses, best first, of which no two carry the
// box to within the distance of each other.
func distinct(sorted []candidate, box geom.Box, distance float64, n int) []candidate {
	corners := box.Corners()
	var kept []candidate
	var places [][8]geom.Vec
next:
	for _, c := range sorted {
		var at [8]geom.Vec
		for i, p := range corners {
			at[i] = c.g.Apply(p)
		}
		for k := range places {
			if farthest(&places[k], &at, distance) < distance {
				continue next
			}
		}
		kept, places = append(kept, c), append(places, at)
		if len(kept) == n {
			break
		}
	}
	return kept
}

// farthest returns the greatest distance between two sets of corners, or the
// first that reaches enough.
func farthest(a, b *[8]geom.Vec, enough float64) float64 {
	d2 := 0.0
	for i := range a {
		d2 = max(d2, a[i].Sub(b[i]).Norm2())
		if d2 >= float64(enough*enough) {
			break
		}
	}
	return math.Sqrt(d2)
}
