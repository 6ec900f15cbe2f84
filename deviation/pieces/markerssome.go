package pieces

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh/geom"
)

const (
	// mostWrong of the markers may contradict the rest, and no more than mostNamed of them are looked for: with more, which are wrong
	// is not told, and each takes a least squares of all of them.
	mostWrong, mostNamed = 1.0 / 3, 12
	// wrongShapes: pieces that have lost their shape put markers aside without anybody's fault, by about as much as their skins
	// differ; along a smooth side, where skins tell nothing, by more.
	wrongShapes = 5.0
)

// someWrong looks for several markers that contradict the rest: mistyped each in its own way, or mixed up. The one whose leaving out
// lessens chi-square most is left out, and again (backward elimination), until those left out stand out from the rest. shape is the
// greatest difference in shape that an overlap shows, mm. It returns a sentence, "" for none: markers on deformed pieces disagree,
// too, but none by so much more than the others.
func someWrong(markers []Marker, poses []geom.Rigid, fixed []bool, shape float64) string {
	out := map[int]bool{}
	g, of := graphOf(markers, out, poses, fixed)
	if len(g.points) == 0 {
		return ""
	}
	g.solve()
	if g.solution.unitVariance() < contradictSigmas*contradictSigmas {
		return ""
	}
	most := min(int(float64(mostWrong*float64(len(g.points)))), mostNamed)
	var order []int
	for range most {
		worst, at := 0.0, -1
		for k := range g.sights {
			if chi2, _, rank := g.leftOut(k); rank > 0 && chi2 > worst {
				worst, at = chi2, of[k]
			}
		}
		if at < 0 {
			return ""
		}
		out[at] = true
		order = append(order, at)
		g, of = graphOf(markers, out, g.poses, fixed)
		g.solve()
		if s := standsOut(markers, order, g, of, shape); s != "" {
			return s
		}
	}
	return ""
}

// standsOut words the markers left out where each lies farther from where the rest put it than any of the rest does, by far.
func standsOut(markers []Marker, out []int, rest *graph, of []int, shape float64) string {
	chi2, moved := 0.0, 0.0
	for k := range rest.sights {
		if c, m, rank := rest.leftOut(k); rank > 0 {
			chi2, moved = max(chi2, c), max(moved, m)
		}
	}
	var words []string
	for _, i := range out {
		alone := map[int]bool{}
		for _, k := range out {
			alone[k] = k != i
		}
		g, of := graphOf(markers, alone, rest.poses, rest.fixed)
		g.solve()
		c, m := 0.0, 0.0
		for k := range g.sights {
			if of[k] != i {
				continue
			}
			if x, away, rank := g.leftOut(k); rank > 0 && x > c {
				c, m = x, away
			}
		}
		if c < float64(contradictGain*contradictGain*chi2) || m < max(contradictSigmas*markers[i].sigma(), contradictGain*moved, wrongShapes*shape) {
			return ""
		}
		words = append(words, fmt.Sprintf("%q (%.2f mm)", markers[i].Name, m))
	}
	if len(words) == 1 {
		return fmt.Sprintf("marker %s lies that far from where the others put it, which agree within %.2f mm; check its coordinates, or leave it out", words[0], moved)
	}
	slices.Sort(words)
	return fmt.Sprintf("markers %s lie that far from where the others put them, which agree within %.2f mm; check their coordinates, or leave them out", strings.Join(words, ", "), moved)
}

// graphOf returns the graph of the markers alone but for those left out, and which marker each sight is of.
func graphOf(markers []Marker, out map[int]bool, poses []geom.Rigid, fixed []bool) (g *graph, of []int) {
	g = &graph{poses: slices.Clone(poses), fixed: fixed, lever: 1000}
	for i := range markers {
		m := &markers[i]
		if len(m.Seen) < 2 || out[i] {
			continue
		}
		for _, s := range m.Seen {
			g.sights = append(g.sights, sight{node: s.Piece, point: len(g.points), at: s.At, sigma: m.sigma()})
			of = append(of, i)
		}
		g.points = append(g.points, g.poses[m.Seen[0].Piece].Apply(m.Seen[0].At))
	}
	g.frame()
	return g, of
}

// greatestShape is the greatest difference in shape that an overlap shows, mm.
func greatestShape(overlaps []*Overlap) float64 {
	shape := 0.0
	for _, o := range overlaps {
		shape = max(shape, math.Abs(o.Most.Offset))
	}
	return shape
}
