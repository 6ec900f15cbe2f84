package meshio

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// indexed is what a file with a list of vertices holds (PLY, OBJ, GLB), as read.
type indexed struct {
	points    []geom.Vec
	normals   []geom.Vec // one per point, or none
	colours   [][3]uint8 // one per point, or none
	triangles [][3]uint32
	polygons  // beside triangles
}

// polygons are lists of corners, one after the other.
type polygons struct {
	corners []uint32
	ends    []int // where each polygon ends in corners
}

// none marks a vertex that is not kept.
const none = math.MaxUint32

// weld turns an indexed file into a mesh: it cuts polygons, joins equal
// vertices in the order of the list, drops faces and then vertices without faces.
func (d *decoded) weld(s *source, in *indexed) error {
	d.VerticesInFile = len(in.points)
	faces, err := d.cutPolygons(s, in)
	if err != nil {
		return err
	}
	d.FacesInFile = len(faces)
	s.progress.Report(0.8)
	w, number, err := d.joinPoints(s, in.points)
	if err != nil {
		return err
	}
	s.progress.Report(0.9)
	m := &mesh.Mesh{}
	if m.Vertices, err = pointsOf(s, w.keys); err != nil {
		return err
	}
	if m.Colours, err = firstOf(s.ctx, in.colours, number, len(m.Vertices)); err != nil {
		return err
	}
	d.Mesh = m
	if len(faces) == 0 {
		if m.Normals, err = firstOf(s.ctx, in.normals, number, len(m.Vertices)); err != nil {
			return err
		}
		return parallel.Chunks(s.ctx, len(m.Normals), facesPerCheck, s.threads, nil, func(_, _, lo, hi int) {
			for i := lo; i < hi; i++ {
				m.Normals[i] = m.Normals[i].Unit() // a normal that has no direction stays zero
			}
		})
	}
	used := make([]bool, len(m.Vertices))
	kept := faces[:0]
	for i, f := range faces {
		if i%facesPerCheck == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		a, b, c := number[f[0]], number[f[1]], number[f[2]]
		switch {
		case a == none || b == none || c == none:
			d.DroppedNotFinite++
		case noArea(m.Vertices[a], m.Vertices[b], m.Vertices[c]):
			d.DroppedNoArea++
		default:
			kept = append(kept, [3]uint32{a, b, c})
			used[a], used[b], used[c] = true, true, true
		}
	}
	m.Faces = kept
	return d.dropUnused(s.ctx, used)
}

// joinPoints numbers the finite points, equal ones alike.
func (d *decoded) joinPoints(s *source, points []geom.Vec) (*welder[[3]uint64], []uint32, error) {
	w := newWelder(len(points)+8, hash64)
	number := make([]uint32, len(points))
	for i, p := range points {
		if i%facesPerCheck == 0 && s.ctx.Err() != nil {
			return nil, nil, s.ctx.Err()
		}
		if !p.IsFinite() {
			number[i] = none
			d.PointsNotFinite++
			continue
		}
		k := key64(p)
		number[i] = w.add(k, hash64(k))
	}
	d.VerticesJoined = len(points) - d.PointsNotFinite - len(w.keys)
	return w, number, nil
}

// firstOf returns the value of the first point of each of n joined groups.
func firstOf[T any](ctx context.Context, values []T, number []uint32, n int) ([]T, error) {
	if values == nil {
		return nil, nil
	}
	out := make([]T, n)
	next := uint32(0)
	for i, v := range number {
		if i%facesPerCheck == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if v == next { // the first of its group: numbers are given in order
			out[v] = values[i]
			next++
		}
	}
	return out, nil
}

// dropUnused takes vertices without faces out of the mesh and keeps the others' order.
func (d *decoded) dropUnused(ctx context.Context, used []bool) error {
	m := d.Mesh
	renumber := make([]uint32, len(used))
	n := uint32(0)
	for i, u := range used {
		if i%facesPerCheck == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		renumber[i] = n
		if u {
			m.Vertices[n] = m.Vertices[i]
			if m.Colours != nil {
				m.Colours[n] = m.Colours[i]
			}
			n++
		}
	}
	d.VerticesUnused += len(used) - int(n)
	m.Vertices = m.Vertices[:n:n]
	if m.Colours != nil {
		m.Colours = m.Colours[:n:n]
	}
	if int(n) == len(used) {
		return nil
	}
	for i, f := range m.Faces {
		if i%facesPerCheck == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		m.Faces[i] = [3]uint32{renumber[f[0]], renumber[f[1]], renumber[f[2]]}
	}
	return nil
}
