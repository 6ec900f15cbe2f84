package pieces

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/parallel"
)

// Joined is one mesh of all pieces.
type Joined struct {
	Mesh  *mesh.Mesh // joined frame
	Seams []Seam
	// Covered is the area, mm², of the pieces together, and Area that of the joined mesh.
	Covered, Area float64
}

// Mesh makes one skin of the joined pieces. Where several lie on one another each counts by how far it
// lies inside its border, so that none ends in a step, and the one that lies farthest inside is kept; the pieces are cut along
// the lines where that changes and stitched. How far apart the skins were there is told by the seams. The mesh has the same bits
// for any number of threads. The error is ctx's.
//
// Based on: Turk & Levoy, "Zippered polygon meshes from range images" (SIGGRAPH 1994), with the
// weights of Curless & Levoy, "A volumetric method for building complex models from range images" (SIGGRAPH 1996).
func (r *Result) Mesh(ctx context.Context, s Settings, progress mesh.Progress) (*Joined, error) {
	all, err := r.blend(ctx, s.Threads, progress.Part(0, 0.7))
	if err != nil {
		return nil, err
	}
	spacing := make([]float64, len(all))
	out := &Joined{}
	parts := make([]*cutting, len(all))
	for k, j := range all {
		spacing[k] = j.spacing
		out.Covered += r.Pieces[k].Area
	}
	err = parallel.Chunks(ctx, len(all), 1, s.Threads, progress.Part(0.7, 0.85), func(_, k, _, _ int) {
		parts[k] = &cutting{}
		parts[k].cut(all[k], k, &r.Pieces[k].JoinedFromPiece)
		all[k] = nil
	})
	if err != nil {
		return nil, err
	}
	c := together(parts)
	out.Mesh, out.Seams = c.stitch(spacing)
	out.Area = out.Mesh.Area()
	progress.Report(1)
	return out, ctx.Err()
}
