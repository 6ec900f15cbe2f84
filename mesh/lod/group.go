package lod

import (
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/pages"
)

// group is what becomes one vertex.
type group struct {
	cell    uint64
	sum     [3]int64 // of the places of its members, or, when some are on a border, of those
	summed  uint32   // how many those are
	members uint32
	normals [3]int32
	facing  [3]int8
	rim     bool // some are on a border
}

// like reports whether normals face the same way.
func like(m, n *[3]int8) bool {
	return int32(m[0])*int32(n[0])+int32(m[1])*int32(n[1])+int32(m[2])*int32(n[2]) >= 0
}

// add adds a vertex inside the surface.
func (g *group) add(at *[3]int32, n *[3]int8) {
	g.face(n)
	if !g.rim {
		g.place(at)
	}
}

// addRim adds a vertex on a border.
func (g *group) addRim(at *[3]int32, n *[3]int8) {
	g.face(n)
	g.beRim()
	g.place(at)
}

func (g *group) face(n *[3]int8) {
	g.members++
	g.normals[0] += int32(n[0])
	g.normals[1] += int32(n[1])
	g.normals[2] += int32(n[2])
}

func (g *group) place(at *[3]int32) {
	g.summed++
	g.sum[0] += int64(at[0])
	g.sum[1] += int64(at[1])
	g.sum[2] += int64(at[2])
}

// beRim has only those on a border say where it stands.
func (g *group) beRim() {
	if !g.rim {
		g.rim, g.sum, g.summed = true, [3]int64{}, 0
	}
}

// join adds a group of another run.
func (g *group) join(o *group) {
	g.members += o.members
	for k := range 3 {
		g.normals[k] += o.normals[k]
	}
	if o.rim {
		g.beRim()
	} else if g.rim {
		return
	}
	g.summed += o.summed
	for k := range 3 {
		g.sum[k] += o.sum[k]
	}
}

// middle returns where the vertex stands.
func (g *group) middle(on *Grid) geom.Vec {
	step := on.Step / float64(g.summed)
	return geom.Vec{
		X: on.Zero.X + float64(step*float64(g.sum[0])),
		Y: on.Zero.Y + float64(step*float64(g.sum[1])),
		Z: on.Zero.Z + float64(step*float64(g.sum[2])),
	}
}

// normal returns which way it faces, unit in 127ths, or zero when it faces none.
func (g *group) normal() (unit [3]int8) {
	n := geom.Vec{X: float64(g.normals[0]), Y: float64(g.normals[1]), Z: float64(g.normals[2])}.Unit().Scale(127)
	return [3]int8{int8(math.Round(n.X)), int8(math.Round(n.Y)), int8(math.Round(n.Z))}
}

// room holds groups outside the Go heap until they are done with.
type room struct {
	all  []pages.Scratch[group]
	left []group
}

// roomStep is how many groups are made room for at a time.
const roomStep = 1 << 15

// hold returns a copy of the groups.
func (r *room) hold(groups []group) []group {
	n := len(groups)
	if n > len(r.left) {
		size := max(roomStep, n)
		more := pages.NewScratch[group](size, size)
		r.all, r.left = append(r.all, more), more.Data
	}
	held := r.left[:n:n]
	r.left = r.left[n:]
	copy(held, groups)
	return held
}

func (r *room) release() {
	for i := range r.all {
		r.all[i].Release()
	}
	r.all, r.left = nil, nil
}
