package shade

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/lod"
)

// standIn is a coarser model that is drawn in another's place while the view moves.
type standIn struct {
	level *lod.Level
	cell  float64 // mm
	model *Model
}

// coarsestPixels is the side of a stand-in's cell, in pixels of the picture, up to which
// it may stand in: a vertex is then a pixel or two from where it belongs.
const coarsestPixels = 3

// Coarsen makes a coarser model that stands in for m while the view moves, by joining the vertices
// in cells of the given side in mm, and of that still coarser ones; of a moved model, out of what its origin has. It may run while others draw and paint. The error is
// that of [lod.Cluster] or ctx's.
func (m *Model) Coarsen(ctx context.Context, cell float64, threads int) error {
	m.coarsening.Lock()
	defer m.coarsening.Unlock()
	switch {
	case len(m.mesh.Faces) == 0:
		return nil
	case m.own != nil:
		return m.shareStandIn(ctx, cell, threads)
	}
	level, err := lod.Cluster(ctx, m.mesh, m.normals(), cell, threads, nil)
	if err != nil {
		return err
	}
	s := &standIn{level, cell, NewModel(level.Mesh, level.Normals)}
	m.painting.Lock()
	s.take(m)
	m.standIn.Store(s)
	m.painting.Unlock()
	if s.model.Triangles() > mostMoving {
		return s.model.Coarsen(ctx, 2*cell, threads)
	}
	return ctx.Err()
}

// normals returns unit normals of the mesh's vertices, as true as they are drawn.
func (m *Model) normals() []geom.Vec {
	all := make([]geom.Vec, len(m.mesh.Vertices))
	set := func(v uint32, n *[3]int8) {
		if all[v] == (geom.Vec{}) {
			all[v] = geom.Vec{X: float64(n[0]), Y: float64(n[1]), Z: float64(n[2])}.Unit()
		}
	}
	var scratch [clusterMax]uint32
	for i := range m.clusters {
		c := &m.clusters[i]
		for k, v := range m.sources(c, &scratch) {
			set(v, &m.normal[int(c.vertex)+k])
		}
	}
	for i := range m.wide {
		for k, v := range m.mesh.Faces[m.wide[i].face] {
			set(v, &m.wide[i].normal[k])
		}
	}
	return all
}

// take paints the stand-in as m is painted: with the means of what its vertices stand for.
func (s *standIn) take(m *Model) {
	p := m.paint.Load()
	if p == nil {
		s.model.setPaint(nil)
		return
	}
	values, known := make([]float64, len(m.mesh.Vertices)), make([]bool, len(m.mesh.Vertices))
	set := func(v uint32, level uint16) {
		if level != unknownCode {
			values[v], known[v] = float64(level), true
		}
	}
	var scratch [clusterMax]uint32
	for i := range m.clusters {
		c := &m.clusters[i]
		for k, v := range m.sources(c, &scratch) {
			set(v, p.level[int(c.vertex)+k])
		}
	}
	for i := range m.wide {
		for k, v := range m.mesh.Faces[m.wide[i].face] {
			set(v, p.wide[i][k])
		}
	}
	values, known = s.level.Carry(values, known)
	s.model.setPaint(s.model.painted(func(v uint32) uint16 {
		if !known[v] {
			return unknownCode
		}
		return uint16(max(firstCode, min(values[v]+0.5, lastCode)))
	}, p.colors))
}

// StandIns returns the models with those that have a stand-in replaced by it, and whether every large one has one
// that is fine enough for a picture h pixels high.
func StandIns(models []*Model, c Camera, h int) ([]*Model, bool) {
	out := make([]*Model, len(models))
	for i, m := range models {
		out[i] = m
		for s := m.standIn.Load(); s != nil && s.cell*float64(h) <= coarsestPixels*c.Height; s = out[i].standIn.Load() {
			out[i] = s.model
		}
		if out[i] == m && m.Large() {
			return models, false
		}
	}
	return out, true
}

// Large reports whether drawing the model takes so long that a stand-in is worth while.
func (m *Model) Large() bool { return m.Triangles() > fewTriangles }

// mostMoving is the number of triangles above which a stand-in gets one of its own, of cells twice as wide, for
// where it is fine enough: the fewer are drawn, the more is left of a tick for showing the picture.
const mostMoving = 100_000

// fewTriangles are drawn within a tick of a window on two cores; measured.
const fewTriangles = 300_000

// RenderMoving is Render of the models' stand-ins. What is picked in the picture is of the models themselves.
func (r *Renderer) RenderMoving(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture {
	models = models[:min(len(models), maxModels)]
	drawn, _ := StandIns(models, c, h)
	p := r.Render(drawn, c, theme, w, h, threads)
	p.models = append(p.models[:0], models...)
	return p
}

// StandInCell returns the side in mm of the cells by which a mesh is coarsened for pictures of about 1000 pixels.
func StandInCell(m *mesh.Mesh) float64 { return m.Bounds().Diagonal() / 700 }
