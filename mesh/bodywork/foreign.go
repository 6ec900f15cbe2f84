package bodywork

import (
	"shutline/mesh/geom"
)

// rawScan is a scan being put together in the reference's frame.
type rawScan struct {
	vertices []geom.Vec
	origins  []Origin
	unseen   []bool
	faces    [][3]uint32
	noise    float64
	step     float64 // mm between samples of faces
	seed     uint64
}

// add appends a noisy sample and returns its index.
func (r *rawScan) add(p, n geom.Vec, o Origin) uint32 {
	i := len(r.vertices)
	random := keyed(r.seed, 'f', uint64(i))
	r.vertices = append(r.vertices, p.AddScaled(r.noise*random.normal(), n))
	r.origins = append(r.origins, o)
	r.unseen = append(r.unseen, false)
	return uint32(i)
}

// patch appends a grid of samples of at(u, v), u and v from 0 to 1; its faces look along du x dv.
func (r *rawScan) patch(part Part, lengthU, lengthV, step float64, at func(u, v float64) (p, n geom.Vec)) {
	nu, nv := max(2, int(lengthU/step)), max(2, int(lengthV/step))
	first := uint32(len(r.vertices))
	for i := range nu + 1 {
		for k := range nv + 1 {
			p, n := at(float64(i)/float64(nu), float64(k)/float64(nv))
			r.add(p, n, Origin{Panel: -1, Edge: -1, Part: part})
		}
	}
	w := uint32(nv + 1)
	for i := range uint32(nu) {
		for k := range uint32(nv) {
			a := first + i*w + k
			r.faces = append(r.faces, [3]uint32{a, a + w, a + w + 1}, [3]uint32{a, a + w + 1, a + 1})
		}
	}
}

const (
	sheet       = 0.8  // mm, thickness of the wing's sheet
	flangeDepth = 14.0 // mm, of the seal flange below the skin
)

// foreignTriangles predicts how many triangles addForeign appends.
func foreignTriangles(g grid) float64 {
	return 2*(150*260+500*300+60*120+2*barFace*barFace)/(g.far*g.far) + 2*3*700/(g.strip*g.strip)
}

// addForeign appends what the scanner saw besides the outer skin.
func (j *Job) addForeign(r *rawScan, t *tessellation) {
	wing := &j.scanned.skins[Wing]
	// The inside of the wing above its arch: the same skin moved inward by the sheet, looking the other way.
	r.patch(Inner, 150, 260, r.step, func(u, v float64) (p, n geom.Vec) {
		p, n = wing.at(230+float64(260*v), 240+float64(90*u))
		return p.AddScaled(-sheet, n), n.Neg()
	})
	// The seal flange deep in the gap between wing and door, looking outward.
	r.patch(Flange, 3, 700, t.grid.strip, func(u, v float64) (p, n geom.Vec) {
		z := 100 + float64(700*v)
		x, _ := wingDoorLine.at(z)
		p, n = j.nominal.skins[Door].at(x-1.5+float64(3*u), z)
		return p.AddScaled(-flangeDepth, n), n
	})
	r.patch(Floor, 500, 300, r.step, func(u, v float64) (p, n geom.Vec) {
		return geom.Vec{X: 900 + float64(500*u), Y: -300 + float64(300*v), Z: -160}, geom.Vec{Z: 1}
	})
	r.patch(Stand, 60, 120, r.step, func(u, v float64) (p, n geom.Vec) {
		// The outward half of a post 60 mm thick.
		s, c := geom.Sincos(3.141592653589793 * (1 + u))
		n = geom.Vec{X: c, Y: s}
		return geom.Vec{X: 1150, Y: 40, Z: -150 + float64(120*v)}.AddScaled(30, n), n
	})
	for end, x := range [2]float64{j.Lengths[0].From.X, j.Lengths[0].To.X} {
		out := float64(2*end - 1)
		r.patch(ScaleBar, barFace, barFace, r.step, func(u, v float64) (p, n geom.Vec) {
			y := float64(out * barFace * (u - 0.5))
			return geom.Vec{X: x, Y: barY + y, Z: barZ + float64(barFace*(v-0.5))}, geom.Vec{X: out}
		})
	}
	j.addWeb(r, t)
}

// The scale bar lies under the sill along the vehicle; its end faces are flat and square to it.
const (
	barLength = 1000.0
	barFace   = 80.0 // mm, side of the square end faces
	barX      = 800.0
	barY      = -140.0
	barZ      = -80.0
)

// LengthSpec is a distance in the scan that is known.
type LengthSpec struct {
	Name     string
	From, To geom.Vec // mm, reference frame, in the middle of the end faces
	Known    float64  // mm
}

func lengths(o Options) []LengthSpec {
	if o.Whole {
		return nil
	}
	from := geom.Vec{X: barX, Y: barY, Z: barZ}
	return []LengthSpec{{"scale bar", from, from.Add(geom.Vec{X: barLength}), barLength}}
}

// addWeb spans the gap behind the door from shoulder to shoulder, sagging a little.
func (j *Job) addWeb(r *rawScan, t *tessellation) {
	left, l := t.shoulder(Door, doorRear, j.view.web)
	right, ri := t.shoulder(Quarter, quarterFront, j.view.web)
	if len(left) < 2 || len(right) < 2 {
		return
	}
	middle := make([]float64, len(left))
	m := uint32(len(r.vertices))
	for i, z := range left {
		middle[i] = z
		a, n := j.scanned.skins[Door].at(j.scanned.edges[doorRear].shoulderX(z), z)
		b, _ := j.scanned.skins[Quarter].at(j.scanned.edges[quarterFront].shoulderX(z), z)
		r.add(a.Lerp(b, 0.5).AddScaled(-0.5, n), n, Origin{Panel: -1, Edge: -1, Part: Membrane})
	}
	r.faces = stitch(r.faces, left, middle, l, m)
	r.faces = stitch(r.faces, middle, right, m, ri)
}

// shoulder returns the rows of an edge's shoulder column within span, and the first one's vertex.
func (t *tessellation) shoulder(panel, edge int, span [2]float64) (rows []float64, first uint32) {
	for i := range t.columns[panel] {
		c := &t.columns[panel][i]
		if c.edge != edge || c.part != Face || c.u != 0 {
			continue
		}
		lo := 0
		for lo < len(c.rows) && c.rows[lo] <= span[0] {
			lo++
		}
		hi := lo
		for hi < len(c.rows) && c.rows[hi] < span[1] {
			hi++
		}
		return c.rows[lo:hi], uint32(c.first + lo)
	}
	return nil, 0
}
