package inspection

import (
	"fmt"

	"shutline/deviation/verdict"
)

// The bounds of a point's radius, mm: a few points of the finest scan fit into
// the least; beyond the most a place is a region.
const leastRadius, mostRadius = 0.1, 100.0

func (r *reader) points(i *Inspection, list []any) {
	names := map[string]int{}
	for k, v := range list {
		path := indexed("point", k)
		t := r.table(path, v, r.note, "name", "at", "radius", "tolerance")
		if i.Reference == nil {
			r.fail(path, "a point's deviation is from the reference, and there is none; add a [reference], or take the point out")
		}
		p := Point{Name: r.name(t, fmt.Sprintf("point %d", k+1), names, k), At: t.point("at"), Radius: t.positive("radius", 0, mostRadius, "mm"), HasTolerance: t.has("tolerance")}
		if t.has("radius") && p.Radius < leastRadius {
			r.fail(joined(path, "radius"), "must be at least %g mm, not %v", leastRadius, p.Radius)
		}
		if !t.has("radius") {
			t.fallback("radius", "%s mm, or %s spacings of the scan's points where that is more", number(DefaultRadius), number(DefaultSpacings))
		}
		tol := t.rising("tolerance", [2]float64{}, mostOff, "mm")
		p.Tolerance = verdict.Tolerance{Lo: tol[0], Hi: tol[1]}
		if !p.HasTolerance {
			t.fallback("tolerance", "none (the point is reported, not judged)")
		}
		i.Points = append(i.Points, p)
		if r.err != nil {
			return
		}
	}
}
