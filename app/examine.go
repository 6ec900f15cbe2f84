package app

import (
	"context"

	"shutline/mesh/bvh"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

// Examined is what is known of the meshes by themselves.
type Examined struct {
	Scan      *quality.Examination
	Reference *quality.Examination // nil without one
}

// examine looks at the meshes as they were read.
func (parts *Parts) examine(ctx context.Context, s Settings, p Progress) (err error) {
	mm := []meshio.Unit{meshio.Millimetre}
	e := &parts.Examined
	if e.Scan, err = quality.Examine(ctx, parts.Scan.Mesh, nil, mm, s.Threads, p.part("examining the scan", 0, 0.6)); err != nil {
		return err
	}
	if parts.Reference != nil {
		var tree *bvh.Tree
		if parts.Surface.Mesh == parts.Reference.Mesh { // not mirrored
			tree = parts.Surface.Tree()
		}
		e.Reference, err = quality.Examine(ctx, parts.Reference.Mesh, tree, mm, s.Threads, p.part("examining the reference", 0.6, 1))
	}
	return err
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
