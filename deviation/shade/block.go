package shade

import (
	"shutline/mesh"
	"shutline/mesh/geom"
)

// blockCut is a block of faces on its way to clusters, numbered from 0.
type blockCut struct {
	faces []uint32  // in the order of their clusters
	spans []float64 // mm, of each run of faces

	clusters []cluster
	kept     []uint32
	corner   [][3]uint8
	source   []uint32
	wide     []uint32

	faceAt, vertexAt, clusterAt int // where its own begin in the model's
}

// faceMiddle is a face's middle, from the block's, three times over.
type faceMiddle struct {
	at   [3]float32
	face uint32
}

// arrange orders the block's faces so that runs of clusterSize lie close together: it is halved
// again and again across its longest axis. Such runs share more vertices than runs of a curve.
func (b *blockCut) arrange(m *mesh.Mesh) {
	list := make([]faceMiddle, len(b.faces))
	zero := m.Vertices[m.Faces[b.faces[0]][0]].Scale(3)
	for i, f := range b.faces {
		p, q, r := m.Corners(f)
		d := p.Add(q).Add(r).Sub(zero)
		list[i] = faceMiddle{[3]float32{float32(d.X), float32(d.Y), float32(d.Z)}, f}
	}
	halve(list)
	for i := range list {
		b.faces[i] = list[i].face
	}
	for from := 0; from < len(b.faces); from += clusterSize {
		box := geom.EmptyBox()
		for _, f := range b.faces[from:min(from+clusterSize, len(b.faces))] {
			p, q, r := m.Corners(f)
			box = box.Extend(p).Extend(q).Extend(r)
		}
		b.spans = append(b.spans, longest(box))
	}
}

func halve(list []faceMiddle) {
	for len(list) > clusterSize {
		lo, hi := list[0].at, list[0].at
		for i := range list {
			for k, x := range list[i].at {
				lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
			}
		}
		axis := 0
		for k := range 3 {
			if hi[k]-lo[k] > hi[axis]-lo[axis] {
				axis = k
			}
		}
		runs := (len(list) + clusterSize - 1) / clusterSize
		at := (runs + 1) / 2 * clusterSize
		divide(list, at, axis)
		halve(list[:at])
		list = list[at:]
	}
}

// divide orders the list so that the n lowest along an axis come first.
// Based on: Hoare, "Algorithm 65: find" (1961).
func divide(list []faceMiddle, n, axis int) {
	lo, hi := 0, len(list)-1
	for lo < hi {
		a, b, c := list[lo].at[axis], list[(lo+hi)/2].at[axis], list[hi].at[axis]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for list[i].at[axis] < pivot {
				i++
			}
			for list[j].at[axis] > pivot {
				j--
			}
			if i <= j {
				list[i], list[j] = list[j], list[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return
		}
	}
}

// cut fills clusters, a run of faces each. Runs that hold too many vertices or reach too far for
// the grid become several; faces that reach too far themselves stay outside. slot finds
// a vertex's place in the cluster by open addressing; a generation mark saves clearing it.
func (b *blockCut) cut(m *Model) {
	const slots = 4 * clusterMax
	var vertexAt, markAt [slots]uint32
	var placeAt [slots]uint8
	n := len(b.faces)
	b.kept = make([]uint32, 0, n)
	b.corner, b.source = make([][3]uint8, 0, n), make([]uint32, 0, n)
	mark := uint32(0)
	var c cluster
	var box placed
	flush := func() {
		if c.size > 0 {
			b.clusters = append(b.clusters, c)
		}
		mark++
		c = cluster{vertex: uint32(len(b.source)), face: uint32(len(b.corner))}
		box = placed{}
	}
	flush()
	for i, f := range b.faces {
		t := m.mesh.Faces[f]
		at := [3][3]int32{m.grid.place(m.mesh.Vertices[t[0]]), m.grid.place(m.mesh.Vertices[t[1]]), m.grid.place(m.mesh.Vertices[t[2]])}
		if i%clusterSize == 0 || c.vertices > clusterMax-3 {
			flush()
		}
		if !box.add(at[:]...) {
			if alone := (placed{}); !alone.add(at[:]...) {
				b.wide = append(b.wide, f)
				continue
			}
			flush()
			box.add(at[:]...)
		}
		var local [3]uint8
		for k, v := range t {
			slot := v * 2654435761 >> 22 // Knuth's multiplicative hash to ten bits
			for markAt[slot] == mark && vertexAt[slot] != v {
				slot = (slot + 1) % slots
			}
			if markAt[slot] != mark {
				markAt[slot], vertexAt[slot], placeAt[slot] = mark, v, uint8(c.vertices)
				b.source = append(b.source, v)
				c.vertices++
			}
			local[k] = placeAt[slot]
		}
		b.corner = append(b.corner, local)
		b.kept = append(b.kept, f)
		c.size++
	}
	flush()
}
