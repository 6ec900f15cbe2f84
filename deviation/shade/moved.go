package shade

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// origin tells where a model's arrays are from, when they are shared.
type origin struct {
	model    *Model // that they were made for
	from, to geom.Rigid
}

// Moved returns a model of the same mesh carried elsewhere: to holds m's mesh with every vertex moved by the
// motion, in m's order. What is drawn is shared, so that it costs next to nothing; the paint is its own, and bare.
// It panics if the meshes differ in how many vertices or faces they have.
func (m *Model) Moved(to *mesh.Mesh, motion geom.Rigid) *Model {
	if len(to.Vertices) != len(m.mesh.Vertices) || len(to.Faces) != len(m.mesh.Faces) {
		panic("shade: the moved mesh is another one")
	}
	out := m.sharing(motion)
	out.mesh, out.box = to, to.Bounds()
	return out
}

func (m *Model) sharing(motion geom.Rigid) *Model {
	out := &Model{mesh: m.mesh, box: geom.EmptyBox(), grid: m.grid, clusters: m.clusters, position: m.position, normal: m.normal,
		corner: m.corner, face: m.face, wide: m.wide, rim: m.rim, own: &origin{model: m, from: motion.Inverse(), to: motion}}
	if m.own != nil {
		to := motion.After(m.own.to)
		out.own = &origin{model: m.own.model, from: to.Inverse(), to: to}
	}
	if !m.box.Empty() {
		for _, c := range m.box.Corners() {
			out.box = out.box.Extend(motion.Apply(c))
		}
	}
	return out
}

// own is the camera that sees the model's arrays as c sees the model.
func (c Camera) own(m *Model) Camera {
	if m.own == nil {
		return c
	}
	g := &m.own.from
	c.Target, c.Right, c.Up = g.Apply(c.Target), g.ApplyDir(c.Right), g.ApplyDir(c.Up)
	return c
}

// shareStandIn makes what stands in for a moved model out of what stands in for its origin, which is made where it is missing.
func (m *Model) shareStandIn(ctx context.Context, cell float64, threads int) error {
	origin := m.own.model
	if origin.standIn.Load() == nil {
		if err := origin.Coarsen(ctx, cell, threads); err != nil {
			return err
		}
	}
	shared := origin.standIn.Load()
	if shared == nil {
		return nil
	}
	s := &standIn{shared.level, shared.cell, shared.model.sharing(m.own.to)}
	m.painting.Lock()
	s.take(m)
	m.standIn.Store(s)
	m.painting.Unlock()
	if shared.model.standIn.Load() == nil {
		return nil
	}
	return s.model.Coarsen(ctx, cell, threads)
}
