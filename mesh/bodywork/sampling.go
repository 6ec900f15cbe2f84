package bodywork

import (
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
