package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/drift"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// TakenOut is the what-if view: the comparison again once the drift's shapes were taken out of the scan. It is no result.
type TakenOut struct {
	Field   *deviation.Field
	Summary deviation.Summary
	Mesh    *mesh.Mesh
	Normals []geom.Vec
}

// explainDrift explains the deviations by the shapes of a drifting scan, and makes the what-if view where it is asked for.
func (c *Compared) explainDrift(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p mesh.Progress) error {
	if c.Ambiguous {
		c.Drift = &drift.Result{Why: "the placement is ambiguous, so that the deviations may be from another place of the reference"}
		return nil
	}
	r, err := drift.Explain(ctx, drift.Input{
		Points: placed.Mesh.Vertices, Normals: placed.Normals, Areas: areasOf(parts), Field: c.Field, Surface: parts.Surface, Reach: i.Surface.Reach, Faces: placed.Mesh.Faces,
	}, drift.Settings{Threads: s.Threads}, p)
	if err != nil {
		return err
	}
	c.Drift = r
	if !i.Surface.DriftTakenOut || !r.Drifted() {
		return nil
	}
	t := &TakenOut{Mesh: &mesh.Mesh{Vertices: make([]geom.Vec, len(placed.Mesh.Vertices)), Faces: placed.Mesh.Faces}}
	for k, v := range placed.Mesh.Vertices {
		t.Mesh.Vertices[k] = r.Undo(v)
	}
	t.Normals = placed.Normals
	if len(t.Mesh.Faces) > 0 {
		if t.Normals, err = t.Mesh.VertexNormalsWithin(ctx); err != nil {
			return err
		}
	}
	if t.Field, err = deviation.Measure(ctx, t.Mesh, parts.Surface, deviation.Settings{Reach: i.Surface.Reach, Normals: t.Normals, Threads: s.Threads}, nil); err != nil {
		return err
	}
	t.Summary = deviation.Summarise(t.Field, parts.ScanAreas, i.Surface.Tolerance)
	c.Taken = t
	return nil
}

// areasOf returns what each scan point stands for, nil for a scan without faces.
func areasOf(parts *Parts) []float64 {
	if len(parts.Scan.Mesh.Faces) == 0 {
		return nil
	}
	return parts.ScanAreas
}

// driftTeller is the drift that was seen as an error over the part's length: the root of the squares of the shapes
// that act along it. A surface that does not hold the scale along the length tells nothing of the length unless
// another shape is seen: what cannot be seen is not an error of nothing.
func driftTeller(r *drift.Result) (worth.Teller, bool) {
	t := worth.Teller{Kind: worth.Drift, Name: "drift shape", Over: r.Frame.Size[0]}
	if !r.OK {
		return t, false
	}
	tells := r.Terms[drift.ScaleLong].Held
	for _, k := range []drift.Kind{drift.ScaleLong, drift.BendMiddle, drift.BendShort, drift.Twist} {
		x := &r.Terms[k]
		if !x.Held {
			continue
		}
		if x.Seen {
			tells = true
			t.Error += float64(x.Size.V * x.Size.V)
		}
		t.U += float64(x.Size.U * x.Size.U)
	}
	t.Error, t.U = math.Sqrt(t.Error), math.Sqrt(t.U)
	return t, tells
}

// EstimateGrowth tells how the scan's uncertainty grows with length, from its known lengths and its drift, and from
// what else tells of it. compared may be nil; noise is that of a scan point, mm, 0 where it is not known.
func EstimateGrowth(parts *Parts, compared *Compared, noise float64, lengths []Length, more ...worth.Teller) worth.Growth {
	var tellers []worth.Teller
	for _, l := range lengths {
		if l.Error.OK {
			tellers = append(tellers, worth.Teller{Kind: worth.Length, Name: l.Spec.Name, Error: l.Error.V, U: l.Error.U, Over: l.Spec.Known})
		}
	}
	tellers = append(tellers, more...)
	s := worth.Settings{Noise: noise, Size: partSize(parts).X, Span: spanOf(parts)}
	if compared != nil {
		if compared.Drift != nil {
			if t, ok := driftTeller(compared.Drift); ok {
				tellers = append(tellers, t)
			}
			if t, ok := fieldTeller(parts, compared); ok {
				tellers = append(tellers, t)
			}
		}
	}
	return worth.Estimate(tellers, s)
}

// partSize returns the sides of the part's box, mm, the largest first: of the reference, which has no floor or stand
// beside it, else of the scan.
func partSize(parts *Parts) geom.Vec {
	if parts == nil {
		return geom.Vec{}
	}
	m := parts.Mirrored
	if m == nil && parts.Scan != nil {
		m = parts.Scan.Mesh
	}
	if m == nil || len(m.Vertices) == 0 {
		return geom.Vec{}
	}
	box := m.Bounds()
	d := box.Hi.Sub(box.Lo)
	sides := []float64{d.X, d.Y, d.Z}
	slices.Sort(sides)
	return geom.Vec{X: sides[2], Y: sides[1], Z: sides[0]}
}

// medianU returns the median of the gaps' U, not OK without any.
func medianU(o *Outcome) verdict.Value {
	var list []float64
	for _, r := range o.Seams {
		for k := range r.Stations {
			if v := r.Stations[k].Gap; v.OK {
				list = append(list, v.U)
			}
		}
	}
	if len(list) == 0 {
		return verdict.Value{}
	}
	slices.Sort(list)
	return verdict.Value{V: list[len(list)/2], OK: true}
}

// Uses returns what the scan is good for; nil where its growth was not looked for.
func (o *Outcome) Uses() []worth.Use {
	if o.Growth == nil {
		return nil
	}
	return o.Growth.Uses(medianU(o))
}

// PlanNext plans the next scan where the inspection asks for it, nil where it does not: from the errors
// along the path that it states, and from those that were seen in this scan, whose path it states.
func PlanNext(i *inspection.Inspection, parts *Parts, compared *Compared, more ...scanplan.Seen) *scanplan.Plan {
	if i.Plan == nil {
		return nil
	}
	size := partSize(parts)
	if i.Plan.Path > 0 && i.Plan.Path < size.X {
		return &scanplan.Plan{Wanted: i.Plan.Wanted, Why: fmt.Sprintf(
			"no plan, because a path of %.0f mm is shorter than the part, which is %.0f mm long; state in [plan] how far the scanner travelled, in mm", i.Plan.Path, size.X)}
	}
	seen := append([]scanplan.Seen(nil), i.Plan.Seen...)
	seen = append(seen, more...)
	joined := parts != nil && parts.Joined != nil && parts.Joined.Result != nil
	switch {
	case i.Plan.Path == 0 || len(seen) > 0:
	case joined: // what was joined has lost most of its drift: a piece tells of its own path alone
		if r := parts.Joined.Result; r.Deformed > 0 {
			seen = append(seen, scanplan.Seen{Path: i.Plan.Path / float64(len(i.Pieces)), Error: math.Sqrt(3) * r.Deformed})
		}
	case compared != nil && compared.Drift != nil:
		if t, ok := driftTeller(compared.Drift); ok && t.Error > 0 {
			seen = append(seen, scanplan.Seen{Path: i.Plan.Path, Error: t.Error})
		}
	}
	part := scanplan.Part{Length: size.X, Width: size.Y, Height: size.Z}
	p := scanplan.Find(part, scanplan.Fit(seen), i.Plan.Wanted)
	return &p
}

// takenWords names the shapes that are taken out for the what-if view, the largest share first.
func takenWords(r *drift.Result) string {
	var words []string
	for _, x := range SeenShapes(r) {
		words = append(words, fmt.Sprintf("%s %+.4g %s", x.Kind, x.Value.V, x.Kind.Unit()))
	}
	return strings.Join(words, ", ")
}

// SeenShapes returns the shapes that were seen, the one that explains most first.
func SeenShapes(r *drift.Result) []drift.Term {
	var out []drift.Term
	if r == nil {
		return nil
	}
	for _, x := range r.Terms {
		if x.Seen {
			out = append(out, x)
		}
	}
	slices.SortStableFunc(out, func(a, b drift.Term) int { return cmp.Compare(b.ShareFollowing, a.ShareFollowing) })
	return out
}
