package align

import (
	"math"

	"shutline/mesh/geom"
)

const (
	normalPool       = 40000 // points of a scan without normals that are kept and given one
	normalNeighbours = 12    // fewer leave the plane's tilt to noise
)

// estimateNormals gives a scan that has neither faces nor normals unsigned
// ones: the direction of least scatter among the neighbours of each point. Only
// a sample keeps a weight; the rest of the scan is left out of the fit.
func (c *cloud) estimateNormals() {
	if c.normals != nil || c.usable == 0 {
		return
	}
	picked := newWeights(c.area).draw(normalPool, seedAnchors)
	box := geom.EmptyBox()
	for _, i := range picked {
		box = box.Extend(c.mesh.Vertices[i])
	}
	// A sheet of points fills about the square of its box's diagonal over three;
	// cells of this size then hold about a dozen points.
	cell := max(box.Diagonal()*math.Sqrt(normalNeighbours/3.0/float64(len(picked))), math.SmallestNonzeroFloat64)
	key := func(p geom.Vec) [3]int32 { return cellOf(p.Sub(box.Lo), cell) }
	cells := map[[3]int32][]int32{}
	for _, i := range picked {
		k := key(c.mesh.Vertices[i])
		cells[k] = append(cells[k], i)
	}
	c.normals = make([]geom.Vec, len(c.area))
	area := make([]float64, len(c.area))
	c.usable, c.total = 0, 0
	for _, i := range picked {
		p := c.mesh.Vertices[i]
		near := c.neighbours(p, cell, cells, key(p))
		if len(near) < normalNeighbours {
			continue
		}
		if values, axes := principalAxes(near); values[1] > collinearShare*values[2] {
			c.normals[i], area[i] = axes[0], 1
			c.usable++
			c.total++
		}
	}
	c.area = area
}

func (c *cloud) neighbours(p geom.Vec, radius float64, cells map[[3]int32][]int32, k [3]int32) []geom.Vec {
	var near []geom.Vec
	for z := k[2] - 1; z <= k[2]+1; z++ {
		for y := k[1] - 1; y <= k[1]+1; y++ {
			for x := k[0] - 1; x <= k[0]+1; x++ {
				for _, i := range cells[[3]int32{x, y, z}] {
					if q := c.mesh.Vertices[i]; q.Dist(p) < radius {
						near = append(near, q)
					}
				}
			}
		}
	}
	return near
}
