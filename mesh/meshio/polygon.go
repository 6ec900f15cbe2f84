package meshio

import "shutline/mesh/geom"

// maxHollow is the largest polygon with a hollow corner that is cut: cutting
// ears takes up to the cube of the number of corners, here some milliseconds.
const maxHollow = 256

// cutPolygons cuts every polygon into triangles that wind as it does.
func (d *decoded) cutPolygons(s *source, in *indexed) ([][3]uint32, error) {
	if len(in.ends) == 0 {
		return in.triangles, s.ctx.Err()
	}
	out := make([][3]uint32, 0, len(in.triangles)+max(len(in.corners)-2*len(in.ends), 0))
	out = append(out, in.triangles...)
	lo := 0
	for i, hi := range in.ends {
		p := in.corners[lo:hi]
		lo = hi
		if (i%facesPerCheck == 0 || len(p) > 4) && s.ctx.Err() != nil {
			return nil, s.ctx.Err()
		}
		switch {
		case len(p) < 3:
			d.PolygonsTooSmall++
		case len(p) == 3:
			out = append(out, [3]uint32{p[0], p[1], p[2]})
		default:
			d.PolygonsCut++
			var ok bool
			if out, ok = cut(out, in.points, p); !ok {
				return nil, s.fault(nowhere.of("face %d", i+1), "a polygon of %s corners that is not convex is over the limit of %d; export it as triangles", count(len(p)), maxHollow)
			}
		}
	}
	return out, nil
}

// cut appends the triangles of polygon p of four corners or more: a fan where
// all its triangles wind as the whole does (convex polygons; from the first corner
// that sees all others for quads), else ears (Meisters 1975).
func cut(out [][3]uint32, points []geom.Vec, p []uint32) ([][3]uint32, bool) {
	for i, v := range p {
		if !points[v].IsFinite() {
			return fan(out, p, i), true // each of its triangles has the corner and is dropped
		}
	}
	n := newell(points, p)
	if n == (geom.Vec{}) || !n.IsFinite() || fansOut(points, p, 0, n) {
		return fan(out, p, 0), true
	}
	if len(p) == 4 {
		return fan(out, p, 1), true
	}
	if len(p) > maxHollow {
		return out, false
	}
	return ears(out, points, p, n), true
}

func fan(out [][3]uint32, p []uint32, from int) [][3]uint32 {
	for i := 1; i+1 < len(p); i++ {
		out = append(out, [3]uint32{p[from], p[(from+i)%len(p)], p[(from+i+1)%len(p)]})
	}
	return out
}

func fansOut(points []geom.Vec, p []uint32, from int, n geom.Vec) bool {
	a := points[p[from]]
	for i := 1; i+1 < len(p); i++ {
		b, c := points[p[(from+i)%len(p)]], points[p[(from+i+1)%len(p)]]
		if b.Sub(a).Cross(c.Sub(a)).Dot(n) < 0 {
			return false
		}
	}
	return true
}

// newell returns the polygon's normal, twice its area long (Newell's method, Sutherland et al. 1974).
func newell(points []geom.Vec, p []uint32) geom.Vec {
	var n geom.Vec
	o := points[p[0]]
	for i := range p {
		a, b := points[p[i]].Sub(o), points[p[(i+1)%len(p)]].Sub(o)
		n = n.Add(a.Cross(b))
	}
	return n
}

// ears cuts off one corner after the other whose triangle winds with n and
// holds no other corner. A polygon that crosses itself has none left at some point; then a fan ends it.
func ears(out [][3]uint32, points []geom.Vec, p []uint32, n geom.Vec) [][3]uint32 {
	left := append([]uint32(nil), p...)
	for len(left) > 3 {
		ear := -1
		for i := range left {
			if isEar(points, left, i, n) {
				ear = i
				break
			}
		}
		if ear < 0 {
			break
		}
		l := len(left)
		out = append(out, [3]uint32{left[(ear+l-1)%l], left[ear], left[(ear+1)%l]})
		left = append(left[:ear], left[ear+1:]...)
	}
	return fan(out, left, 0)
}

func isEar(points []geom.Vec, p []uint32, i int, n geom.Vec) bool {
	l := len(p)
	a, b, c := points[p[(i+l-1)%l]], points[p[i]], points[p[(i+1)%l]]
	left := func(u, v, w geom.Vec) float64 { return v.Sub(u).Cross(w.Sub(u)).Dot(n) }
	if left(a, b, c) <= 0 {
		return false
	}
	for j := range p {
		if j == i || j == (i+1)%l || j == (i+l-1)%l {
			continue
		}
		q := points[p[j]]
		if q != a && q != c && left(a, b, q) >= 0 && left(b, c, q) >= 0 && left(c, a, q) >= 0 {
			return false
		}
	}
	return true
}
