package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Sampling says how a part is cut into triangles.
type Sampling struct {
	Triangles int    // about how many
	Jitter    bool   // samples scatter by up to 0.3 of their spacing along the surface, as a scanner's do
	Seed      uint64 // of the scatter
}

// grown stitches the samples of at over the lines us and vs; faces look along
// du x dv, or against it when turned is set. Those that drop names are left out.
func (s Sampling) grown(key uint64, us, vs []float64, turned bool, at func(u, v float64) geom.Vec, drop func(u, v float64) bool) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: make([]geom.Vec, 0, len(us)*len(vs))}
	uv := make([][2]float64, 0, len(us)*len(vs))
	for i, u := range us {
		for k, v := range vs {
			if s.Jitter {
				r := keyed(s.Seed, 'g', key, uint64(i), uint64(k))
				u := scattered(us, i, r.uniform())
				v := scattered(vs, k, r.uniform())
				uv = append(uv, [2]float64{u, v})
				m.Vertices = append(m.Vertices, at(u, v))
				continue
			}
			uv = append(uv, [2]float64{u, v})
			m.Vertices = append(m.Vertices, at(u, v))
		}
	}
	w := uint32(len(vs))
	add := func(a, b, c uint32) {
		if drop != nil && drop((uv[a][0]+uv[b][0]+uv[c][0])/3, (uv[a][1]+uv[b][1]+uv[c][1])/3) {
			return
		}
		if turned {
			b, c = c, b
		}
		m.Faces = append(m.Faces, [3]uint32{a, b, c})
	}
	for i := range uint32(len(us) - 1) {
		for k := range w - 1 {
			a := i*w + k
			add(a, a+w, a+w+1)
			add(a, a+w+1, a+1)
		}
	}
	return m
}

// scattered moves line i by a share of the step to its neighbour; the outermost
// lines stay, so that the part keeps its size.
func scattered(lines []float64, i int, by float64) float64 {
	if i == 0 || i == len(lines)-1 {
		return lines[i]
	}
	step := min(lines[i+1]-lines[i], lines[i]-lines[i-1])
	return lines[i] + float64(0.3*by*step)
}

// evenly appends the ends of n equal steps from lo, itself left out, to hi.
func evenly(lines []float64, lo, hi float64, n int) []float64 {
	for i := 1; i <= n; i++ {
		lines = append(lines, lo+float64((hi-lo)*float64(i)/float64(n)))
	}
	return lines
}

// joined returns the meshes as one, leaving out vertices that no face names.
func joined(parts ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for _, p := range parts {
		index := make([]uint32, len(p.Vertices))
		for _, f := range p.Faces {
			for k, v := range f {
				if index[v] == 0 {
					out.Vertices = append(out.Vertices, p.Vertices[v])
					index[v] = uint32(len(out.Vertices))
				}
				f[k] = index[v] - 1
			}
			out.Faces = append(out.Faces, f)
		}
	}
	return out
}

// The smooth body side, mm.
const (
	smoothLength = 2400.0
	smoothHeight = 900.0
	smoothRadius = 2.0 // of the hems
	smoothGap    = 4.0
	smoothHem    = smoothRadius * 150 * math.Pi / 180 // its arc
)

// smoothSkin is the outward offset y at (x, z): crowned in both directions, with
// one soft, slightly slanted crease.
func smoothSkin(x, z float64) float64 {
	_, along := geom.Sincos((x - 1200) / 1500)
	up := (z - 420) / 620
	t := z - 610 - float64(0.02*x)
	// A hinge of radius 6 mm or so that fades out again 60 mm from its line.
	bend := (t/6 + math.Sqrt(float64(t/6*(t/6))+2)) / 2
	return float64(70*(1-float64(up*up))) + float64(25*along) + float64(9*bend)/(1+math.Abs(t)/60)
}

// SmoothSide returns a body side of 2400 by 900 mm that is smooth but for a
// wheel arch cut out of it and one shut line whose two panels end in hems: the
// hardest usual case for a placement, since skin alone lets a scan slide. It
// looks along +Y, Z is up.
func SmoothSide(s Sampling) *mesh.Mesh {
	var parts []*mesh.Mesh
	for side := range 2 {
		sign, width := 1.0, 1250.0
		if side == 1 {
			sign, width = -1, smoothLength-1250
		}
		step := math.Sqrt(width * smoothHeight / (float64(max(s.Triangles, 8)) / 4))
		us := evenly([]float64{0}, 0, smoothHem, max(6, int(6/step)+6))
		us = evenly(us, smoothHem, width, int(width/step)+1)
		vs := evenly([]float64{0}, 0, smoothHeight, int(smoothHeight/step)+1)
		at := func(u, z float64) geom.Vec { return smoothAt(sign, u, z) }
		parts = append(parts, s.grown(uint64(side), us, vs, side == 1, at, func(u, z float64) bool {
			p := smoothAt(sign, u, z)
			dx, dz := p.X-620, p.Z+20
			return float64(dx*dx)+float64(dz*dz) < 340*340
		}))
	}
	return joined(parts...)
}

// smoothAt returns the point at the distance u from the end of the hem, over
// hem and face, at height z; sign is +1 for the panel in front, x < 1250.
func smoothAt(sign, u, z float64) geom.Vec {
	bow, _ := geom.Sincos(z / smoothHeight * math.Pi)
	edge := 1250 + float64(40*bow) - float64(sign*smoothGap/2)
	angle := max(smoothHem-u, 0) / smoothRadius
	sin, cos := geom.Sincos(angle)
	x := edge - float64(sign*(smoothRadius+max(u-smoothHem, 0))) + float64(sign*smoothRadius*sin)
	return geom.Vec{X: x, Y: smoothSkin(x, z) - float64(smoothRadius*(1-cos)), Z: z}
}
