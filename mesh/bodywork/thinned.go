package bodywork

import (
	"container/heap"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Thinned returns a mesh as programs thin it that keep points where a surface bends: edges are collapsed onto one of
// their ends, the least error first, while the root mean square distance from the planes of the faces that were
// merged there stays below within mm and no edge becomes longer than longest mm (Garland and Heckbert 1997, quadrics
// of planes by area, without new places for points). Points of borders stay.
func Thinned(m *mesh.Mesh, within, longest float64) *mesh.Mesh {
	t := &thinning{v: m.Vertices, f: slices.Clone(m.Faces), of: make([][]int32, len(m.Vertices)), q: make([]quadric, len(m.Vertices)), gone: make([]bool, len(m.Faces)), kept: make([]bool, len(m.Vertices)), stamp: make([]int32, len(m.Vertices)), limit: float64(within * within), longest: longest}
	for i, f := range t.f {
		a, b, c := m.Corners(uint32(i))
		n := b.Sub(a).Cross(c.Sub(a))
		area := n.Norm()
		if area > 0 {
			n = n.Scale(1 / area)
		}
		for _, k := range f {
			t.of[k] = append(t.of[k], int32(i))
			t.q[k].plane(n, -n.Dot(a), area)
		}
	}
	for v := range t.of {
		// A vertex inside has as many neighbours as faces.
		t.kept[v] = len(t.around(uint32(v))) != len(t.of[v])
	}
	for v := range t.of {
		t.offer(uint32(v))
	}
	for t.Len() > 0 {
		c := heap.Pop(t).(collapse)
		if c.stamp == t.stamp[c.from] && !t.kept[c.from] && len(t.of[c.from]) > 0 {
			t.collapse(c)
		}
	}
	out := &mesh.Mesh{}
	index := make([]int32, len(m.Vertices))
	for i, f := range t.f {
		if t.gone[i] {
			continue
		}
		for k, v := range f {
			if index[v] == 0 {
				out.Vertices = append(out.Vertices, m.Vertices[v])
				index[v] = int32(len(out.Vertices))
			}
			f[k] = uint32(index[v] - 1)
		}
		out.Faces = append(out.Faces, f)
	}
	return out
}

// quadric sums squared distances from planes, by weight.
type quadric struct {
	a      [3][3]float64
	b      geom.Vec
	c, sum float64
}

func (q *quadric) plane(n geom.Vec, d, weight float64) {
	p := [3]float64{n.X, n.Y, n.Z}
	for i := range p {
		for k := range p {
			q.a[i][k] += float64(weight * p[i] * p[k])
		}
	}
	q.b = q.b.AddScaled(weight*d, n)
	q.c += float64(weight * d * d)
	q.sum += weight
}

func (q *quadric) add(o *quadric) {
	for i := range q.a {
		for k := range q.a[i] {
			q.a[i][k] += o.a[i][k]
		}
	}
	q.b, q.c, q.sum = q.b.Add(o.b), q.c+o.c, q.sum+o.sum
}

// at is the mean squared distance of a place.
func (q *quadric) at(v geom.Vec) float64 {
	p := [3]float64{v.X, v.Y, v.Z}
	e := q.c + float64(2*q.b.Dot(v))
	for i := range p {
		for k := range p {
			e += float64(q.a[i][k] * p[i] * p[k])
		}
	}
	return e / q.sum
}

// collapse moves a vertex onto another.
type collapse struct {
	from, to uint32
	cost     float64
	stamp    int32
}

// thinning is a mesh being thinned; it is a heap of what may be collapsed next.
type thinning struct {
	v              []geom.Vec
	f              [][3]uint32
	of             [][]int32 // faces of a vertex
	q              []quadric
	gone, kept     []bool
	stamp          []int32 // counts what changed about a vertex
	limit, longest float64
	list           []collapse
}

func (t *thinning) Len() int           { return len(t.list) }
func (t *thinning) Less(i, k int) bool { return t.before(&t.list[i], &t.list[k]) }
func (t *thinning) Swap(i, k int)      { t.list[i], t.list[k] = t.list[k], t.list[i] }
func (t *thinning) Push(x any)         { t.list = append(t.list, x.(collapse)) }
func (t *thinning) Pop() any {
	last := t.list[len(t.list)-1]
	t.list = t.list[:len(t.list)-1]
	return last
}

func (t *thinning) before(a, b *collapse) bool {
	if a.cost != b.cost {
		return a.cost < b.cost
	}
	return a.from < b.from
}

// around lists the neighbours of a vertex, each once.
func (t *thinning) around(v uint32) (list []uint32) {
	for _, f := range t.of[v] {
		for _, k := range t.f[f] {
			if k != v && !slices.Contains(list, k) {
				list = append(list, k)
			}
		}
	}
	return list
}

// offer puts the best collapse of a vertex on the heap.
func (t *thinning) offer(v uint32) {
	t.stamp[v]++
	if t.kept[v] || len(t.of[v]) == 0 {
		return
	}
	best := collapse{from: v, stamp: t.stamp[v], cost: t.limit}
	found := false
	for _, to := range t.around(v) {
		q := t.q[v]
		q.add(&t.q[to])
		if cost := q.at(t.v[to]); cost < best.cost && t.allowed(v, to) {
			best.to, best.cost, found = to, cost, true
		}
	}
	if found {
		heap.Push(t, best)
	}
}

// allowed reports whether a collapse leaves a surface without folds, slivers and long edges.
func (t *thinning) allowed(v, to uint32) bool {
	const (
		turned = 0.9  // cosine by which a face may turn
		sliver = 0.08 // twice the area over the squared longest edge
	)
	common := 0
	mine := t.around(v)
	for _, k := range t.around(to) {
		if slices.Contains(mine, k) {
			common++
		}
	}
	if common != 2 {
		return false
	}
	for _, f := range t.of[v] {
		c := t.f[f]
		if slices.Contains(c[:], to) {
			continue
		}
		var p, q [3]geom.Vec
		for k, i := range c {
			p[k], q[k] = t.v[i], t.v[i]
			if i == v {
				q[k] = t.v[to]
			}
		}
		before, after := p[1].Sub(p[0]).Cross(p[2].Sub(p[0])), q[1].Sub(q[0]).Cross(q[2].Sub(q[0]))
		long := max(q[0].Dist(q[1]), q[1].Dist(q[2]), q[2].Dist(q[0]))
		if long > t.longest || after.Norm() < sliver*long*long || before.Dot(after) < turned*before.Norm()*after.Norm() {
			return false
		}
	}
	return true
}

func (t *thinning) collapse(c collapse) {
	if !t.allowed(c.from, c.to) {
		return
	}
	near := t.around(c.from)
	for _, f := range t.of[c.from] {
		if slices.Contains(t.f[f][:], c.to) {
			t.gone[f] = true
			for _, k := range t.f[f] {
				if k != c.from {
					t.of[k] = slices.DeleteFunc(t.of[k], func(g int32) bool { return g == f })
				}
			}
			continue
		}
		for k, v := range t.f[f] {
			if v == c.from {
				t.f[f][k] = c.to
			}
		}
		t.of[c.to] = append(t.of[c.to], f)
	}
	t.of[c.from] = nil
	t.q[c.to].add(&t.q[c.from])
	for _, v := range near {
		t.offer(v)
	}
}
