package shade

import (
	"context"
	"image/color"
	"math"
	"sync"
	"sync/atomic"
	"unsafe"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Model is a mesh made ready for drawing: its triangles sorted along a
// space-filling curve and cut into clusters of at most 128 that carry their own
// vertices, so that a cluster is drawn out of the nearest cache or passed over
// as a whole. It holds about 25 bytes a triangle besides the mesh. Models may
// be shared between goroutines; Paint may be called while others draw.
type Model struct {
	mesh     *mesh.Mesh
	box      geom.Box // of the corners of its faces, or of its points
	origin   geom.Vec // positions are relative to it
	clusters []cluster
	position [][3]float32
	normal   [][3]int8
	source   []uint32 // mesh vertex of each cluster vertex
	corner   [][3]uint8
	face     []uint32 // mesh face of each cluster triangle
	paint    atomic.Pointer[paint]

	painting sync.Mutex // of it and its stand-in
	standIn  atomic.Pointer[standIn]
}

// cluster is a run of Model.corner and of Model.position with its box.
type cluster struct {
	vertex, face   uint32
	vertices, size int32
	centre, half   [3]float32
}

// paint is what is looked up for the model; it never changes after it was set.
type paint struct {
	level  []float32 // per cluster vertex, in steps of the table, unknownLevel where there is no number
	colors []uint32  // per scalar code, 0x00RRGGBB
}

// Scalar codes: 0 is no number, 1 the bare part; from firstCode on they run
// over the scale from -Limit to +Limit with the deviation 0 in the middle.
const (
	unknownCode = 0
	bareCode    = 1
	firstCode   = 2
	lastCode    = 0xffff
	zeroCode    = (firstCode + lastCode) / 2.0
	codeReach   = (lastCode - firstCode) / 2.0 // codes from 0 to Limit
	// unknownLevel is so low that a triangle's sum tells whether any corner has no number.
	unknownLevel = -1e15
	// farLevel bounds known levels so that no sum of three comes near unknownLevel.
	farLevel = 1e9
)

// NewModel prepares a mesh. normals are the vertex normals, or nil to have
// them computed. Faces with a corner that is not finite are left out. A mesh
// without faces is drawn as points; nothing can be picked on it.
func NewModel(m *mesh.Mesh, normals []geom.Vec) *Model {
	if normals == nil {
		normals = m.VertexNormals()
	}
	out := &Model{mesh: m, box: geom.EmptyBox()}
	order, box := sortedFaces(m)
	if len(m.Faces) == 0 {
		order, box = sortedPoints(m)
	}
	out.box = box
	if box.Empty() {
		return out
	}
	out.origin = box.Center()
	if len(m.Faces) == 0 {
		out.cutPoints(order, normals)
	} else {
		out.cut(order, normals)
	}
	return out
}

// Box returns the box around what is drawn of the model.
func (m *Model) Box() geom.Box { return m.box }

// Triangles returns how many triangles are drawn.
func (m *Model) Triangles() int { return len(m.face) }

// Bytes returns how much memory what is drawn takes, and how much what leads from it back to the mesh.
func (m *Model) Bytes() (drawn, tie int) {
	drawn = len(m.clusters)*int(unsafe.Sizeof(cluster{})) + len(m.position)*12 + len(m.normal)*3 + len(m.corner)*3
	if p := m.paint.Load(); p != nil {
		drawn += 4 * len(p.level)
	}
	return drawn, 4*len(m.source) + 4*len(m.face)
}

// Mesh returns the mesh the model was made of.
func (m *Model) Mesh() *mesh.Mesh { return m.mesh }

// Paint sets what is drawn at each vertex of the mesh: a deviation in mm where
// known[i] (all of them when known is nil), hatched where not. A mm of nil
// paints the part bare. The slices are not kept.
func (m *Model) Paint(mm []float64, known []bool, scale Scale) {
	if mm == nil {
		m.setPaint(nil)
		return
	}
	m.paintWith(mm, known, scale.limit(), scale.table())
}

// setPaint sets the paint of the model and of what stands in for it.
func (m *Model) setPaint(p *paint) {
	m.painting.Lock()
	defer m.painting.Unlock()
	m.paint.Store(p)
	if s := m.standIn.Load(); s != nil {
		s.take(m)
	}
}

func (m *Model) paintWith(mm []float64, known []bool, limit float64, colors []uint32) {
	p := &paint{level: make([]float32, len(m.source)), colors: colors}
	parallel.Chunks(context.Background(), len(m.source), 1<<16, 0, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			v := m.source[i]
			level := zeroCode + float64(codeReach*(mm[v]/limit))
			switch {
			case known != nil && !known[v], math.IsNaN(level):
				p.level[i] = unknownLevel
			default:
				p.level[i] = float32(max(-farLevel, min(farLevel, level)))
			}
		}
	})
	m.setPaint(p)
}

// limit returns where the scale ends, never less than the tolerance.
func (s Scale) limit() float64 {
	l := s.Limit
	for _, t := range []float64{s.Tolerance.Lo, s.Tolerance.Hi} {
		if !math.IsInf(t, 0) {
			l = max(l, math.Abs(t)*(1+2/codeReach))
		}
	}
	if !(l > 0) || math.IsInf(l, 0) {
		return 1
	}
	return l
}

// table returns the colour of every scalar code; the first two are filled in by the theme.
func (s Scale) table() []uint32 {
	colors := make([]uint32, lastCode+1)
	limit := s.limit()
	for code := firstCode; code <= lastCode; code++ {
		colors[code] = pack(s.Color((float64(code) - zeroCode) / codeReach * limit))
	}
	return colors
}

func pack(c color.RGBA) uint32 { return uint32(c.R)<<16 | uint32(c.G)<<8 | uint32(c.B) }
