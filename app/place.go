package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/evidence"
	"shutline/mesh/geom"
)

// Other is what another method of placing, for which the inspection holds what it
// needs, makes of the same scan, and how far that is from the placement used.
type Other = evidence.OtherPlacement

// onRegions is the name of a best fit on regions in tables and sentences.
const onRegions = "best-fit on regions"

// find places the scan as the inspection says, then by every other method that the
// inspection holds what it needs for.
func (placed *Placed) find(ctx context.Context, i *inspection.Inspection, parts *Parts, s Settings, p Progress) error {
	if parts.Surface == nil {
		return placed.without(i)
	}
	f := &finder{i: i, parts: parts, settings: align.Settings{Threads: s.Threads, Noise: i.Scan.Noise}}
	chosen, others := f.methods()
	last := 1.0 / float64(1+len(others))
	var err error
	placed.Placement, err = f.place(ctx, chosen, p.span(0, last))
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if hint := f.otherHand(ctx, &placed.Placement, err, p.span(0.8*last, last)); ctx.Err() == nil && hint != "" {
		if err != nil {
			err = fmt.Errorf("%w. %s", err, hint)
		} else {
			placed.Placement.Notes = append(placed.Placement.Notes, hint+".")
		}
	}
	if err != nil {
		return fmt.Errorf("app: %s: %w", i.Scan.File, err)
	}
	placed.Method = chosen
	for k, method := range others {
		o := Other{Method: method}
		o.Placement, err = f.place(ctx, method, p.span(last*float64(k+1), last*float64(k+2)))
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			o = Other{Method: method, Why: Sentence(err)}
		} else {
			apart(&o, placed.Placement.ReferenceFromScan, parts.Mirrored.Bounds())
		}
		placed.Others = append(placed.Others, o)
	}
	placed.blame()
	placed.contradict(parts.Mirrored.Bounds())
	return ctx.Err()
}

// without places a scan that has no reference beside it.
func (placed *Placed) without(i *inspection.Inspection) (err error) {
	placed.Method = i.Place.Method
	if i.Place.Method == inspection.Pairs {
		if placed.Placement, err = align.FitPairs(i.Place.Pairs, geom.EmptyBox()); err != nil {
			return fmt.Errorf("app: %s: %w", i.Scan.File, err)
		}
		placed.Placement.Notes = append(placed.Placement.Notes, "there is no reference: positions along the paths are those of the frame that the pairs lead to")
		return nil
	}
	placed.Placement = align.Placement{Method: i.Place.Method, ReferenceFromScan: i.Place.Given}
	if i.Place.Method != inspection.Given {
		placed.Placement.ReferenceFromScan = geom.Identity()
	}
	for k := range placed.Placement.Free {
		placed.Placement.Free[k] = true
	}
	placed.Placement.Notes = []string{"there is no reference: positions along the paths are those of the scan's own frame"}
	return nil
}

// finder places one scan by several methods.
type finder struct {
	i        *inspection.Inspection
	parts    *Parts
	settings align.Settings
	placer   *align.Placer
}

// methods returns the method to use and the others that can be compared with it.
func (f *finder) methods() (chosen string, others []string) {
	place := &f.i.Place
	chosen = place.Method
	if chosen == inspection.BestFit && len(place.Regions) > 0 {
		chosen = onRegions
	}
	for _, m := range []struct {
		name string
		has  bool
	}{
		{onRegions, len(place.Regions) > 0}, {inspection.Datums, len(place.Datums) > 0}, {inspection.Pairs, len(place.Pairs) > 0}, {inspection.Given, place.HasMatrix},
	} {
		if m.has && m.name != chosen {
			others = append(others, m.name)
		}
	}
	// A best fit needs nothing of its own.
	if chosen != inspection.BestFit {
		others = append([]string{inspection.BestFit}, others...)
	}
	return chosen, others
}

func (f *finder) place(ctx context.Context, method string, p Progress) (align.Placement, error) {
	place, scan, ref := &f.i.Place, f.parts.Scan.Mesh, f.parts.Surface
	if f.placer == nil {
		var err error
		f.placer, err = align.NewPlacer(ctx, scan, ref, f.settings)
		if errors.Is(err, align.ErrTooFew) && (method == inspection.Given || method == inspection.None) {
			return align.Describe(ctx, method, f.motion(method), scan, ref, f.settings)
		}
		if err != nil {
			return align.Placement{}, err
		}
	}
	switch method {
	case inspection.BestFit:
		return f.placer.BestFit(ctx, p.part("placing the scan on the reference", 0, 1))
	case onRegions:
		return f.placer.Regions(ctx, place.Regions, p.part("placing the scan on regions of the reference", 0, 1))
	case inspection.Datums:
		return f.placer.Datums(ctx, place.Datums, p.part("placing the scan by datums", 0, 1))
	case inspection.Pairs:
		return f.placer.Pairs(ctx, place.Pairs)
	}
	return f.placer.Describe(ctx, method, f.motion(method))
}

// motion returns the motion of the methods that take one.
func (f *finder) motion(method string) geom.Rigid {
	if method == inspection.Given {
		return f.i.Place.Given
	}
	return geom.Identity()
}

// otherHand looks whether the scan fits the reference far better mirrored than not,
// where the reference was mirrored or the placement is poor, and says so.
func (f *finder) otherHand(ctx context.Context, placed *align.Placement, failed error, p Progress) string {
	byFit := f.i.Place.Method == inspection.BestFit || f.i.Place.Method == inspection.Datums
	mirrored := f.parts.Mirror != nil
	switch {
	case !byFit || f.placer == nil:
		return ""
	case f.parts.Reference != nil && f.parts.Reference.SHA256 == f.parts.Scan.SHA256: // a body beside its own mirror image: not mirrored it is itself
		return ""
	case failed != nil && (!errors.Is(failed, align.ErrNoOverlap) || errors.Is(failed, align.ErrReadWrongly)):
		return ""
	case failed == nil && !mirrored && !placed.Doubtful():
		return ""
	}
	if failed != nil {
		placed = nil
	}
	h, err := f.placer.OtherHand(ctx, placed, p.part("trying the other hand", 0, 1))
	if err != nil || !h.OtherFits() {
		return ""
	}
	numbers := fmt.Sprintf("%.0f %% of its area would lie within %g mm of the reference instead of %.0f %%", 100*h.There, align.HandWithin, 100*h.Here)
	if h.HereRMS > 0 {
		numbers += fmt.Sprintf(", with a scatter of %.2f mm instead of %.2f mm", h.ThereRMS, h.HereRMS)
	}
	if mirrored {
		return "The scan fits the reference far better without mirroring: " + numbers + "; take mirror out of [reference]"
	}
	return "The scan fits the reference far better mirrored: " + numbers + "; it is of the other side of the vehicle, so set mirror in [reference]"
}

// apart works out how far the other placement is from the one used, over the box of the reference.
func apart(o *Other, used geom.Rigid, box geom.Box) {
	d := o.Placement.ReferenceFromScan.After(used.Inverse())
	o.Greatest = geom.MaxDisplacement(d, geom.Identity(), box)
	o.Shift = d.Apply(box.Center()).Sub(box.Center())
	axis := geom.Vec{X: d.R[2][1] - d.R[1][2], Y: d.R[0][2] - d.R[2][0], Z: d.R[1][0] - d.R[0][1]}
	o.Turn = axis.Unit().Scale(d.Angle())
	if math.Abs(d.Angle()) < 1e-15 {
		o.Turn = geom.Vec{}
	}
}
