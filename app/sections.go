package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"

	"shutline/app/inspection"
	"shutline/deviation/crosscut"
)

// CutSections cuts the placed scan and the reference by every plane of the inspection.
// A plane that misses the scan gives a section that says so. The error is an [InputError] for a scan without faces, or
// where every plane misses it, or the context's.
func CutSections(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p Progress) ([]*crosscut.Section, error) {
	if len(i.Sections) == 0 {
		return nil, nil
	}
	if len(parts.Scan.Mesh.Faces) == 0 {
		return nil, &InputError{Path: i.Scan.File, Problem: "the scan has points but no faces, so no section can be cut; export it as triangles or leave the sections out"}
	}
	progress := p.part("cutting sections", 0, 1)
	maker, err := crosscut.NewMaker(ctx, placed.Mesh, placed.Normals, parts.Surface, i.Surface.Reach, i.Surface.Tolerance, s.Threads)
	if err != nil {
		return nil, err
	}
	var all []*crosscut.Section
	cuts := 0
	var missed error
	for k, spec := range i.Sections {
		c, err := maker.Cut(ctx, spec)
		switch {
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case errors.Is(err, crosscut.ErrMisses):
			c = crosscut.Missed(spec, err)
			if missed == nil {
				missed = &InputError{Path: cmp.Or(i.Path, i.Scan.File), Problem: fmt.Sprintf("section %q: %v; move its point, or turn its normal", spec.Name, err)}
			}
		case err != nil:
			return nil, err
		default:
			cuts++
		}
		all = append(all, c)
		progress.Report(float64(k+1) / float64(len(i.Sections)))
	}
	if cuts == 0 {
		return nil, missed
	}
	return all, nil
}
