package align

import (
	"context"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const leverageProbe = 8000

// leverageWeights returns a sampling weight per scan vertex, as a sample by area shows it: half by area, half
// by area times leverage jᵀ(mean j jᵀ)⁻¹j over its mean of 6. Rollovers, wheel
// arches and character lines, which alone hold a smooth skin against sliding,
// have a high leverage and so are well represented in any sample.
//
// In the spirit of: Gelfand, Ikemoto, Rusinkiewicz & Levoy, "Geometrically
// stable sampling for the ICP algorithm" (2003).
func (c *cloud) leverageWeights(points []point, threads int) []float64 {
	if c.normals == nil {
		return c.area
	}
	box := geom.EmptyBox()
	for _, p := range points {
		box = box.Extend(p.p)
	}
	centre, lever := box.Center(), box.Diagonal()/2
	if !(lever > 0) {
		return c.area
	}
	var a sym6
	for _, p := range points {
		j := jacobian(p.p, p.n, centre, lever)
		a.addOuter(1/float64(len(points)), &j)
	}
	a.mirror()
	values, vectors := eigen6(&a)
	for k := range vectors {
		// Directions held by nothing but noise in the normals must not draw the whole sample.
		scale := 1 / math.Sqrt(max(values[k], leverageFloor*values[5]))
		for i := range 6 {
			vectors[k][i] *= scale
		}
	}
	out := make([]float64, len(c.area))
	_ = parallel.Chunks(context.Background(), len(out), pairRun, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			area := c.area[i]
			if area <= 0 {
				continue
			}
			j := jacobian(c.mesh.Vertices[i], c.normals[i], centre, lever)
			l := 0.0
			for k := range vectors {
				d := dot6(&vectors[k], &j)
				l += float64(d * d)
			}
			out[i] = area * (0.5 + 0.5*l/6)
		}
	})
	return out
}

// leverageFloor is the square of a normal's noise of 2 degrees.
const leverageFloor = 1.2e-3
