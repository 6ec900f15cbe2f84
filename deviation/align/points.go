package align

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
)

// point is a scan point offered to a fit, in scan coordinates.
type point struct {
	p, n geom.Vec // mm; unit normal, the zero vector where unknown
}

// cloud is a scan made ready for sampling.
type cloud struct {
	mesh    *mesh.Mesh
	normals []geom.Vec // unit, zero where a vertex has none
	area    []float64  // mm² per vertex; 1 for every usable point of a scan without faces
	total   float64
	usable  int
	signed  bool   // the normals know which side is outside
	rim     []bool // per vertex of a scan with faces; nil where there are no borders, or nothing else
}

// checkEvery is how many faces go by between two looks at the context: some milliseconds.
const checkEvery = 1 << 16

// newCloud gathers normals and areas in one pass. The normals are weighted by
// area: they only gate pairs and steer sampling, where it does not matter.
func newCloud(ctx context.Context, m *mesh.Mesh) *cloud {
	c := &cloud{mesh: m, signed: true}
	n := len(m.Vertices)
	c.area = pages.Make[float64](n)
	var fan []uint32
	switch {
	case len(m.Faces) > 0:
		c.normals = pages.Make[geom.Vec](n)
		fan = pages.Make[uint32](n)
		for f, t := range m.Faces {
			if f%checkEvery == 0 && ctx.Err() != nil {
				return c
			}
			a := m.AreaNormal(uint32(f))
			sixth := a.Norm() / 6
			for k, v := range t {
				c.normals[v] = c.normals[v].Add(a)
				c.area[v] += sixth
				fan[v] += t[(k+1)%3] - t[(k+2)%3] // see rimOf
			}
		}
		for i, v := range c.normals {
			c.normals[i] = v.Unit()
			if c.normals[i] == (geom.Vec{}) {
				c.area[i] = 0
			}
		}
	case len(m.Normals) == n:
		c.normals = make([]geom.Vec, n)
		for i, v := range m.Normals {
			c.normals[i] = v.Unit()
			if c.normals[i] != (geom.Vec{}) {
				c.area[i] = 1
			}
		}
	default:
		c.signed = false
		for i := range c.area {
			c.area[i] = 1
		}
	}
	for i, a := range c.area {
		if !m.Vertices[i].IsFinite() {
			c.area[i] = 0
			continue
		}
		c.total += a
		if a > 0 {
			c.usable++
		}
	}
	c.rim = c.rimOf(fan)
	return c
}

func (c *cloud) points(indices []int32) []point {
	out := make([]point, len(indices))
	for k, i := range indices {
		out[k].p = c.mesh.Vertices[i]
		if c.normals != nil {
			out[k].n = c.normals[i]
		}
	}
	return out
}

// unitHash returns a number in (0, 1) that depends on seed and k alone
// (splitmix64: Steele, Lea & Flood 2014).
func unitHash(seed, k uint64) float64 {
	x := seed*0x9E3779B97F4A7C15 + k*0xBF58476D1CE4E5B9 + 0x94D049BB133111EB
	x ^= x >> 30
	x *= 0xBF58476D1CE4E5B9
	x ^= x >> 27
	x *= 0x94D049BB133111EB
	x ^= x >> 31
	return float64((float64(x>>11) + 0.5) / (1 << 53))
}

// smoothed returns a point whose normal is the mean over its neighbours among
// the points that face alike: one noisy facet must not tilt a whole trial pose.
func smoothed(p point, points []point, radius float64) point {
	sum := p.n
	for _, o := range points {
		if o.p.Sub(p.p).Norm2() < float64(radius*radius) && o.n.Dot(p.n) > cosPair {
			sum = sum.Add(o.n)
		}
	}
	p.n = sum.Unit()
	return p
}
