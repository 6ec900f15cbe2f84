package shade

import (
	"image/color"
	"math"
	"sync"
	"sync/atomic"
	"unsafe"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Model is a mesh made ready for drawing: its triangles sorted by where they lie
// and cut into clusters of at most 128 that carry their own vertices, so that a
// cluster is drawn out of the nearest cache or passed over as a whole. It holds
// some 10 bytes a triangle for drawing and 4 that lead back to the mesh. Models
// may be shared between goroutines; Paint may be called while others draw.
type Model struct {
	mesh     *mesh.Mesh
	box      geom.Box // of the corners of its faces, or of its points
	grid     grid
	clusters []cluster
	position [][3]uint16 // steps of the grid from the cluster's base
	normal   [][3]int8
	corner   [][3]uint8
	face     []uint32 // mesh face of each cluster triangle; without faces, mesh vertex of each point
	wide     []wideFace
	rim      []uint32 // a bit for each position, whether it lies on a border of the mesh
	paint    atomic.Pointer[paint]
	own      *origin // of a model that shares another's arrays

	painting   sync.Mutex // of it and its stand-in
	coarsening sync.Mutex
	standIn    atomic.Pointer[standIn]
}

// cluster is a run of Model.corner and of Model.position with its box.
type cluster struct {
	vertex, face   uint32
	base           [3]int32 // its lowest corner on the grid
	extent         [3]uint16
	vertices, size uint16
}

// wideFace is a triangle too large for a cluster.
type wideFace struct {
	face   uint32
	corner [3][3]float64 // steps of the grid
	normal [3][3]int8
	rim    [3]bool // whether it lies on a border of the mesh
}

// paint is what is looked up for the model; it never changes after it was set.
type paint struct {
	level  []uint16 // per cluster vertex: a scalar code
	wide   [][3]uint16
	colors []uint32 // per scalar code, 0x00BBGGRR; the first two belong to the theme
}

// Scalar codes: 0 is no number, 1 the bare part; from firstCode on they run evenly
// over headroom scales, with the deviation 0 in the middle. What lies beyond
// a scale's end is kept that far, so that a triangle that leaves the scale leaves it where its corners say.
const (
	unknownCode = 0
	bareCode    = 1
	firstCode   = 2
	lastCode    = 0xffff
	zeroCode    = (firstCode + lastCode) / 2.0
	headroom    = 4
	codeReach   = (lastCode - firstCode) / 2.0 / headroom // codes from 0 to Limit
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
	normal := func(vertex uint32) [3]int8 { return normal8(normals[vertex]) }
	if len(m.Faces) == 0 {
		out.cutPoints(order, normal)
		return out
	}
	var ends []int
	for from := 0; from < len(order); from += cutBlock {
		ends = append(ends, min(from+cutBlock, len(order)))
	}
	rooms := make([]*[cutBlock]faceMiddle, parallel.Threads(0))
	out.cut(order, ends, func(worker int, b *blockCut) {
		if rooms[worker] == nil {
			rooms[worker] = new([cutBlock]faceMiddle)
		}
		b.arrange(m, rooms[worker])
	}, normal)
	return out
}

// Box returns the box around what is drawn of the model.
func (m *Model) Box() geom.Box { return m.box }

// Triangles returns how many triangles are drawn.
func (m *Model) Triangles() int { return len(m.corner) + len(m.wide) }

// Bytes returns how much memory what is drawn takes, and how much what leads from it back to the mesh.
func (m *Model) Bytes() (drawn, tie int) {
	drawn = len(m.clusters)*int(unsafe.Sizeof(cluster{})) + len(m.position)*6 + len(m.normal)*3 + len(m.corner)*3 +
		len(m.wide)*int(unsafe.Sizeof(wideFace{}))
	if p := m.paint.Load(); p != nil {
		drawn += 2*len(p.level) + 6*len(p.wide)
	}
	return drawn, 4 * len(m.face)
}

// Mesh returns the mesh the model was made of.
func (m *Model) Mesh() *mesh.Mesh { return m.mesh }

// sources finds the mesh vertices of a cluster's vertices.
func (m *Model) sources(c *cluster, to *[clusterMax]uint32) []uint32 {
	if len(m.corner) == 0 {
		return m.face[c.vertex : c.vertex+uint32(c.vertices)]
	}
	faces := m.face[c.face : c.face+uint32(c.size)]
	for i, t := range m.corner[c.face : c.face+uint32(c.size)] {
		f := &m.mesh.Faces[faces[i]]
		to[t[0]], to[t[1]], to[t[2]] = f[0], f[1], f[2]
	}
	return to[:c.vertices]
}

// Paint sets what is drawn at each vertex of the mesh: a deviation in mm where
// known[i] (all of them when known is nil), hatched where not. A mm of nil
// paints the part bare. The slices are not kept.
func (m *Model) Paint(mm []float64, known []bool, scale Scale) {
	if mm == nil {
		m.setPaint(nil)
		return
	}
	m.PaintBy(mm, known, scale.limit(), scale.Color)
}

// PaintBy is Paint with the colours of any scale: color is asked for values from -limit to limit, mm;
// what lies beyond gets the colour of the end.
func (m *Model) PaintBy(mm []float64, known []bool, limit float64, color func(mm float64) color.RGBA) {
	m.setPaint(m.painted(func(v uint32) uint16 {
		if known != nil && !known[v] {
			return unknownCode
		}
		return codeOf(mm[v], limit)
	}, codeColors(limit, color)))
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

// painted looks the code of every vertex up.
func (m *Model) painted(code func(v uint32) uint16, colors []uint32) *paint {
	p := &paint{level: padded[uint16](len(m.position)), wide: make([][3]uint16, len(m.wide)), colors: colors}
	m.eachCluster(func(c *cluster, sources []uint32) {
		level := p.level[c.vertex : c.vertex+uint32(c.vertices)]
		for i, v := range sources {
			level[i] = code(v)
		}
	})
	for i := range m.wide {
		for k, v := range m.mesh.Faces[m.wide[i].face] {
			p.wide[i][k] = code(v)
		}
	}
	return p
}

// codeOf returns the scalar code of a value.
func codeOf(mm, limit float64) uint16 {
	level := zeroCode + float64(codeReach*(mm/limit))
	if math.IsNaN(level) {
		return unknownCode
	}
	return uint16(max(firstCode, min(level+0.5, lastCode)))
}

// codeColors returns the colour of every scalar code.
func codeColors(limit float64, color func(mm float64) color.RGBA) []uint32 {
	colors := make([]uint32, lastCode+1)
	for code := firstCode; code <= lastCode; code++ {
		share := (float64(code) - zeroCode) / codeReach
		colors[code] = pack(color(max(-1, min(1, share)) * limit))
	}
	return colors
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

func pack(c color.RGBA) uint32 { return uint32(c.B)<<16 | uint32(c.G)<<8 | uint32(c.R) }
