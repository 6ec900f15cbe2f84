package app

import (
	"context"
	"errors"
	"fmt"

	"shutline/app/inspection"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// LoadParts reads the scan and the reference, indexes the reference and examines both.
//
// Errors are those of [ReadParts].
func LoadParts(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*Parts, error) {
	parts, err := ReadParts(ctx, i, s, p.span(0, 0.8))
	if err != nil {
		return nil, err
	}
	e, err := parts.Examine(ctx, s, p.span(0.8, 1))
	if err != nil {
		return nil, err
	}
	parts.Take(e, nil)
	return parts, nil
}

// ReadParts is LoadParts without the examination, which may come later: see [Parts.Examine]. The
// reference is read first, since the scan's unit may be judged beside it.
//
// Errors: [meshio.OpenError], [meshio.FormatError], [meshio.UnitError], an
// [InputError] for a reference without faces, a unit that was stated wrongly, a
// scan that is the reference itself, or meshes that do not fit into memory, or the context's.
func ReadParts(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*Parts, error) {
	each := int64(perTriangle)
	if s.Drawn {
		each += perDrawn
	}
	if err := needRoom(each, meshFiles(i)); err != nil {
		return nil, err
	}
	parts := &Parts{unexamined: true}
	var beside *geom.Box
	if i.Reference != nil {
		if err := parts.loadReference(ctx, i, s, p.span(0, 0.5)); err != nil {
			return nil, err
		}
		if r := parts.Reference; r.UnitSource != "judged" {
			box := r.Mesh.Bounds()
			beside = &box
		}
	}
	lo := 0.0
	if i.Reference != nil {
		lo = 0.5
	}
	scan, err := parts.readScan(ctx, i, meshio.Options{Unit: i.Scan.Units, Beside: beside, Threads: s.Threads}, s, p.span(lo, 1))
	if err != nil {
		return nil, err
	}
	parts.Scan = scan
	parts.note("scan", scan)
	if r := parts.Reference; r != nil && r.SHA256 == scan.SHA256 && i.Reference.Mirror == "none" {
		return nil, &InputError{Path: i.Scan.File, Problem: "it holds the same bytes as the reference, so that everything would agree with itself; name the scan as file in [scan] and what it is compared with in [reference]"}
	}
	if err := parts.checkUnits(i); err != nil {
		return nil, err
	}
	if len(scan.Mesh.Faces) > 0 {
		parts.ScanAreas = scan.Mesh.VertexAreas()
	}
	parts.Notes = append(parts.Notes, Swapped(i, parts)...)
	for _, d := range Foresee(i, parts) {
		parts.Notes = append(parts.Notes, d.String())
	}
	parts.findBoxes()
	return parts, ctx.Err()
}

func (parts *Parts) loadReference(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) error {
	ref, err := meshio.Read(ctx, i.Reference.File, meshio.Options{
		Unit: i.Reference.Units, Threads: s.Threads, Progress: p.part("reading the reference", 0, 0.6),
	})
	if err != nil {
		return missing(unitHint(err, "reference"), i, "reference.file", i.Reference.File)
	}
	parts.Reference = ref
	parts.note("reference", ref)
	return parts.mirror(ctx, i, s, p.span(0.6, 1))
}

func (parts *Parts) note(who string, l *meshio.Loaded) {
	for _, n := range l.Notices() {
		parts.Notes = append(parts.Notes, who+": "+n)
	}
}

// unitHint adds which key of the inspection settles a unit that cannot be told.
func unitHint(err error, section string) error {
	var unit *meshio.UnitError
	if errors.As(err, &unit) {
		return fmt.Errorf("%w; it is the key units in [%s]", err, section)
	}
	return err
}

// Place finds the placement and carries the scan into the reference's frame.
// The error is what [align.BestFit] returns, or the context's.
func Place(ctx context.Context, i *inspection.Inspection, parts *Parts, s Settings, p Progress) (*Placed, error) {
	placed := &Placed{}
	err := placed.find(ctx, i, parts, s, p)
	if err != nil {
		return nil, err
	}
	if n := parts.Exchanged(); n != "" {
		placed.Placement.Notes = append([]string{n}, placed.Placement.Notes...)
	}
	placed.Mesh = carried(parts.Scan.Mesh, placed.Placement.ReferenceFromScan)
	if placed.Normals, err = placed.Mesh.VertexNormalsWithin(ctx); err != nil {
		return nil, err
	}
	return placed, nil
}

// carried moves a mesh; one that stays where it is is not copied.
func carried(m *mesh.Mesh, g geom.Rigid) *mesh.Mesh {
	if g == geom.Identity() {
		return m
	}
	return m.Moved(g)
}
