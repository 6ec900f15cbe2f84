package words

import (
	"math"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/mesh/geom"
)

// exchanged says where another seam of the job has the same two panels the other way round: a path that was typed in
// reverse exchanges the sides, and with them which panel is told to move.
func (w Writer) exchanged(c *Card, r *gapflush.Result) {
	for _, other := range w.Seams {
		panel, toward, ok := against(r, other)
		if !ok {
			continue
		}
		data := fields{"Seam": other.Seam.Name, "Panel": panel, "Toward": w.toward(toward)}
		c.add(w.say("sides.against", "By seam “{{.Seam}}” {{.Panel}} lies {{.Toward}}, by this one the other way: in one of the two the sides are exchanged.", data))
		c.next(w.say("sides.against.next", "Before anything is moved: find out by which seam, this one or “{{.Seam}}”, {{.Panel}} lies where it does at the vehicle, and reverse the path of the other or exchange the panels in its name: until then what is said to move may be the wrong panel.", data))
	}
}

// enclosed is how far apart, mm, two seams lie between which one of the panels may lie, as a door does between both of its
// gaps and a bonnet between both wings.
const enclosed = 100.0

// against reports whether two seams part the same two panels, each with one panel on one side all along, and put
// them the other way round where neither panel lies between them; panel lies toward there by the other seam.
func against(r, other *gapflush.Result) (panel string, toward gapflush.Toward, ok bool) {
	own, named := r.Seam.Panels()
	theirs, also := other.Seam.Panels()
	if other == r || !named || !also {
		return "", toward, false
	}
	a, b := r.Sides(), other.Sides()
	if len(a) != 1 || len(b) != 1 {
		return "", toward, false
	}
	switch {
	case strings.EqualFold(own[0], theirs[0]) && strings.EqualFold(own[1], theirs[1]):
		toward = b[0].A
	case strings.EqualFold(own[0], theirs[1]) && strings.EqualFold(own[1], theirs[0]):
		toward = b[0].B
	default:
		return "", toward, false
	}
	return own[0], toward, toward == a[0].A.Opposite() && math.Abs(middle(r, toward.Axis)-middle(other, toward.Axis)) < enclosed
}

// middle is where the stations of a seam lie along an axis on the whole, mm.
func middle(r *gapflush.Result, axis int) (at float64) {
	for i := range r.Stations {
		p := r.Stations[i].P
		at += [3]float64{p.X, p.Y, p.Z}[axis] / float64(len(r.Stations))
	}
	return at
}

// twice says which other seam of the job runs along the same gap: a click beside a gap lands in the one next to it.
func (w Writer) twice(c *Card, r *gapflush.Result) {
	whole := func(s *gapflush.Seam) string {
		if s.Whole != "" {
			return s.Whole
		}
		return s.Name
	}
	for _, other := range w.Seams {
		if other == r || whole(&other.Seam) == whole(&r.Seam) || seamfind.Beside(r.Seam.Path, [][]geom.Vec{other.Seam.Path}) < 0 {
			continue
		}
		c.add(w.say("seam.twice", "It runs along the same gap as seam “{{.Seam}}”: that gap is measured twice.", fields{"Seam": other.Seam.Name}))
	}
}
