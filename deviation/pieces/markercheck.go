package pieces

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh/geom"
)

// farMarker: a marker may stand beside what was scanned, on a frame or the floor, but no farther from a piece's box than this many of
// the box's diagonals: a scanner that sees it there has scanned something between.
const farMarker = 1.0

// checkFar refuses markers that lie far from the piece that they are said to be on: a digit too many, or another frame or unit.
func checkFar(markers []Marker, nodes []*body) error {
	for i := range markers {
		for _, s := range markers[i].Seen {
			b := nodes[s.Piece]
			d, size := math.Sqrt(b.box.Dist2(s.At)), b.box.Diagonal()
			if d > farMarker*size {
				return refusal("marker %q lies %.0f mm from %s, which measures %.0f mm from corner to corner; give it in the piece's own frame, in mm", markers[i].Name, d, b.name, size)
			}
		}
	}
	return nil
}

const (
	// skinSigmas: with markers met, so many of a marker's standard uncertainties of it may be left beside the skins.
	skinSigmas = contradictSigmas
	// skinGain: and so many times what the markers leave by themselves,
	skinGain = 4.0
	// skinShapes: and so many times the greatest difference in shape that an overlap shows, since deformed pieces have their markers
	// and their skins at odds without anybody's fault.
	skinShapes = 3.0
)

// checkSkins refuses markers that agree with one another and contradict the skins: typed in another frame, say, or mixed up all
// alike. A join between the two would lie where neither is.
func (j *joiner) checkSkins(r *Result, start []geom.Rigid, fixed []bool) error {
	worst, most := "", 0.0
	for _, m := range r.Markers {
		if left := slices.Max(m.Left); left > most {
			worst, most = m.Name, left
		}
	}
	sigma, shape := 0.0, greatestShape(j.overlaps)
	for i := range j.markers {
		sigma = max(sigma, j.markers[i].sigma())
	}
	if sentence := someWrong(j.markers, j.poses, fixed, shape); sentence != "" {
		return refusal("%s", sentence)
	}
	if most <= max(skinSigmas*sigma, skinShapes*shape) {
		return nil
	}
	laid := make([]bool, len(start))
	laid[j.anchor] = true
	startByMarkers(j.markers, start, laid)
	g, of := graphOf(j.markers, nil, start, fixed)
	var where []string
	for k, z := range g.sights {
		if n := j.nodes[z.node].name; j.markers[of[k]].Name == worst && !slices.Contains(where, n) {
			where = append(where, n)
		}
	}
	g.solve()
	alone := 0.0
	for _, s := range g.sights {
		alone = max(alone, g.poses[s.node].Apply(s.at).Dist(g.points[s.point]))
	}
	if most <= skinGain*alone {
		return nil // the markers are at odds with one another as much: the pieces are deformed
	}
	return refusal("%s", fmt.Sprintf("the markers contradict the skins of the pieces: laid together by both, marker %q lies %.2f mm off in %s, where the markers by themselves agree within %.2f mm and the skins within %.2f mm; check that each marker is given in its piece's own frame, or leave the markers out",
		worst, most, strings.Join(where, " and "), alone, shape))
}
