package app

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/crosscut"
)

// CutSections cuts the placed scan and the reference by every plane of the inspection.
// A plane that misses the scan gives a section that says so; what has none at all is told by [Outcome.Unlaid]. The error is an
// [InputError] for a scan without faces, or the context's.
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
	for k, spec := range i.Sections {
		c, err := maker.Cut(ctx, spec)
		switch {
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case errors.Is(err, crosscut.ErrMisses):
			c = crosscut.Missed(spec, err)
		case err != nil:
			return nil, err
		}
		all = append(all, c)
		progress.Report(float64(k+1) / float64(len(i.Sections)))
	}
	return all, nil
}

// lostSection is the error of a section that the scan has nowhere, at its place in the file.
func lostSection(i *inspection.Inspection, lost crosscut.Lost, why string) error {
	e := &InputError{Path: i.Scan.File, Problem: fmt.Sprintf("section %q: %s", lost.Name, why)}
	if i.Path == "" {
		return e
	}
	e.Path = i.Path
	var entries []string // as they stand in the file
	for _, s := range i.Sections {
		if row := crosscut.RowOf(s); len(entries) == 0 || entries[len(entries)-1] != row {
			entries = append(entries, row)
		}
	}
	if k := slices.Index(entries, lost.Name); k >= 0 {
		if line := inspection.Line(i.Path, fmt.Sprintf("section[%d]", k)); line > 0 {
			e.Problem = fmt.Sprintf("line %d: ", line) + e.Problem
		}
	}
	return e
}
