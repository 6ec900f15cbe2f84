package shade

import (
	"slices"
	"sync/atomic"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// blockCut is a block of faces on its way to clusters.
type blockCut struct {
	faces  []uint32   // in the order of their clusters
	corner [][3]uint8 // of faces
	spans  []float64  // mm, of each run of faces

	clusters []cluster // numbered from the block's first face and vertex
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
func (b *blockCut) arrange(m *mesh.Mesh, room *[cutBlock]faceMiddle) {
	list := room[:len(b.faces)]
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
}

// widen makes an interval hold x. There is a branch, which is seldom taken, and no more.
func widen[T float32 | float64 | int32](lo, hi *T, x T) {
	if x < *lo {
		*lo = x
	} else if x > *hi {
		*hi = x
	}
}

// longestAxis is the axis along which a box reaches farthest.
func longestAxis[T float32 | int32](lo, hi *[3]T) (axis int) {
	for k := range 3 {
		if hi[k]-lo[k] > hi[axis]-lo[axis] {
			axis = k
		}
	}
	return axis
}

func halve(list []faceMiddle) {
	for len(list) > clusterSize {
		lo, hi := list[0].at, list[0].at
		for i := range list {
			at := &list[i].at
			widen(&lo[0], &hi[0], at[0])
			widen(&lo[1], &hi[1], at[1])
			widen(&lo[2], &hi[2], at[2])
		}
		axis := longestAxis(&lo, &hi)
		runs := (len(list) + clusterSize - 1) / clusterSize
		at := (runs + 1) / 2 * clusterSize
		divide(list, at, axis)
		halve(list[:at])
		list = list[at:]
	}
}

// divide orders the list so that the n lowest along an axis come first.
// Based on: Hoare, "Algorithm 65: find" (1961), with Lomuto's partition.
func divide(list []faceMiddle, n, axis int) {
	for 0 < n && n < len(list) {
		a, b, c := list[0].at[axis], list[len(list)/2].at[axis], list[len(list)-1].at[axis]
		pivot := max(min(a, b), min(max(a, b), c))
		split := partition(list, axis, pivot, false)
		if split == 0 { // the pivot is the least
			if split = partition(list, axis, pivot, true); n <= split || split == 0 { // what is no number has no order
				return
			}
		}
		if n <= split {
			list = list[:split]
		} else {
			list, n = list[split:], n-split
		}
	}
}

// partition brings to the front what lies before the pivot, or on it as well, and returns how much that is. Everything is
// swapped, whether it has to be or not: a branch could not be foretold.
func partition(list []faceMiddle, axis int, pivot float32, on bool) (n int) {
	for i := range list {
		m := list[i]
		x := m.at[axis]
		list[i] = list[n]
		list[n] = m
		before := 0
		if on {
			if x <= pivot {
				before = 1
			}
		} else if x < pivot {
			before = 1
		}
		n += before
	}
	return n
}

// slots finds a vertex's place in a cluster by open addressing; a generation mark saves clearing it.
type slots struct {
	vertex, mark [slotCount]uint32
	place        [slotCount]uint8
	now          uint32 // mark
}

const slotCount = 4 * clusterMax

// home returns where a vertex is looked for first.
func (s *slots) home(v uint32) uint32 { return v * 2654435761 >> 22 } // Knuth's multiplicative hash to ten bits

// find returns where a vertex is or would be put, from where it is looked for.
func (s *slots) find(v, slot uint32) uint32 {
	for s.mark[slot%slotCount] == s.now && s.vertex[slot%slotCount] != v {
		slot++
	}
	return slot % slotCount
}

// cut fills clusters, a run of faces each, and measures the runs. Runs that hold too many vertices become several.
//
// turns gets, for every vertex of the mesh, a sum that is zero inside the surface: there every neighbour follows once and is followed
// once, so that the differences of the neighbours' numbers add up to zero; on a border two are left over.
func (b *blockCut) cut(m *mesh.Mesh, turns []uint32) {
	var s slots
	var turn [clusterMax]uint32 // of the cluster's own faces
	b.source = make([]uint32, 0, len(b.faces)*3/4)
	var c cluster
	flush := func() {
		if c.size > 0 {
			b.clusters = append(b.clusters, c)
		}
		for k, v := range b.source[c.vertex:] {
			if turn[k] != 0 {
				atomic.AddUint32(&turns[v], turn[k])
				turn[k] = 0
			}
		}
		s.now++
		c = cluster{vertex: uint32(len(b.source)), face: c.face + uint32(c.size)}
	}
	var lo, hi geom.Vec
	for i, f := range b.faces {
		if i%clusterSize == 0 || c.vertices > clusterMax-3 {
			flush()
		}
		t := &m.Faces[f]
		if i%clusterSize == 0 {
			if i > 0 {
				b.spans = append(b.spans, longest(geom.Box{Lo: lo, Hi: hi}))
			}
			lo = m.Vertices[t[0]]
			hi = lo
		}
		var at [3]uint8
		for k, v := range t {
			slot := s.find(v, s.home(v))
			if s.mark[slot] != s.now {
				s.mark[slot], s.vertex[slot], s.place[slot] = s.now, v, uint8(c.vertices)
				b.source = append(b.source, v)
				c.vertices++
				p := &m.Vertices[v]
				widen(&lo.X, &hi.X, p.X)
				widen(&lo.Y, &hi.Y, p.Y)
				widen(&lo.Z, &hi.Z, p.Z)
			}
			at[k] = s.place[slot]
		}
		turn[at[0]] += t[1] - t[2]
		turn[at[1]] += t[2] - t[0]
		turn[at[2]] += t[0] - t[1]
		b.corner[i] = at
		c.size++
	}
	flush()
	b.spans = append(b.spans, longest(geom.Box{Lo: lo, Hi: hi}))
}

// fit cuts the runs anew that may reach too far for the grid: they become several clusters, and faces that reach too far themselves stay
// outside.
func (b *blockCut) fit(m *Model) {
	far := func(span float64) bool { return float64(span*m.grid.inverse)+1 > clusterReach }
	if !slices.ContainsFunc(b.spans, far) {
		return
	}
	var s slots
	old, source, n, kept := b.clusters, b.source, len(b.faces), 0
	b.clusters, b.source = make([]cluster, 0, len(old)+len(old)/8), make([]uint32, 0, len(source)+len(source)/8)
	for run, span := range b.spans {
		from, to := run*clusterSize, min((run+1)*clusterSize, n)
		if far(span) {
			kept = b.cutFitting(m, from, to, kept, &s)
		}
		for ; len(old) > 0 && int(old[0].face) < to; old = old[1:] {
			if far(span) {
				continue
			}
			c, face := old[0], int(old[0].face)
			b.source = append(b.source, source[c.vertex:c.vertex+uint32(c.vertices)]...)
			c.vertex, c.face = uint32(len(b.source)-int(c.vertices)), uint32(kept)
			copy(b.faces[kept:], b.faces[face:face+int(c.size)])
			copy(b.corner[kept:], b.corner[face:face+int(c.size)])
			kept += int(c.size)
			b.clusters = append(b.clusters, c)
		}
	}
	b.faces, b.corner = b.faces[:kept], b.corner[:kept]
}

// cutFitting cuts a run, the faces from and before to, anew. Those that stay are put behind the kept ones; it returns how many are kept then.
func (b *blockCut) cutFitting(m *Model, from, to, kept int, s *slots) int {
	var c cluster
	var box placed
	flush := func() {
		if c.size > 0 {
			b.clusters = append(b.clusters, c)
		}
		s.now++
		c = cluster{vertex: uint32(len(b.source)), face: uint32(kept)}
		box = placed{}
	}
	flush()
	for _, f := range b.faces[from:to] {
		t := m.mesh.Faces[f]
		if c.vertices > clusterMax-3 {
			flush()
		}
		// What the cluster holds already widens nothing.
		var at [3]uint32
		wider := box
		for k, v := range t {
			at[k] = s.find(v, s.home(v))
			if s.mark[at[k]] != s.now {
				wider.extend(m.grid.place(m.mesh.Vertices[v]))
			}
		}
		if !wider.fits() {
			wider = placed{}
			for _, v := range t {
				wider.extend(m.grid.place(m.mesh.Vertices[v]))
			}
			if !wider.fits() {
				b.wide = append(b.wide, f)
				continue
			}
			flush()
			at = [3]uint32{s.home(t[0]), s.home(t[1]), s.home(t[2])}
		}
		box = wider
		for k, v := range t {
			slot := s.find(v, at[k])
			if s.mark[slot] != s.now {
				s.mark[slot], s.vertex[slot], s.place[slot] = s.now, v, uint8(c.vertices)
				b.source = append(b.source, v)
				c.vertices++
			}
			b.corner[kept][k] = s.place[slot]
		}
		b.faces[kept] = f
		kept++
		c.size++
	}
	flush()
	return kept
}
