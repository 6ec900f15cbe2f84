// Package quality judges what a mesh was made from: how noisy its points are, and
// whether passes of a scanner that do not match were joined to two skins.
package quality

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/order"
	"shutline/mesh/parallel"
)

const (
	vertexRun = 4096
	// madScale turns a median absolute deviation into a standard deviation of normal noise.
	madScale = 1.4826
)

// Noise estimates the standard deviation, in mm, of the noise of a mesh's points along
// its normals: how far a point lies from the mean of its neighbours, along the normal,
// less the mean of that over the neighbours, so that even curvature drops out; the
// median of its size, so that hems and edges are outvoted; scaled to what independent
// noise would make of it. Noise that neighbours share (smoothing, drift) is not seen: what
// comes out is the least there is. It reports false when the mesh has fewer than a
// hundred points with neighbours.
//
// Based on: the umbrella operator, applied twice (Taubin 1995; Kobbelt et al. 1998); the
// scale by the median absolute deviation is common practice.
//
// Without an error ok says whether there is one; the error is ctx's.
func Noise(ctx context.Context, m *mesh.Mesh, normals []geom.Vec) (sigma float64, ok bool, err error) {
	n := len(m.Vertices)
	sum, count := make([]geom.Vec, n), make([]uint32, n)
	for f, t := range m.Faces {
		if f%facesPerCheck == 0 && ctx.Err() != nil {
			return 0, false, ctx.Err()
		}
		for k, v := range t {
			// Around a closed fan every neighbour is met twice.
			sum[v] = sum[v].Add(m.Vertices[t[(k+1)%3]]).Add(m.Vertices[t[(k+2)%3]])
			count[v] += 2
		}
	}
	first := make([]float64, n)
	for v := range first {
		if count[v] > 0 {
			first[v] = m.Vertices[v].Sub(sum[v].Scale(1 / float64(count[v]))).Dot(normals[v])
		}
	}
	second := make([]float64, n)
	for f, t := range m.Faces {
		if f%facesPerCheck == 0 && ctx.Err() != nil {
			return 0, false, ctx.Err()
		}
		for k, v := range t {
			second[v] += first[t[(k+1)%3]] + first[t[(k+2)%3]]
		}
	}
	const (
		fewest   = 100
		fanSides = 6 // fewer sides, two to a face, belong to corners and slivers
		// umbrella2 is the sum of the squared weights of the operator applied twice on a lattice of
		// equilateral triangles: (7/6)² + 6 (10/36)² + 6 (1/36)² + 6 (2/36)².
		umbrella2 = 1.8472222222222222
	)
	away := make([]float64, 0, n)
	for v, c := range count {
		if c >= fanSides && normals[v] != (geom.Vec{}) {
			away = append(away, math.Abs(first[v]-second[v]/float64(c)))
		}
	}
	if len(away) < fewest {
		return 0, false, ctx.Err()
	}
	return madScale * order.Nth(away, len(away)/2) / math.Sqrt(umbrella2), true, ctx.Err()
}

// facesPerCheck are looked at between two looks at whether to stop.
const facesPerCheck = 1 << 16

// Skins says how much of a mesh lies under a second skin of its own.
type Skins struct {
	Share float64  // of the area sampled, 0 to 1
	Gap   float64  // median distance between the skins
	At    geom.Vec // a point of the mesh in the middle of the worst place
}

const (
	// nearestSkin and farthestSkin bound, in mm, what counts as a second skin: nearer, or nearer
	// than noiseSkins times the noise, sheets are the same within noise; farther, they
	// are parts behind one another. The distance of two passes that match scatters by root 2
	// of the noise of one.
	nearestSkin, farthestSkin = 0.02, 5.0
	noiseSkins                = 6
	// alike is the cosine of 30 degrees, the widest angle between skins of the same sheet.
	alike = 0.8660254037844386
	// mostSamples bounds the points looked from.
	mostSamples = 200_000
	// binSide is the side, in mm, of the cells by which the worst place is found.
	binSide = 50.0
)

// Doubled looks from points of the mesh along their normals, both ways, for another
// face that faces the same way within 5 mm: the sign of a scan joined from
// passes that do not match. Sheets with an inside and an outside do not count, as their skins
// face opposite ways. unit is the length in mm of the mesh's unit, 1 where it is in mm; noise is the scan's, one standard
// deviation (see [Noise]). Both and what is returned are in the mesh's unit. The error is ctx's.
func Doubled(ctx context.Context, m *mesh.Mesh, normals []geom.Vec, unit, noise float64, tree *bvh.Tree, threads int, progress mesh.Progress) (Skins, error) {
	step := (len(m.Vertices) + mostSamples - 1) / mostSamples
	if step == 0 {
		return Skins{}, ctx.Err()
	}
	nearest, farthest, bin := max(nearestSkin/unit, noiseSkins*noise), farthestSkin/unit, binSide/unit
	areas := m.VertexAreas()
	n := (len(m.Vertices) + step - 1) / step
	gaps := make([]float64, n)
	err := parallel.Chunks(ctx, n, vertexRun, threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			v := i * step
			gaps[i] = second(m, tree, m.Vertices[v], normals[v], nearest, farthest)
		}
	})
	if err != nil {
		return Skins{}, err
	}
	var s Skins
	var found []float64
	type place struct {
		cell  [3]int32
		area  float64
		point geom.Vec
	}
	places := map[[3]int32]*place{}
	doubled, all := 0.0, 0.0
	for i, g := range gaps {
		v := i * step
		all += areas[v]
		if g == 0 {
			continue
		}
		doubled += areas[v]
		found = append(found, g)
		p := m.Vertices[v]
		cell := [3]int32{int32(math.Floor(p.X / bin)), int32(math.Floor(p.Y / bin)), int32(math.Floor(p.Z / bin))}
		if places[cell] == nil {
			places[cell] = &place{cell: cell, point: p}
		}
		places[cell].area += areas[v]
	}
	if len(found) == 0 || all == 0 {
		return Skins{}, nil
	}
	slices.Sort(found)
	s.Share, s.Gap = doubled/all, found[len(found)/2]
	var worst *place
	for _, p := range places {
		if worst == nil || p.area > worst.area || p.area == worst.area && slices.Compare(p.cell[:], worst.cell[:]) < 0 {
			worst = p
		}
	}
	s.At = worst.point
	return s, nil
}

// second returns the distance to the nearer second skin at a point, 0 when there is none.
func second(m *mesh.Mesh, tree *bvh.Tree, p, n geom.Vec, nearest, farthest float64) float64 {
	if n == (geom.Vec{}) {
		return 0
	}
	best := 0.0
	for _, dir := range [2]geom.Vec{n, n.Scale(-1)} {
		d, face, ok := tree.Ray(p.AddScaled(nearest, dir), dir, farthest)
		if !ok || m.AreaNormal(face).Unit().Dot(n) < alike {
			continue
		}
		if d += nearest; best == 0 || cmp.Less(d, best) {
			best = d
		}
	}
	return best
}
