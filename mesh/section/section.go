// Package section cuts meshes by planes into ordered polylines.
//
// A vertex counts as above the plane when it lies on it. So every face that
// reaches below and above gives one piece from side to side, neighbours share the
// ends to the last bit, an edge or face that lies in the plane is met from below
// only, and no piece is lost or doubled. Vertices at one place count as one, as reading leaves
// them. Where a surface only touches the plane along
// edges, without going through, there is no cut. From a face the cut is followed
// across sides to the next one, which puts the pieces in order at once.
package section

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
)

// Line is a run of points in mm along a cut, each in the plane to within rounding.
// It turns so that with the plane's normal towards the eye the outside lies on the
// right hand, as long as the mesh's faces agree on the outside. A closed line
// does not repeat its first point. It ends at a border of the mesh and at an edge of
// more than two faces.
type Line struct {
	Points []geom.Vec
	Closed bool
}

// Length returns the length in mm.
func (l *Line) Length() float64 {
	sum := 0.0
	for i := 1; i < len(l.Points); i++ {
		sum += l.Points[i].Dist(l.Points[i-1])
	}
	if n := len(l.Points); l.Closed && n > 1 {
		sum += l.Points[0].Dist(l.Points[n-1])
	}
	return sum
}

// Index is a mesh made ready to be cut. Goroutines may share it.
type Index struct {
	mesh  *mesh.Mesh
	tree  *bvh.Tree
	twins []uint32
}

// New prepares a mesh whose tree is given. The error is ctx's, or says that the
// mesh has too many faces.
func New(ctx context.Context, m *mesh.Mesh, tree *bvh.Tree) (*Index, error) {
	if len(m.Faces) > math.MaxUint32/3-1 {
		return nil, fmt.Errorf("section: %d faces are more than can be cut", len(m.Faces))
	}
	twins, err := mesh.Twins(ctx, m)
	if err != nil {
		return nil, err
	}
	return &Index{mesh: m, tree: tree, twins: twins}, nil
}

// Cutter makes cuts with memory of its own. Not for several goroutines at once.
type Cutter struct {
	*Index
	seen    []uint32 // the number of the cut that met a face last
	cut     uint32
	faces   []uint32
	points  []geom.Vec
	back    []geom.Vec
	lines   []Line
	ends    []int
	touched bool   // the line at hand met a vertex in the plane
	touches bool   // any line did
	fetched uint32 // keeps the compiler from leaving out what fetch does

	// The plane: what lies at offset along normal; pieces farther than within from center are left out.
	normal, center geom.Vec
	offset         float64
	within2        float64
}

// NewCutter returns a cutter.
func (x *Index) NewCutter() *Cutter {
	return &Cutter{Index: x, seen: make([]uint32, len(x.mesh.Faces))}
}

// Whole cuts the whole mesh by the plane through a point, square to a normal,
// which need not be of unit length. The lines are in an order that depends on the
// mesh and the plane alone; they are overwritten by the next cut. The error says
// that the plane is none.
func (c *Cutter) Whole(point, normal geom.Vec) ([]Line, error) {
	return c.Near(point, normal, math.Inf(1))
}

// Near is Whole for those pieces only that come within a distance in mm of the
// point. Lines end after the last such piece, which is not cut short.
func (c *Cutter) Near(point, normal geom.Vec, within float64) ([]Line, error) {
	n := normal.Unit()
	if !point.IsFinite() || !n.IsFinite() || n == (geom.Vec{}) || !(within >= 0) {
		return nil, fmt.Errorf("section: a plane through %v square to %v within %v mm does not exist", point, normal, within)
	}
	c.normal, c.center, c.offset, c.within2 = n, point, point.Dot(n), within*within
	c.faces = c.tree.AppendAtPlane(c.faces[:0], point, n, within)
	c.points, c.ends, c.lines, c.touches = c.points[:0], c.ends[:0], c.lines[:0], false
	if c.cut++; c.cut == 0 {
		clear(c.seen)
		c.cut = 1
	}
	c.fetch()
	for _, f := range c.faces {
		if c.seen[f] != c.cut {
			c.follow(f)
		}
	}
	// Points may have moved while they were added.
	from := 0
	for i, to := range c.ends {
		c.lines[i].Points = c.points[from:to:to]
		from = to
	}
	if c.touches {
		c.lines = leaveTouches(c.lines)
	}
	return c.lines, nil
}

// fetch looks at what following the cut will need, one after another without waiting for any:
// the way from face to face would wait for far memory at each.
func (c *Cutter) fetch() {
	sum := uint32(0)
	for _, f := range c.faces {
		t := &c.mesh.Faces[f]
		sum += c.twins[3*f] + c.seen[f]
		for _, v := range t {
			sum += uint32(math.Float64bits(c.mesh.Vertices[v].X))
		}
	}
	c.fetched = sum
}

// corner is a vertex with its height above the plane.
type corner struct {
	v     uint32
	above float64 // mm
	at    geom.Vec
}

func (c *Cutter) corner(v uint32) corner {
	p := c.mesh.Vertices[v]
	return corner{v, p.Dot(c.normal) - c.offset, p}
}

// walk is a place on the way: a side of a face that crosses the plane, its end below the
// plane and the one above, and where it crosses.
type walk struct {
	side      uint32
	low, high corner
	at        geom.Vec
}

// cross sets where the side crosses, the same to the last bit for both faces at it.
func (w *walk) cross(c *Cutter) {
	if w.high.above == 0 {
		c.touched = true
		w.at = w.high.at
		return
	}
	w.at = w.low.at.AddScaled(w.low.above/(w.low.above-w.high.above), w.high.at.Sub(w.low.at))
}

// follow adds the line through a face.
func (c *Cutter) follow(f uint32) {
	t := &c.mesh.Faces[f]
	h := [3]corner{c.corner(t[0]), c.corner(t[1]), c.corner(t[2])}
	c.seen[f] = c.cut
	if below := h[0].above < 0; below == (h[1].above < 0) && below == (h[2].above < 0) {
		return
	}
	c.touched = false
	var in, out walk
	for k := range 3 {
		a, b := &h[k], &h[(k+1)%3]
		switch {
		case a.above < 0 && b.above >= 0:
			out = walk{side: 3*f + uint32(k), low: *a, high: *b}
		case a.above >= 0 && b.above < 0:
			in = walk{side: 3*f + uint32(k), low: *b, high: *a}
		}
	}
	in.cross(c)
	out.cross(c)
	if !c.reaches(in.at, out.at) {
		return
	}
	start := len(c.points)
	c.points = add(add(c.points, start, in.at), start, out.at)
	closed := false
	c.points, closed = c.along(c.points, start, out, f)
	if !closed {
		c.back = append(c.back[:0], in.at)
		c.back, _ = c.along(c.back, 0, in, f)
		c.prepend(start)
	}
	c.finish(start, closed)
}

// along walks on from a side of the face it began at and reports whether it came back there.
func (c *Cutter) along(points []geom.Vec, start int, w walk, first uint32) ([]geom.Vec, bool) {
	whole := math.IsInf(c.within2, 1)
	for {
		twin := c.twins[w.side]
		if twin == mesh.NoTwin {
			return points, false
		}
		f := twin / 3
		if f == first {
			return points, true
		}
		if c.seen[f] == c.cut {
			return points, false
		}
		k := twin - 3*f
		t := &c.mesh.Faces[f]
		third := c.corner(t[before[k]])
		fromLow := t[k] == w.low.v
		// The cut leaves by the side whose ends lie on either side of the plane.
		if third.above < 0 {
			w.low = third
		} else {
			w.high = third
		}
		if fromLow == (third.above < 0) {
			w.side = 3*f + after[k]
		} else {
			w.side = 3*f + before[k]
		}
		last := w.at
		w.cross(c)
		if !whole && !c.reaches(last, w.at) {
			return points, false
		}
		c.seen[f] = c.cut
		points = add(points, start, w.at)
	}
}

// after and before are the next corner around a face and the one after that.
var after, before = [3]uint32{1, 2, 0}, [3]uint32{2, 0, 1}

// reaches reports whether a piece comes near enough to the center.
func (c *Cutter) reaches(p, q geom.Vec) bool {
	if c.center.Sub(q).Norm2() <= c.within2 {
		return true // also where within is infinite
	}
	d, from := q.Sub(p), c.center.Sub(p)
	along := from.Dot(d)
	switch l := d.Norm2(); {
	case along <= 0 || l == 0:
		return from.Norm2() <= c.within2
	case along >= l:
		return false // q was too far already
	default:
		return from.AddScaled(-along/l, d).Norm2() <= c.within2
	}
}

// add appends a point to the line that began at start unless it is the last one again.
func add(points []geom.Vec, start int, p geom.Vec) []geom.Vec {
	if n := len(points); n > start && points[n-1] == p {
		return points
	}
	return append(points, p)
}

// prepend puts what was found backwards, whose first point is the line's first, before the line.
func (c *Cutter) prepend(start int) {
	n := len(c.back) - 1
	if n <= 0 {
		return
	}
	old := len(c.points)
	c.points = append(c.points, c.back[:n]...)
	copy(c.points[start+n:], c.points[start:old])
	for i := range n {
		c.points[start+i] = c.back[n-i]
	}
}

// finish keeps the line that began at start, if it has a length.
func (c *Cutter) finish(start int, closed bool) {
	n := len(c.points)
	if closed && n-start > 1 && c.points[start] == c.points[n-1] {
		n--
	}
	if n-start < 2 {
		n = start
	}
	c.points = c.points[:n]
	if n > start {
		c.ends = append(c.ends, n)
		c.lines = append(c.lines, Line{Closed: closed})
		c.touches = c.touches || c.touched
	}
}
