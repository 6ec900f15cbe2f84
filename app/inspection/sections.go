package inspection

import (
	"fmt"
	"math"
	"slices"

	"shutline/deviation/crosscut"
	"shutline/mesh/geom"
)

const (
	// DefaultStretch is how far about its place a read-out looks, mm: over the grain of a scan, under the size of a panel's bend.
	DefaultStretch = 10.0
	// mostSections of one [[section]]: a cut every 20 mm of a body of 10 m.
	mostSections = 500
)

// sections reads [[section]]: one plane each, or many at equal steps along an axis.
func (r *reader) sections(i *Inspection, list []any) {
	names := map[string]int{}
	for k, v := range list {
		path := indexed("section", k)
		t := r.table(path, v, r.note, "name", "point", "normal", "axis", "from", "to", "every", "within", "magnify", "radius", "angle")
		s := crosscut.Spec{Name: r.name(t, fmt.Sprintf("section %d", k+1), names, k)}
		s.Within = t.positive("within", 0, farthest, "mm")
		if !t.has("within") {
			t.fallback("within", "the whole part")
		}
		s.Magnify = t.positive("magnify", 0, crosscut.MostMagnify, "times")
		if !t.has("magnify") {
			t.fallback("magnify", "chosen from the deviations")
		}
		s.Radii, s.Angles = r.radii(t), r.angles(t)
		if t.has("axis") {
			i.Sections = append(i.Sections, r.row(t, s)...)
		} else {
			i.Sections = append(i.Sections, r.single(t, s))
		}
		if r.err != nil {
			return
		}
	}
	seen := map[string]bool{}
	for _, s := range i.Sections {
		if seen[s.Name] {
			r.fail("section", "two sections are called %q; give each its own name", s.Name)
		}
		seen[s.Name] = true
	}
}

// single reads a plane by its point and normal.
func (r *reader) single(t table, s crosscut.Spec) crosscut.Spec {
	for _, key := range []string{"from", "to", "every"} {
		if t.has(key) {
			r.fail(joined(t.path, key), "belongs to a row of sections along an axis; write axis = \"x\", \"y\" or \"z\" as well, or leave %s out", key)
		}
	}
	if r.err == nil && !t.has("point") && !t.has("normal") {
		r.fail(t.path, "needs a plane: point = [x, y, z] and normal = [x, y, z], or axis, from, to and every for many")
	}
	s.Point, s.Normal = t.point("point"), t.point("normal")
	if r.err == nil && s.Normal.Unit() == (geom.Vec{}) {
		r.fail(joined(t.path, "normal"), "must point somewhere; [0, 0, 0] does not")
	}
	return s
}

// row reads sections at equal steps along an axis.
func (r *reader) row(t table, s crosscut.Spec) []crosscut.Spec {
	for _, key := range []string{"normal", "point"} {
		if t.has(key) {
			r.fail(joined(t.path, key), "is not used with axis, whose sections stand square to it; leave %s or axis out", key)
		}
	}
	axis := t.choice("axis", "x", "x", "y", "z")
	for _, key := range []string{"from", "to", "every"} {
		if r.err == nil && !t.has(key) {
			r.fail(t.path, "%s is missing; sections along an axis need from, to and every, in mm", key)
		}
	}
	from, to, every := t.number("from", 0), t.number("to", 0), t.positive("every", 1, mostEvery, "mm")
	if r.err != nil {
		return nil
	}
	if to < from {
		r.fail(joined(t.path, "to"), "must not be under from (%v), not %v", from, to)
		return nil
	}
	if max(math.Abs(from), math.Abs(to)) > farthest {
		r.fail(joined(t.path, "to"), "lies more than %g mm from the origin", farthest)
		return nil
	}
	const slack = 1e-9 // of a step, so that rounding does not lose the last one
	steps := math.Floor((to-from)/every + slack)
	if steps >= mostSections {
		r.fail(joined(t.path, "every"), "%.6g mm cut every %.6g mm make more than %d sections; write a larger every", to-from, every, mostSections)
		return nil
	}
	var list []crosscut.Spec
	for k := range int(steps) + 1 {
		at := from + float64(every*float64(k))
		one := s
		one.Name = crosscut.InRow(s.Name, axis, at)
		switch axis {
		case "x":
			one.Point, one.Normal = geom.Vec{X: at}, geom.Vec{X: 1}
		case "y":
			one.Point, one.Normal = geom.Vec{Y: at}, geom.Vec{Y: 1}
		default:
			one.Point, one.Normal = geom.Vec{Z: at}, geom.Vec{Z: 1}
		}
		// The same places in each plane: a row follows what runs along the axis.
		one.Radii, one.Angles = slices.Clone(s.Radii), slices.Clone(s.Angles)
		for n := range one.Radii {
			one.Radii[n].At = into(one.Radii[n].At, one)
		}
		for n := range one.Angles {
			for e := range one.Angles[n].Between {
				one.Angles[n].Between[e] = into(one.Angles[n].Between[e], one)
			}
		}
		list = append(list, one)
	}
	return list
}

// into carries a place square into a section's plane, whose normal is an axis.
func into(p geom.Vec, s crosscut.Spec) geom.Vec {
	n := s.Normal
	return geom.Vec{X: float64(p.X*(1-n.X)) + float64(s.Point.X*n.X), Y: float64(p.Y*(1-n.Y)) + float64(s.Point.Y*n.Y), Z: float64(p.Z*(1-n.Z)) + float64(s.Point.Z*n.Z)}
}

func (r *reader) radii(t table) (list []crosscut.RadiusSpec) {
	for k, v := range r.entries(t, "radius", "{ at = [x, y, z] }") {
		e := r.table(indexed(joined(t.path, "radius"), k), v, nil, "name", "at", "within")
		list = append(list, crosscut.RadiusSpec{Name: e.text("name", ""), At: e.point("at"), Within: e.positive("within", DefaultStretch, farthest, "mm")})
	}
	return list
}

func (r *reader) angles(t table) (list []crosscut.AngleSpec) {
	for k, v := range r.entries(t, "angle", "{ between = [[x, y, z], [x, y, z]] }") {
		path := indexed(joined(t.path, "angle"), k)
		e := r.table(path, v, nil, "name", "between", "within")
		a := crosscut.AngleSpec{Name: e.text("name", ""), Within: e.positive("within", DefaultStretch, farthest, "mm")}
		two, ok := e.m["between"].([]any)
		if r.err == nil && (!ok || len(two) != 2) {
			r.fail(path, "between is missing or not two places; write between = [[x, y, z], [x, y, z]], one on each stretch")
		}
		for n := range two {
			if r.err == nil {
				a.Between[n] = r.vec(indexed(joined(path, "between"), n), two[n])
			}
		}
		if r.err == nil && a.Between[0] == a.Between[1] {
			r.fail(joined(path, "between"), "names one place twice, and a stretch makes no angle with itself; name a place on each of two stretches")
		}
		list = append(list, a)
	}
	return list
}

func (e *encoder) section(s crosscut.Spec) {
	e.line("\n[[section]]\nname = %s\npoint = %s\nnormal = %s", quote(s.Name), point(s.Point), point(s.Normal))
	if s.Within > 0 {
		e.line("within = %s", number(s.Within))
	}
	if s.Magnify > 0 {
		e.line("magnify = %s", number(s.Magnify))
	}
	if len(s.Radii) > 0 {
		e.line("radius = [")
		for _, r := range s.Radii {
			e.line("  { name = %s, at = %s, within = %s },", quote(r.Name), point(r.At), number(r.Within))
		}
		e.line("]")
	}
	if len(s.Angles) > 0 {
		e.line("angle = [")
		for _, a := range s.Angles {
			e.line("  { name = %s, between = [%s, %s], within = %s },", quote(a.Name), point(a.Between[0]), point(a.Between[1]), number(a.Within))
		}
		e.line("]")
	}
}
