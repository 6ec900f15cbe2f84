package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// mirror reflects the reference where the inspection says so, finds the plane
// where it asks for that, indexes the reference as used, and tells how
// well the body's halves agree.
func (parts *Parts) mirror(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (err error) {
	ref := parts.Reference
	parts.Mirrored = ref.Mesh
	if i.Reference.Mirror == inspection.None || i.Reference.Mirror == "" {
		parts.Surface, err = surface.New(ctx, parts.Mirrored, s.Threads, p.part("indexing the reference", 0, 1))
		return facesNeeded(err, i)
	}
	fit := align.MirrorFit{Plane: align.MirrorPlane{Normal: geom.Vec{X: 1}}}
	switch i.Reference.Mirror {
	case inspection.MirrorFind:
		body, err := surface.New(ctx, ref.Mesh, s.Threads, p.part("indexing the reference", 0, 0.2))
		if err != nil {
			return facesNeeded(err, i)
		}
		fit, err = align.FindMirror(ctx, body, align.Settings{Threads: s.Threads}, p.part("finding the plane of symmetry", 0.2, 0.8))
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			return &InputError{Path: i.Reference.File, Problem: strings.TrimSuffix(Sentence(err), ": "+align.ErrMirror.Error())}
		}
		parts.Mirrored = fit.Plane.Mirrored(ref.Mesh)
	case inspection.MirrorGiven:
		fit.Plane = i.Reference.MirrorPlane
		fit.Plane.Normal = fit.Plane.Normal.Unit()
		parts.Mirrored = fit.Plane.Mirrored(ref.Mesh)
	default:
		axis := strings.Index("xyz", i.Reference.Mirror)
		if axis < 0 {
			return fmt.Errorf("app: reference.mirror is %q", i.Reference.Mirror)
		}
		fit.Plane.Normal = [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}[axis]
		parts.Mirrored = ref.Mesh.Mirrored(axis)
	}
	parts.Surface, err = surface.New(ctx, parts.Mirrored, s.Threads, p.part("indexing the reference", 0.8, 1))
	if err != nil {
		return facesNeeded(err, i)
	}
	if !fit.Found {
		if fit, err = align.MirrorHalves(ctx, fit.Plane, parts.Surface, s.Threads); err != nil {
			return err
		}
	}
	parts.Mirror = &fit
	parts.Notes = append(parts.Notes, mirrorWords(i.Reference.Mirror, &fit)...)
	return nil
}

func facesNeeded(err error, i *inspection.Inspection) error {
	if errors.Is(err, surface.ErrNoFaces) {
		return &InputError{Path: i.Reference.File, Problem: "the reference has points but no faces, so nothing can be compared with it; export it as triangles"}
	}
	return err
}

// mirrorWords says in which plane the reference was mirrored and how well its halves agree.
func mirrorWords(how string, fit *align.MirrorFit) []string {
	plane := fit.Plane
	place := fmt.Sprintf("through (%.2f, %.2f, %.2f) mm with the normal (%.5f, %.5f, %.5f)",
		plane.Point.X+0, plane.Point.Y+0, plane.Point.Z+0, plane.Normal.X+0, plane.Normal.Y+0, plane.Normal.Z+0)
	var out []string
	switch {
	case fit.Found:
		out = append(out, fmt.Sprintf("the reference was mirrored in its plane of symmetry, which was found %s; its place is known to ± %.3f mm and its direction to ± %.4f degrees (k = 2)",
			place, max(2*fit.Offset, 0.001), max(2*fit.Tilt*180/math.Pi, 0.0001)))
	case how == inspection.MirrorGiven:
		out = append(out, "the reference was mirrored in the plane "+place+", as given")
	default:
		out = append(out, fmt.Sprintf("the reference was mirrored in the plane through the origin square to %s", how))
	}
	if !fit.Halves {
		return append(out, "the plane passes beside the reference, so there are no two halves to compare")
	}
	return append(out, fmt.Sprintf("the halves on either side of the plane agree within %g mm over %.0f %% of the area; there they differ by %.3f mm (RMS)", align.MirrorWithin, 100*fit.Share, fit.RMS))
}
