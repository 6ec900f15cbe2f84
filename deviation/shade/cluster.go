package shade

import (
	"context"
	"math"
	"slices"
	"sync/atomic"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/morton"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

const (
	clusterSize = 128 // triangles; larger ones are culled worse, smaller ones repeat more vertices
	clusterMax  = 256 // vertices, what an 8-bit corner can name
	cutBlock    = 128 * clusterSize
)

// sortedFaces returns the finite faces ordered along a Morton curve over their
// middles, and the box of their corners.
func sortedFaces(m *mesh.Mesh) ([]uint32, geom.Box) {
	n := len(m.Faces)
	const size = 1 << 15
	boxes := make([]geom.Box, (n+size-1)/size)
	parallel.Chunks(context.Background(), n, size, 0, nil, func(_, chunk, lo, hi int) {
		b := geom.EmptyBox()
		for f := lo; f < hi; f++ {
			p, q, r := m.Corners(uint32(f))
			if !p.IsFinite() || !q.IsFinite() || !r.IsFinite() {
				continue
			}
			if b.Empty() {
				b = geom.Box{Lo: p, Hi: p}
			}
			for _, v := range [3]*geom.Vec{&p, &q, &r} {
				widen(&b.Lo.X, &b.Hi.X, v.X)
				widen(&b.Lo.Y, &b.Hi.Y, v.Y)
				widen(&b.Lo.Z, &b.Hi.Z, v.Z)
			}
		}
		boxes[chunk] = b
	})
	box := geom.EmptyBox()
	for _, b := range boxes {
		box = box.Union(b)
	}
	if box.Empty() {
		return nil, box
	}
	entries, curve := make([]morton.Entry, n), morton.New(box)
	pages.Huge(entries)
	parallel.Chunks(context.Background(), n, size, 0, nil, func(_, _, lo, hi int) {
		for f := lo; f < hi; f++ {
			p, q, r := m.Corners(uint32(f))
			entries[f] = morton.Entry{Key: notFinite, Index: uint32(f)}
			if p.IsFinite() && q.IsFinite() && r.IsFinite() {
				// Bits of a cell are left out where so many are not needed to fill blocks: the sort is shorter.
				entries[f].Key = curve.Key(p.Add(q).Add(r).Scale(1.0/3)) >> coarseBits
			}
		}
	})
	order := make([]uint32, 0, n)
	pages.Huge(order[:n])
	for _, e := range morton.Sort(entries, 0) {
		if e.Key < notFinite {
			order = append(order, e.Index)
		}
	}
	return order, box
}

// sortedPoints is sortedFaces for a mesh without faces: its finite vertices.
func sortedPoints(m *mesh.Mesh) ([]uint32, geom.Box) {
	box := geom.EmptyBox()
	for _, p := range m.Vertices {
		if p.IsFinite() {
			box = box.Extend(p)
		}
	}
	if box.Empty() {
		return nil, box
	}
	entries, curve := make([]morton.Entry, 0, len(m.Vertices)), morton.New(box)
	for i, p := range m.Vertices {
		if p.IsFinite() {
			entries = append(entries, morton.Entry{Key: curve.Key(p), Index: uint32(i)})
		}
	}
	order := make([]uint32, len(entries))
	for i, e := range morton.Sort(entries, 0) {
		order[i] = e.Index
	}
	return order, box
}

const (
	// coarseBits of a key are left out: the curve's cells are then 1/128 of the part wide, and
	// what lies in a block is sorted anew.
	coarseBits = 9
	// notFinite is a key above every key of a curve.
	notFinite = 1 << 21
)

// cutPoints turns ordered points into clusters without triangles.
func (m *Model) cutPoints(order []uint32, normal func(vertex uint32) [3]int8) {
	var spans []float64
	runs := func(do func(from, to int)) {
		for from := 0; from < len(order); from += clusterMax {
			do(from, min(from+clusterMax, len(order)))
		}
	}
	runs(func(from, to int) {
		box := geom.EmptyBox()
		for _, v := range order[from:to] {
			box = box.Extend(m.mesh.Vertices[v])
		}
		spans = append(spans, longest(box))
	})
	slices.Sort(spans)
	m.grid = newGrid(m.box, spans)
	m.face = order
	m.position, m.normal = make([][3]uint16, len(order)), make([][3]int8, len(order))
	runs(func(from, to int) {
		// A run too long for the grid is cut where it gets so.
		for from < to {
			var b placed
			end := from
			for end < to && b.add(m.grid.place(m.mesh.Vertices[order[end]])) {
				end++
			}
			m.clusters = append(m.clusters, cluster{vertex: uint32(from), vertices: uint16(end - from)})
			m.fill(&m.clusters[len(m.clusters)-1], order[from:end], normal)
			from = end
		}
	})
}

func longest(b geom.Box) float64 {
	s := b.Size()
	return max(s.X, s.Y, s.Z)
}

// placed is the box, on the grid, of what a cluster holds.
type placed struct {
	lo, hi [3]int32
	some   bool
}

// add widens the box, unless it would get too wide for a cluster.
func (b *placed) add(p [3]int32) bool {
	n := *b
	n.extend(p)
	if !n.fits() {
		return false
	}
	*b = n
	return true
}

// extend widens the box, however wide it gets.
func (b *placed) extend(p [3]int32) {
	if !b.some {
		*b = placed{p, p, true}
		return
	}
	for k := range 3 {
		b.lo[k], b.hi[k] = min(b.lo[k], p[k]), max(b.hi[k], p[k])
	}
}

// fits reports whether the box is not too wide for a cluster.
func (b *placed) fits() bool {
	return max(b.hi[0]-b.lo[0], b.hi[1]-b.lo[1], b.hi[2]-b.lo[2]) <= clusterReach
}

// cut turns the ordered faces into clusters. Blocks of faces, given by where each ends, are cut side by side after arrange,
// when there is one, has ordered them anew, and laid one after another, so the result knows no threads. The order is kept and changed.
func (m *Model) cut(order []uint32, ends []int, arrange func(worker int, b *blockCut), normal func(vertex uint32) [3]int8) {
	blocks := make([]blockCut, len(ends))
	each := func(do func(worker int, b *blockCut)) {
		parallel.Chunks(context.Background(), len(blocks), 1, 0, nil, func(worker, chunk, _, _ int) { do(worker, &blocks[chunk]) })
	}
	m.face, m.corner = order, padded[[3]uint8](len(order))
	from := 0
	for i, to := range ends {
		blocks[i].faces, blocks[i].corner = m.face[from:to], m.corner[from:to]
		from = to
	}
	turns := pages.NewScratch[uint32](len(m.mesh.Vertices), len(m.mesh.Vertices))
	defer turns.Release()
	each(func(worker int, b *blockCut) {
		if arrange != nil {
			arrange(worker, b)
		}
		b.cut(m.mesh, turns.Data)
	})
	var spans []float64
	for i := range blocks {
		spans = append(spans, blocks[i].spans...)
	}
	slices.Sort(spans)
	m.grid = newGrid(m.box, spans)
	each(func(_ int, b *blockCut) { b.fit(m) })
	faces, vertices, clusters := 0, 0, 0
	for i := range blocks {
		b := &blocks[i]
		b.faceAt, b.vertexAt, b.clusterAt = faces, vertices, clusters
		if len(m.wide) > 0 { // they have left gaps
			copy(m.face[faces:], b.faces)
			copy(m.corner[faces:], b.corner)
		}
		faces, vertices, clusters = faces+len(b.faces), vertices+len(b.source), clusters+len(b.clusters)
		for _, f := range b.wide {
			m.wide = append(m.wide, m.widened(f, normal, turns.Data))
		}
	}
	m.face, m.corner = m.face[:faces], m.corner[:faces]
	m.clusters = make([]cluster, clusters)
	m.position = padded[[3]uint16](vertices)
	m.normal = padded[[3]int8](vertices)
	m.rim = make([]uint32, (vertices+31)/32)
	each(func(_ int, b *blockCut) {
		for i, c := range b.clusters {
			source := b.source[c.vertex : c.vertex+uint32(c.vertices)]
			c.vertex += uint32(b.vertexAt)
			c.face += uint32(b.faceAt)
			m.fill(&c, source, normal)
			m.clusters[b.clusterAt+i] = c
			for k, v := range source {
				if turns.Data[v] != 0 {
					at := c.vertex + uint32(k)
					atomic.OrUint32(&m.rim[at/32], 1<<(at%32)) // clusters share words
				}
			}
		}
	})
}

// fill copies a cluster's positions and normals out of the mesh and sets its box.
func (m *Model) fill(c *cluster, source []uint32, normal func(vertex uint32) [3]int8) {
	var at [clusterMax][3]int32
	var box placed
	for i, v := range source {
		at[i] = m.grid.place(m.mesh.Vertices[v])
		box.extend(at[i])
		m.normal[int(c.vertex)+i] = normal(v)
	}
	c.base = box.lo
	for k := range 3 {
		c.extent[k] = uint16(box.hi[k] - box.lo[k])
	}
	for i := range source {
		to := &m.position[int(c.vertex)+i]
		for k := range 3 {
			to[k] = uint16(at[i][k] - c.base[k])
		}
	}
}

// widened returns a face that fits into no cluster.
func (m *Model) widened(face uint32, normal func(vertex uint32) [3]int8, turns []uint32) wideFace {
	w := wideFace{face: face}
	for k, v := range m.mesh.Faces[face] {
		for axis, x := range m.grid.place(m.mesh.Vertices[v]) {
			w.corner[k][axis] = float64(x)
		}
		w.normal[k] = normal(v)
		w.rim[k] = turns[v] != 0
	}
	return w
}

// eachCluster runs do on every cluster with the mesh vertices of its vertices, on all threads.
func (m *Model) eachCluster(do func(c *cluster, sources []uint32)) {
	parallel.Chunks(context.Background(), len(m.clusters), 256, 0, nil, func(_, _, lo, hi int) {
		var scratch [clusterMax]uint32
		for i := lo; i < hi; i++ {
			c := &m.clusters[i]
			do(c, m.sources(c, &scratch))
		}
	})
}

func normal8(n geom.Vec) [3]int8 { return [3]int8{norm8(n.X), norm8(n.Y), norm8(n.Z)} }

// norm8 rounds a coordinate of a unit normal to 1/127.
func norm8(x float64) int8 {
	if !(x >= -1) {
		if x < -1 {
			return -127
		}
		return 0
	}
	return int8(math.Floor(float64(min(x, 1)*127) + 0.5))
}
