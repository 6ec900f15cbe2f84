package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// datumSettled in mm: a step that moves no point of the reference's box farther
	// ends the rounds; a twentieth of the 0.02 mm aimed for.
	datumSettled = 0.001

	// datumFrozen in mm: under such a step the points of the patches stay the same
	// ones, so that none that comes or goes keeps the placement from resting.
	datumFrozen = 0.1

	datumRounds = 40 // three to five where the directions face the surface

	// datumShrink and datumDamping: a step that is no smaller than this part of the
	// one before is taken by half, and no less than an eighth of it.
	datumShrink  = 0.7
	datumDamping = 1.0 / 8

	// datumOn in mm: a datum's point this far off the reference is a slip, not a rounding.
	datumOn = 2.0
	// datumOnSaid in mm: from here it is said; a tenth of a usual tolerance.
	datumOnSaid = 0.05
	// cosSlant is 60 degrees, as for what a scan may be compared with.
	cosSlant = 0.5
	// slantSaid in radians, 30 degrees: from here a direction that leans is said.
	slantSaid = math.Pi / 6
	// gainSaid: from here it is said how far the part moves when datums are off.
	gainSaid = 5.0
)

// Datums places the scan by six datums (3-2-1): it is moved until its surface,
// along each datum's direction, meets the datum's point. It starts from the best
// fit, whose errors it returns. The scan's surface at a datum is the reference's shape
// there with a quadratic surface added, fitted through the points around the place
// nearest to the datum along its direction. The placement has converged when a step moves no point of the
// reference's box by more than 0.001 mm.
//
// The step is n_i · (w × p_i + t) = −d_i for the six datums, with n_i the reference's
// normal over its cosine to the direction, so that a surface that slants is met too;
// where the two agree it is the textbook's.
//
// Errors: ErrDatums, with the figure; ErrNoOverlap, ErrTooFew; or ctx's.
func (p *Placer) Datums(ctx context.Context, datums []Datum, progress mesh.Progress) (Placement, error) {
	if err := checkDatums(datums); err != nil {
		return Placement{}, err
	}
	met, outward, err := p.f.onReference(datums)
	if err != nil {
		return Placement{}, err
	}
	// Before the long work, by the reference's own normals: the scan's are within noise of them.
	if _, err := checkHold(unitDatums(datums), resisting(met, outward), p.f.ref.diag/2); err != nil {
		return Placement{}, err
	}
	start, err := p.BestFit(ctx, progress.Part(0, 0.8))
	if err != nil {
		if ctx.Err() != nil {
			return Placement{}, err
		}
		return Placement{}, fmt.Errorf("align: datums start from a best fit, and there is none: %w", err)
	}
	out, err := p.f.meetDatums(ctx, start.ReferenceFromScan, met, outward)
	if err != nil {
		return Placement{}, err
	}
	progress.Report(1)
	if start.Ambiguous {
		out.Ambiguous = true
		out.Notes = append(out.Notes, "The best fit that the datums were started from is ambiguous: a second pose fits nearly as well, and the datums would be met there too.")
	}
	return out, nil
}

// unitDatums returns the datums with directions of unit length.
func unitDatums(datums []Datum) []Datum {
	out := make([]Datum, len(datums))
	for k, d := range datums {
		out[k] = Datum{d.Point, d.Normal.Unit()}
	}
	return out
}

// resisting returns the direction along which the surface resists at each datum:
// a small motion v changes the deviation along the datum's direction by v times it.
func resisting(met []DatumMet, normals []geom.Vec) []geom.Vec {
	out := make([]geom.Vec, len(met))
	for k := range met {
		out[k] = normals[k].Scale(1 / normals[k].Dot(met[k].Normal))
	}
	return out
}

// onReference checks that the points lie on the reference and the directions face
// it, and returns the reference's outward normals there.
func (f *fit) onReference(datums []Datum) (met []DatumMet, outward []geom.Vec, err error) {
	finder := f.ref.surface.NewFinder()
	for k, d := range unitDatums(datums) {
		hit, ok := finder.Closest(d.Point, math.Inf(1))
		if !ok {
			return nil, nil, fmt.Errorf("align: datum %d: the reference has no surface: %w", k+1, ErrDatums)
		}
		if hit.Distance > datumOn {
			return nil, nil, fmt.Errorf("align: datum %d at (%.6g, %.6g, %.6g) lies %.3g mm off the reference, whose nearest point is (%.6g, %.6g, %.6g); datums are points on it, in its frame as it is used (mirrored, where it is): %w",
				k+1, d.Point.X, d.Point.Y, d.Point.Z, hit.Distance, hit.Point.X, hit.Point.Y, hit.Point.Z, ErrDatums)
		}
		q, n := f.ref.curved(hit.Face, hit.Point)
		if n == (geom.Vec{}) {
			n = hit.Normal
		}
		cos := math.Abs(n.Dot(d.Normal))
		if cos < cosSlant {
			return nil, nil, fmt.Errorf("align: datum %d: its direction leans %.0f degrees from the reference's normal there, (%.2f, %.2f, %.2f); at most 60 are of use, as farther over it runs along the surface: %w",
				k+1, degrees(angleOf(min(cos, 1))), n.X, n.Y, n.Z, ErrDatums)
		}
		met = append(met, DatumMet{Datum: d, Off: d.Point.Sub(q).Dot(n), Slant: angleOf(min(cos, 1))})
		outward = append(outward, n)
	}
	return met, outward, nil
}

// meetDatums moves the placement until the scan meets the datums.
func (f *fit) meetDatums(ctx context.Context, g geom.Rigid, met []DatumMet, outward []geom.Vec) (Placement, error) {
	datums := make([]Datum, len(met))
	for k := range met {
		datums[k] = met[k].Datum
	}
	at, lever := pointsOf(datums), f.ref.diag/2
	centre := meanOf(at)
	start, gathered, resist := g, g, resisting(met, outward)
	sheets, err := f.gatherAt(ctx, g, at)
	if err != nil {
		return Placement{}, err
	}
	patches, frozen := make([]patch, len(met)), false
	fits := make([]patchFit, len(met))
	detail, damping := &DatumFit{Met: met}, 1.0
	for detail.Rounds = 0; ; {
		if err := f.fitDatums(g, sheets, patches, frozen, met, outward, fits); err != nil {
			return Placement{}, err
		}
		for k := range met {
			met[k].Left = fits[k].height
			if detail.Rounds == 0 {
				met[k].Start = fits[k].height
			}
		}
		if frozen && detail.LastStep <= datumSettled {
			break
		}
		if detail.Rounds == datumRounds {
			return Placement{}, fmt.Errorf("align: the datums do not come to rest: after %d rounds the last one still moved the part by %.3g mm (%g is wanted); "+
				"turn the directions toward the surface's normals, or take the datums off edges and steps: %w", detail.Rounds, detail.LastStep, datumSettled, ErrDatums)
		}
		next, err := datumMove(g, met, fits, resist, centre, lever, 1)
		if err != nil {
			return Placement{}, err
		}
		before := detail.LastStep
		detail.LastStep = geom.MaxDisplacement(next, g, f.placedBox(g))
		detail.Rounds++
		// Steps that do not shrink go to and fro over a facet's edge: shorter ones settle.
		if frozen && detail.LastStep > datumShrink*before {
			damping = max(damping/2, datumDamping)
		}
		if damping < 1 && detail.LastStep > datumSettled {
			if next, err = datumMove(g, met, fits, resist, centre, lever, damping); err != nil {
				return Placement{}, err
			}
		}
		g = next
		frozen = frozen || detail.LastStep < datumFrozen
		if !frozen && drift(gathered, g, at) > datumDrift {
			gathered = g
			if sheets, err = f.gatherAt(ctx, g, at); err != nil {
				return Placement{}, err
			}
		}
		if drift(start, g, at) > datumReach*2 {
			return Placement{}, fmt.Errorf("align: the datums pull the part %.3g mm away from the best fit; is one of them on another part of the surface than it should be? %w", drift(start, g, at), ErrDatums)
		}
	}
	return f.describeDatums(ctx, g, detail, patches, fits, outward)
}

// placedBox returns the reference's box as seen from the scan, so that motions of
// the scan can be compared by what they move there.
func (f *fit) placedBox(g geom.Rigid) geom.Box {
	back := g.Inverse()
	box := geom.EmptyBox()
	for _, p := range f.ref.box.Corners() {
		box = box.Extend(back.Apply(p))
	}
	return box
}

// drift returns the greatest distance between two placements of what lies at the points.
func drift(before, after geom.Rigid, at []geom.Vec) float64 {
	back, d := before.Inverse(), 0.0
	for _, p := range at {
		d = max(d, after.Apply(back.Apply(p)).Dist(p))
	}
	return d
}

func (f *fit) gatherAt(ctx context.Context, g geom.Rigid, at []geom.Vec) ([]datumSheet, error) {
	back := g.Inverse()
	places := make([]geom.Vec, len(at))
	for k, p := range at {
		places[k] = back.Apply(p)
	}
	return f.cloud.gather(ctx, places, f.settings.Threads)
}

// fitDatums fits the scan's surface at every datum; unless they are frozen, the
// patches are chosen anew.
func (f *fit) fitDatums(g geom.Rigid, sheets []datumSheet, patches []patch, frozen bool, met []DatumMet, outward []geom.Vec, fits []patchFit) error {
	back := g.Inverse()
	for k, d := range met {
		if !frozen {
			o, u, out := back.Apply(d.Point), back.ApplyDir(d.Normal), back.ApplyDir(outward[k])
			place, face, ok := sheets[k].meet(o, u, out)
			if !ok {
				return f.nothingAt(k, o, out)
			}
			patches[k] = sheets[k].patchAt(place, face, out)
		}
		var ok bool
		if fits[k], ok = f.matcher.fitPatch(&patches[k], g, overOf(&d, outward[k])); !ok {
			return fmt.Errorf("align: datum %d: only %d scan points lie within %.0f mm of where its direction meets the scan, too few to say where the surface is (%d in a field around it are needed); "+
				"scan there more densely, or move the datum: %w", k+1, len(patches[k].points), patches[k].radius, patchFewest, ErrDatums)
		}
	}
	return nil
}

func overOf(d *DatumMet, outward geom.Vec) *over {
	return &over{d.Datum, -d.Off / outward.Dot(d.Normal), outward}
}

// nothingAt says how far the scan is from a datum that it does not meet.
func (f *fit) nothingAt(k int, place, outward geom.Vec) error {
	nearest := f.cloud.nearest(place, outward)
	if math.IsInf(nearest, 1) {
		return fmt.Errorf("align: datum %d: no scan surface that faces like the reference lies anywhere: %w", k+1, ErrDatums)
	}
	return fmt.Errorf("align: datum %d: no scan surface lies within %.0f mm of it along its direction; the nearest scan point that faces like the reference is %.3g mm away. "+
		"There is a hole in the scan, or it ends before: scan there, or move the datum: %w", k+1, datumReach, nearest, ErrDatums)
}

// datumMove returns the placement after a part of one step.
func datumMove(g geom.Rigid, met []DatumMet, fits []patchFit, resist []geom.Vec, centre geom.Vec, lever, part float64) (geom.Rigid, error) {
	at, d := make([]geom.Vec, len(fits)), make([]float64, len(fits))
	for k := range fits {
		at[k], d[k] = met[k].Point.AddScaled(fits[k].height, met[k].Normal), fits[k].height
	}
	turn, shift, ok := datumStep(at, resist, d)
	if !ok {
		return g, fmt.Errorf("align: the six equations of the datums have no single answer: %w", ErrDatums)
	}
	c := shift.Add(turn.Cross(centre)).Scale(part) // the shift of the centre
	w := turn.Scale(lever * part)
	return moveBy(g, vec6{c.X, c.Y, c.Z, w.X, w.Y, w.Z}, centre, lever), nil
}

// describeDatums says what is known about the placement that meets the datums.
func (f *fit) describeDatums(ctx context.Context, g geom.Rigid, detail *DatumFit, patches []patch, fits []patchFit, outward []geom.Vec) (Placement, error) {
	p, err := f.described(ctx, "datums", g)
	if err != nil {
		return p, err
	}
	radii, misfits, datums := make([]float64, len(fits)), make([]float64, len(fits)), make([]Datum, len(fits))
	for k := range fits {
		datums[k], radii[k] = detail.Met[k].Datum, patches[k].radius
		misfits[k] = f.matcher.misfit(&patches[k], g, overOf(&detail.Met[k], outward[k]), &fits[k])
	}
	at, lever, resist := pointsOf(datums), f.ref.diag/2, resisting(detail.Met, outward)
	centre := meanOf(at)
	if detail.Gain, err = checkHold(datums, resist, lever); err != nil {
		return p, err
	}
	var rows [6]vec6
	for k := range rows {
		rows[k] = jacobian(at[k], resist[k], centre, lever)
	}
	inverse, ok := invert6(rows)
	if !ok {
		return p, fmt.Errorf("align: the six equations of the datums have no single answer: %w", ErrDatums)
	}
	sigmas := patchSigmas(fits, radii, misfits, f.settings.Noise)
	var covariance sym6
	for k, s := range sigmas {
		m := &detail.Met[k]
		m.Sigma, m.Scatter, m.Points, m.Radius = s, fits[k].scatter, len(patches[k].points), patches[k].radius
		var column vec6
		for i := range 6 {
			column[i] = inverse[i][k]
		}
		covariance.addOuter(float64(s*s), &column)
	}
	covariance.mirror()
	p.hold(covariance, centre, lever)
	p.Datums = detail
	p.Notes = append(detail.notes(lever), p.Notes...)
	return p, nil
}

// notes are sentences about datums that serve worse than they might.
func (d *DatumFit) notes(lever float64) []string {
	var out []string
	for k, m := range d.Met {
		if math.Abs(m.Off) > datumOnSaid {
			out = append(out, fmt.Sprintf("Datum %d as written stands %.2f mm %s the reference's surface; the scan was brought to the point as written.", k+1, math.Abs(m.Off), sideWords(m.Off)))
		}
		if m.Slant > slantSaid {
			out = append(out, fmt.Sprintf("The direction of datum %d leans %.0f degrees from the surface's normal, so that it also holds the part across itself.", k+1, degrees(m.Slant)))
		}
	}
	if d.Gain > gainSaid {
		out = append(out, fmt.Sprintf("One motion is held weakly, as the datums lie close together, nearly in line, or face too much alike: where they are off by 0.1 mm, the part may be off by %.1f mm at %.0f mm from their middle.", d.Gain/10, lever))
	}
	return out
}

func sideWords(off float64) string {
	if off > 0 {
		return "outside"
	}
	return "inside"
}
