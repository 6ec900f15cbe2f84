package app

import (
	"cmp"
	"context"

	"shutline/mesh/bvh"
	"shutline/mesh/meshio"
	"shutline/mesh/parallel"
	"shutline/mesh/quality"
)

// Examined is what is known of the meshes by themselves.
type Examined struct {
	Scan      *quality.Examination
	Reference *quality.Examination // nil without one
}

// Unexamined reports whether the parts were read only: nothing is known of the meshes by themselves.
func (parts *Parts) Unexamined() bool { return parts.unexamined }

// Examine looks at the meshes as they were read, at both side by side: much of it keeps one thread busy only. It
// leaves the parts as they are, see Take. The error is ctx's.
func (parts *Parts) Examine(ctx context.Context, s Settings, p Progress) (e Examined, err error) {
	mm := []meshio.Unit{meshio.Millimetre}
	if parts.Reference == nil {
		e.Scan, err = quality.Examine(ctx, parts.Scan.Mesh, nil, mm, s.Threads, p.part("examining the scan", 0, 1))
		return e, err
	}
	var errs [2]error
	parallel.Chunks(ctx, 2, 1, s.Threads, nil, func(_, chunk, _, _ int) {
		if chunk == 0 {
			e.Scan, errs[0] = quality.Examine(ctx, parts.Scan.Mesh, nil, mm, s.Threads, p.part("examining the scan", 0, 0.9))
			p.part("examining the reference", 0.9, 1)
			return
		}
		var tree *bvh.Tree
		if parts.Surface.Mesh == parts.Reference.Mesh { // not mirrored
			tree = parts.Surface.Tree()
		}
		e.Reference, errs[1] = quality.Examine(ctx, parts.Reference.Mesh, tree, mm, s.Threads, nil)
	})
	return e, cmp.Or(errs[0], errs[1], ctx.Err())
}

// Take keeps what was found. Where that says that the files were taken for each other, the notes of the parts begin with it and
// so do those of how they were placed, placed having been made before; nil: it was not. Nobody may read either meanwhile.
func (parts *Parts) Take(e Examined, placed *Placed) {
	parts.Examined, parts.unexamined = e, false
	n := parts.Exchanged()
	if n == "" {
		return
	}
	parts.Notes = append([]string{n}, parts.Notes...)
	if placed != nil {
		placed.Placement.Notes = append([]string{n}, placed.Placement.Notes...)
	}
}

// Faults says what is wrong with the meshes by themselves, and with which.
func (e *Examined) Faults() []string {
	var out []string
	if e.Scan == nil {
		return nil
	}
	for _, f := range e.Scan.Faults() {
		out = append(out, "scan: "+f)
	}
	if e.Reference != nil {
		for _, f := range e.Reference.Faults() {
			out = append(out, "reference: "+f)
		}
	}
	return out
}
