package shade

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/morton"
	"shutline/mesh/parallel"
)

const (
	clusterSize = 128 // triangles; larger ones are culled worse, smaller ones repeat more vertices
	clusterMax  = 256 // vertices, what an 8-bit corner can name
	cutBlock    = 128 * 128
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
			if p.IsFinite() && q.IsFinite() && r.IsFinite() {
				b = b.Extend(p).Extend(q).Extend(r)
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
	parallel.Chunks(context.Background(), n, size, 0, nil, func(_, _, lo, hi int) {
		for f := lo; f < hi; f++ {
			p, q, r := m.Corners(uint32(f))
			entries[f] = morton.Entry{Key: notFinite, Index: uint32(f)}
			if p.IsFinite() && q.IsFinite() && r.IsFinite() {
				entries[f].Key = curve.Key(p.Add(q).Add(r).Scale(1.0 / 3))
			}
		}
	})
	order := make([]uint32, 0, n)
	for _, e := range morton.Sort(entries) {
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
	for i, e := range morton.Sort(entries) {
		order[i] = e.Index
	}
	return order, box
}

// cutPoints turns ordered points into clusters without triangles.
func (m *Model) cutPoints(order []uint32, normals []geom.Vec) {
	m.source = order
	m.position, m.normal = make([][3]float32, len(order)), make([][3]int8, len(order))
	for from := 0; from < len(order); from += clusterMax {
		c := cluster{vertex: uint32(from), vertices: int32(min(clusterMax, len(order)-from))}
		m.fill(&c, normals)
		m.clusters = append(m.clusters, c)
	}
}

// notFinite is a key above every key of a curve.
const notFinite = 1 << 30

// cut turns the ordered faces into clusters. Blocks of faces are cut side by
// side and laid one after another, so the result knows no threads.
func (m *Model) cut(order []uint32, normals []geom.Vec) {
	blocks := make([]blockCut, (len(order)+cutBlock-1)/cutBlock)
	parallel.Chunks(context.Background(), len(order), cutBlock, 0, nil, func(_, chunk, lo, hi int) {
		blocks[chunk] = m.cutFaces(order[lo:hi])
	})
	vertices, clusters := 0, 0
	for _, b := range blocks {
		vertices += len(b.source)
		clusters += len(b.clusters)
	}
	m.face = order
	m.corner = make([][3]uint8, 0, len(order))
	m.source = make([]uint32, 0, vertices)
	m.clusters = make([]cluster, 0, clusters)
	for _, b := range blocks {
		for _, c := range b.clusters {
			c.vertex += uint32(len(m.source))
			c.face += uint32(len(m.corner))
			m.clusters = append(m.clusters, c)
		}
		m.source = append(m.source, b.source...)
		m.corner = append(m.corner, b.corner...)
	}
	m.position = make([][3]float32, vertices)
	m.normal = make([][3]int8, vertices)
	parallel.Chunks(context.Background(), len(m.clusters), 256, 0, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			m.fill(&m.clusters[i], normals)
		}
	})
}

// blockCut is what one block of faces became, numbered from 0.
type blockCut struct {
	clusters []cluster
	corner   [][3]uint8
	source   []uint32
}

// cutFaces fills clusters greedily. slot finds a vertex's place in the cluster
// by open addressing; a generation mark saves clearing it.
func (m *Model) cutFaces(faces []uint32) blockCut {
	const slots = 4 * clusterMax
	var vertexAt, markAt [slots]uint32
	var placeAt [slots]uint8
	out := blockCut{corner: make([][3]uint8, 0, len(faces)), source: make([]uint32, 0, len(faces))}
	mark := uint32(0)
	var c cluster
	open := func() {
		mark++
		c = cluster{vertex: uint32(len(out.source)), face: uint32(len(out.corner))}
	}
	open()
	for _, f := range faces {
		if c.size == clusterSize || c.vertices > clusterMax-3 {
			out.clusters = append(out.clusters, c)
			open()
		}
		var local [3]uint8
		for k, v := range m.mesh.Faces[f] {
			slot := v * 2654435761 >> 22 // Knuth's multiplicative hash to ten bits
			for markAt[slot] == mark && vertexAt[slot] != v {
				slot = (slot + 1) % slots
			}
			if markAt[slot] != mark {
				markAt[slot], vertexAt[slot], placeAt[slot] = mark, v, uint8(c.vertices)
				out.source = append(out.source, v)
				c.vertices++
			}
			local[k] = placeAt[slot]
		}
		out.corner = append(out.corner, local)
		c.size++
	}
	out.clusters = append(out.clusters, c)
	return out
}

// fill copies a cluster's positions and normals out of the mesh and sets its box.
func (m *Model) fill(c *cluster, normals []geom.Vec) {
	inf := float32(math.Inf(1))
	lo, hi := [3]float32{inf, inf, inf}, [3]float32{-inf, -inf, -inf}
	for i := c.vertex; i < c.vertex+uint32(c.vertices); i++ {
		v := m.source[i]
		p := m.mesh.Vertices[v].Sub(m.origin)
		m.position[i] = [3]float32{float32(p.X), float32(p.Y), float32(p.Z)}
		for k, x := range m.position[i] {
			lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
		}
		n := normals[v]
		m.normal[i] = [3]int8{norm8(n.X), norm8(n.Y), norm8(n.Z)}
	}
	for k := range 3 {
		c.centre[k], c.half[k] = (lo[k]+hi[k])/2, (hi[k]-lo[k])/2
	}
}

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
