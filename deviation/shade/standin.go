package shade

import (
	"context"

	"shutline/mesh/geom"
	"shutline/mesh/lod"
)

// standIn is a coarser model that is drawn in another's place while the view moves.
type standIn struct {
	level *lod.Level
	cell  float64 // mm
	model *Model
}

// CoarsestCell is the side of a stand-in's cell, in pixels of the picture, up to which
// it hardly shows: a vertex is then a pixel or two from where it belongs.
const CoarsestCell = 3

// Coarsen makes a coarser model that stands in for m while the view moves, by joining the vertices
// in cells of the given side in mm, wider where that spares little, and of that still coarser ones; of a moved model, out of what its origin has. It may run while others draw and paint. The error is
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
	level, err := lod.Cluster(ctx, pieces{m}, cell, threads)
	if err != nil {
		return err
	}
	// What has nearly as many triangles as the part is not worth while.
	for widest := 8 * cell; 3*len(level.Mesh.Faces) > 2*len(m.mesh.Faces) && cell < widest; {
		cell *= 2
		if level, err = lod.Cluster(ctx, pieces{m}, cell, threads); err != nil {
			return err
		}
	}
	s := &standIn{level: level, cell: cell, model: m.coarser(level)}
	m.painting.Lock()
	s.take(m)
	m.standIn.Store(s)
	m.painting.Unlock()
	if s.model.Triangles() > mostMoving {
		return s.model.Coarsen(ctx, 2*cell, threads)
	}
	return ctx.Err()
}

// coarser prepares a coarser mesh of m's for drawing.
func (m *Model) coarser(level *lod.Level) *Model {
	normal := func(vertex uint32) [3]int8 { return level.Normals[vertex] }
	out := &Model{mesh: level.Mesh, box: geom.BoxOf(level.Mesh.Vertices)}
	if len(level.Mesh.Faces) == 0 { // nothing is left but specks
		order, _ := sortedPoints(level.Mesh)
		out.cutPoints(order, normal)
		return out
	}
	order, ends := m.coarserOrder(level)
	out.cut(order, ends, nil, normal)
	return out
}

// take paints the stand-in as m is painted: with the means of what its vertices stand for.
func (s *standIn) take(m *Model) {
	p := m.paint.Load()
	if p == nil {
		s.model.setPaint(nil)
		return
	}
	narrow := uint32(len(m.position))
	values, known := s.level.Carry(func(v uint32) (uint16, bool) {
		var code uint16
		if v < narrow {
			code = p.level[v]
		} else {
			code = p.wide[(v-narrow)/3][(v-narrow)%3]
		}
		return code, code != unknownCode
	}, 0)
	s.model.setPaint(s.model.painted(func(v uint32) uint16 {
		if !known[v] {
			return unknownCode
		}
		return uint16(max(firstCode, min(values[v]+0.5, lastCode)))
	}, p.colors))
}

// StandIns returns the models with those that have a stand-in replaced by it, and whether every large one has one
// that is fine enough for a picture h pixels high: of cells of so many pixels at most.
func StandIns(models []*Model, c Camera, h int, pixels float64) ([]*Model, bool) {
	out := make([]*Model, len(models))
	for i, m := range models {
		out[i] = m
		for s := m.standIn.Load(); s != nil && s.cell*float64(h) <= pixels*c.Height; s = out[i].standIn.Load() {
			out[i] = s.model
		}
		if out[i] == m && m.Large() {
			return models, false
		}
	}
	return out, true
}

// Large reports whether drawing the model takes so long that a stand-in is worth while.
func (m *Model) Large() bool { return m.Triangles() > mostMoving }

// mostMoving is the number of triangles above which a model gets a stand-in, and that one of its own, of cells twice as wide, for
// where it is fine enough. A window on two cores draws three times as many within a tick, but the fewer are drawn, the more is
// left of the tick for showing the picture.
const mostMoving = 100_000

// RenderMoving is Render of the models' stand-ins of cells of so many pixels at most, [CoarsestCell] unless more is to be spared. What is
// picked in the picture is of the models themselves.
func (r *Renderer) RenderMoving(models []*Model, c Camera, theme Theme, w, h int, pixels float64, threads int) *Picture {
	models = models[:min(len(models), maxModels)]
	drawn, _ := StandIns(models, c, h, pixels)
	p := r.Render(drawn, c, theme, w, h, threads)
	p.models = append(p.models[:0], models...)
	return p
}

// StandInCell returns the side in mm of the cells by which the model is coarsened for pictures of about 1000 pixels.
func (m *Model) StandInCell() float64 { return m.box.Diagonal() / 700 }
