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
		return l.noteElsewhere(ctx, r)
	}
	named := map[int]bool{}
	for _, p := range far {
		named[p.n] = true
	}
	l.noteAside(r, named)
	for k, p := range far {
		if k == mostNamed {
			r.Notes = append(r.Notes, fmt.Sprintf("Of its path %d more points lie far from the %s.", len(far)-k, l.what))
			break
		}
		r.Notes = append(r.Notes, fmt.Sprintf("Point %d of its path, %s, lies %.0f mm from the %s: put it on the gap.", p.n+1, place(path[p.n]), p.d, l.what))
	}
	return nil
}

// noteElsewhere says where a path that lies far from the mesh it is drawn on would lie on it: in another unit, or in the scan's own frame.
func (l *layer) noteElsewhere(ctx context.Context, r *gapflush.Result) error {
	times, err := l.inUnit(ctx, r.Seam.Path)
	if err != nil {
		return err
	}
	if times != 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Times %g, it would lie on the %s: write it in mm.", times, l.what))
		return nil
	}
	if l.filed == nil {
		return nil
	}
	on, err := liesOn(ctx, l.filed, r.Seam.Path, 1)
	if on {
		r.Notes = append(r.Notes, "It lies on the scan as the scan's file has it: write it in the reference's frame; or, where scan and reference were exchanged, take them the other way round.")
	}
	return err
}

// inUnit returns how many mm the unit has in which a path would lie on the mesh, where it does not in mm; 0 for none.
func (l *layer) inUnit(ctx context.Context, path []geom.Vec) (times float64, err error) {
	for _, times := range []float64{25.4, 10, 1000} {
		if on, err := liesOn(ctx, l.mesh, path, times); on || err != nil {
			return times, err
		}
	}
	return 0, nil
}

// liesOn reports whether the first, the middle and the last point of a path, times a factor, lie on a mesh, or in a gap of it.
func liesOn(ctx context.Context, m *mesh.Mesh, path []geom.Vec, times float64) (bool, error) {
	const inGap = 8.0 // mm from the hems of a wide one
	for _, n := range []int{0, len(path) / 2, len(path) - 1} {
		d, err := distanceTo(ctx, m, path[n].Scale(times), inGap)
		if err != nil || !(d < inGap) {
			return false, err
		}
	}
	return true, nil
}

// noteAside names the points of a typed path that lie on the skin, or near it, but far aside of the gap that the path is on before and
// behind them, or on one side of them where they begin or end it; those named already are left out.
func (l *layer) noteAside(r *gapflush.Result, named map[int]bool) {
	const (
		mostNamed = 3
		aside     = 12.0 // mm; a gap within it is the path's own
	)
	path := r.Seam.Path
	arc := make([]float64, len(path))
	for n := range path {
		arc[n] = r.Seam.From
		if n > 0 {
			arc[n] = arc[n-1] + path[n].Dist(path[n-1])
		}
	}
	// on reports whether the path is on a gap where it comes to point n, or where it leaves it.
	on := func(n, dir int) bool {
		const steps = 1.5 // of the stations, so that one of them stands there
		if m := n + dir; m < 0 || m >= len(path) {
			return false
		}
		for k := range r.Stations {
			s := &r.Stations[k]
			if (s.State != gapflush.OffPath || s.Retraced()) && float64(dir)*(s.Along-arc[n]) >= 0 && math.Abs(s.Along-arc[n]) <= steps*r.Seam.Every {
				return true
			}
		}
		return false
	}
	var said []string
	more := 0
	for n := range path {
		if nearest := nearestAlong(r, arc[n]); named[n] || nearest.State != gapflush.OffPath || nearest.Retraced() {
			continue
		}
		before, after := n-1, n+1
		var d float64
		var from string
		switch {
		case before >= 0 && after < len(path) && on(before, -1) && on(after, 1):
			_, d = geom.NearestOnPath(path[n], []geom.Vec{path[before], path[after]})
			from = fmt.Sprintf("the line from point %d to point %d", before+1, after+1)
		case n == 0 && after+1 < len(path) && on(after, 1):
			d = asideOf(path[n], path[after+1], path[after])
			from = fmt.Sprintf("the line on which points %d and %d lie", after+1, after+2)
		case n == len(path)-1 && before > 0 && on(before, -1):
			d = asideOf(path[n], path[before-1], path[before])
			from = fmt.Sprintf("the line on which points %d and %d lie", before, before+1)
		}
		switch {
		case d <= aside:
		case len(said) == mostNamed:
			more++
		default:
			said = append(said, fmt.Sprintf("Point %d of its path, %s, lies %.0f mm aside of %s, and no seam is there: put it on the gap.", n+1, place(path[n]), d, from))
		}
	}
	r.Notes = append(r.Notes, said...)
	if more > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Of its path %d more points lie far aside of the gap.", more))
	}
}

// asideOf returns how far a point lies aside of the line through two others, mm, 0 where these are one.
func asideOf(p, a, b geom.Vec) float64 {
	f := b.Sub(a).Unit()
	d := p.Sub(b)
	if f == (geom.Vec{}) {
		return 0
	}
	return d.AddScaled(-d.Dot(f), f).Norm()
}
