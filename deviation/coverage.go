package deviation

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// finePart: a piece whose corners lie within reach/finePart of its middle is judged by its middle.
	finePart = 8
	// maxHalvings bounds the splitting of one reference face, into 4^6 = 4096 pieces.
	maxHalvings = 6
	// faceRun is the number of reference faces per parallel chunk.
	faceRun = 4096
	// pointTriangle is the size in mm of the triangle that stands for a point of a
	// scan without faces: far below any reach, far above the rounding of coordinates.
	pointTriangle = 1e-3
)

// covered returns the share of the reference's area that has a scan face
// within the reach whose normal lies within 60 degrees of the reference's.
//
// A reference face is halved along its sides until the nearest such scan face
// proves a piece covered or uncovered as a whole, or until the piece's corners
// lie within reach/8 of its middle, which then decides for it. So the share is
// exact but for a strip of at most reach/8 to either side of the border of the
// covered area; faces more than 8 times as large as the reach across end with
// 4096 samples each.
func covered(ctx context.Context, scan, ref *mesh.Mesh, s Settings, progress mesh.Progress) (float64, error) {
	if len(ref.Faces) == 0 || len(scan.Vertices) == 0 {
		return 0, ctx.Err()
	}
	c, err := newCoverage(ctx, scan, s, progress.Part(0, 0.7))
	if err != nil {
		return 0, err
	}
	n := len(ref.Faces)
	chunks := (n + faceRun - 1) / faceRun
	seen, whole := make([]float64, chunks), make([]float64, chunks)
	finders := make([]*bvh.Finder, parallel.Threads(s.Threads))
	err = parallel.Chunks(ctx, n, faceRun, s.Threads, progress.Part(0.7, 1), func(worker, chunk, lo, hi int) {
		if finders[worker] == nil {
			finders[worker] = c.index.NewFinder()
		}
		for i := lo; i < hi; i++ {
			p, q, r := ref.Corners(uint32(i))
			normal := ref.AreaNormal(uint32(i))
			area := float64(normal.Norm() / 2)
			whole[chunk] += area
			seen[chunk] += float64(area * c.share(finders[worker], p, q, r, normal.Unit(), maxHalvings))
		}
	})
	if err != nil {
		return 0, err
	}
	a, b := 0.0, 0.0
	for k := range seen {
		a, b = a+seen[k], b+whole[k]
	}
	if b == 0 {
		return 0, nil
	}
	return a / b, nil
}

// coverage asks a scan whether it covers a piece of the reference.
type coverage struct {
	index  *bvh.Tree
	reach  float64
	minCos float64
}

// newCoverage indexes the scan's faces. Points without faces are given one
// each: a tiny triangle square to the point's normal.
func newCoverage(ctx context.Context, scan *mesh.Mesh, s Settings, progress mesh.Progress) (coverage, error) {
	c := coverage{reach: s.Reach, minCos: facingCos}
	if len(scan.Faces) == 0 {
		if scan.Normals == nil {
			c.minCos = -2 // every direction will do
		}
		scan = pointTriangles(scan)
	}
	var err error
	c.index, err = bvh.Build(ctx, scan, s.Threads, progress)
	return c, err
}

// share returns the covered share, 0 to 1, of a triangle of the reference.
func (c *coverage) share(near *bvh.Finder, p, q, r, normal geom.Vec, halvings int) float64 {
	middle := p.Add(q).Add(r).Scale(1.0 / 3)
	facing := bvh.Facing{Dir: normal, MinCos: c.minCos}
	radius := max(p.Dist(middle), q.Dist(middle), r.Dist(middle))
	if radius <= c.reach/finePart || halvings == 0 {
		if near.Any(middle, c.reach, &facing) {
			return 1
		}
		return 0
	}
	nearest, ok := near.Closest(middle, c.reach+radius, &facing)
	switch {
	case !ok:
		return 0
	case math.Sqrt(nearest.Dist2)+radius <= c.reach:
		return 1
	}
	pq, qr, rp := p.Lerp(q, 0.5), q.Lerp(r, 0.5), r.Lerp(p, 0.5)
	halvings--
	return (c.share(near, p, pq, rp, normal, halvings) + c.share(near, pq, q, qr, normal, halvings) +
		c.share(near, rp, qr, r, normal, halvings) + c.share(near, pq, qr, rp, normal, halvings)) / 4
}

func pointTriangles(cloud *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: make([]geom.Vec, 0, 3*len(cloud.Vertices)), Faces: make([][3]uint32, len(cloud.Vertices))}
	for i, p := range cloud.Vertices {
		u, v := geom.Vec{X: 1}, geom.Vec{Y: 1}
		if cloud.Normals != nil {
			u, v = square(cloud.Normals[i])
		}
		k := uint32(3 * i)
		out.Faces[i] = [3]uint32{k, k + 1, k + 2}
		out.Vertices = append(out.Vertices, p, p.AddScaled(pointTriangle, u), p.AddScaled(pointTriangle, v))
	}
	return out
}

// square returns two unit vectors with u x v along n.
func square(n geom.Vec) (u, v geom.Vec) {
	u = n.Cross(geom.Vec{X: 1})
	if o := n.Cross(geom.Vec{Y: 1}); o.Norm2() > u.Norm2() {
		u = o
	}
	u = u.Unit()
	return u, n.Cross(u).Unit()
}
