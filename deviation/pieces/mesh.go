package pieces

import (
	"context"

	"shutline/mesh"
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
	c := &cutting{}
	spacing := make([]float64, len(all))
	out := &Joined{}
	for k, j := range all {
		spacing[k] = j.spacing
		out.Covered += r.Pieces[k].Area
		c.cut(j, k, &r.Pieces[k].JoinedFromPiece)
		all[k] = nil
		progress.Report(0.7 + 0.2*float64(k+1)/float64(len(all)))
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	out.Mesh, out.Seams = c.stitch(spacing)
	out.Area = out.Mesh.Area()
	progress.Report(1)
	return out, ctx.Err()
}
