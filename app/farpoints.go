package app

import (
	"context"
	"fmt"
	"math"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// farFrom is how far from any face, mm, a point of a path is surely mistyped: the widest gap, its hems and a body that bends
// between two points are less. Tracing begins within it too.
const farFrom = 30.0

// distanceTo returns how far a point lies from the nearest face of a mesh, mm; less than enough, which is all that is
// asked, it may say of a face that is not the nearest. The error is the context's.
func distanceTo(ctx context.Context, m *mesh.Mesh, p geom.Vec, enough float64) (float64, error) {
	const oftenAsked = 1 << 16 // faces, well under a millisecond's work
	best := math.Inf(1)
	for f := range m.Faces {
		if f%oftenAsked == 0 && ctx.Err() != nil {
			return 0, ctx.Err()
		}
		a, b, c := m.Corners(uint32(f))
		if geom.BoxOf([]geom.Vec{a, b, c}).Dist2(p) >= best*best {
			continue
		}
		q, _ := geom.ClosestOnTriangle(p, a, b, c)
		if best = min(best, q.Dist(p)); best < enough {
			break
		}
	}
	return best, nil
}

// noteFarPoints names the points of a typed path that lie far from the mesh it is drawn on, so that stations have no seam:
// one mistyped number loses all stations on the way to it and back.
func (l *layer) noteFarPoints(ctx context.Context, r *gapflush.Result) error {
	const mostNamed = 3
	off := false
	for k := range r.Stations {
		off = off || r.Stations[k].State == gapflush.OffPath
	}
	if !off {
		return nil
	}
	type point struct {
		n int
		d float64
	}
	var far []point
	along, path := r.Seam.From, r.Seam.Path
	for n, at := range path {
		if n > 0 {
			along += at.Dist(path[n-1])
		}
		if nearest := nearestAlong(r, along); nearest.State != gapflush.OffPath {
			continue
		}
		d, err := distanceTo(ctx, l.mesh, at, farFrom)
		if err != nil {
			return err
		}
		if d >= farFrom && !math.IsInf(d, 1) {
			far = append(far, point{n, d})
		}
	}
	if len(far) == len(path) {
		r.Notes = append(r.Notes, fmt.Sprintf("All %d points of its path lie far from the %s, the first, %s, by %.0f mm: paths are in the %s's frame, in mm.", len(path), l.what, place(path[0]), far[0].d, l.what))
		return nil
	}
	for k, p := range far {
		if k == mostNamed {
			r.Notes = append(r.Notes, fmt.Sprintf("Of its path %d more points lie far from the %s.", len(far)-k, l.what))
			break
		}
		r.Notes = append(r.Notes, fmt.Sprintf("Point %d of its path, %s, lies %.0f mm from the %s: put it on the gap.", p.n+1, place(path[p.n]), p.d, l.what))
	}
	return nil
}
