package ui

import (
	"errors"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// across adds what is looked at across a seam at each station: the zones of the faces, what their edges are, and how far points
// count. What a state advises to change must be there to be changed.
func (s *settings) across(now func() gapflush.Seam, change func(string, func(*gapflush.Seam)) error) {
	s.field(tr("set.face", "Face zone, mm"), "", func() string {
		f := now().Face
		return number(f[0]) + "; " + number(f[1])
	}, func(text string) error {
		from, to, ok := parseTwo(text)
		if !ok || !(from >= 0) || !(to > from) {
			return errors.New(tr("field.face", "Write where the face zone begins and ends behind the edge, in mm, as in 2.5; 12.5."))
		}
		return change(tr("edit.face", "face zone"), func(x *gapflush.Seam) { x.Face = [2]float64{from, to} })
	})
	for k, name := range []string{tr("set.edge.a", "Edge of side A"), tr("set.edge.b", "Edge of side B")} {
		s.choice(name, edgeKinds[:], edgeTitle, func() string { return edgeKinds[now().Edges[k]] }, func(v string) error {
			return change(tr("edit.edges", "kind of the edges"), func(x *gapflush.Seam) { x.Edges[k] = gapflush.EdgeKind(slices.Index(edgeKinds[:], v)) })
		})
	}
	length := func(name, edit string, of func(*gapflush.Seam) *float64) {
		s.number(name, "", func() (float64, bool) { x := now(); return *of(&x), true }, func(v float64, has bool) error {
			if err := positive(v, has); err != nil {
				return err
			}
			if v > inspection.MostAcross {
				return errors.New(tr("field.across", "That is too far from the path."))
			}
			return change(edit, func(x *gapflush.Seam) { *of(x) = v })
		})
	}
	length(tr("set.band", "Band along, mm"), tr("edit.band", "band of points"), func(x *gapflush.Seam) *float64 { return &x.Band })
	length(tr("set.window", "Window across, mm"), tr("edit.window", "window of points"), func(x *gapflush.Seam) *float64 { return &x.Window })
}

// edgeKinds are the choices of an edge's kind.
var edgeKinds = [...]string{gapflush.Round: "round", gapflush.Chamfer: "chamfer", gapflush.Sharp: "sharp"}

// edgeTitle is what a kind of edge is called in a choice.
func edgeTitle(kind string) string {
	switch kind {
	case "chamfer":
		return tr("edge.chamfer", "chamfer")
	case "sharp":
		return tr("edge.sharp", "sharp")
	}
	return tr("edge.round", "round")
}
