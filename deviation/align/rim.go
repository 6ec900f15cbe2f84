package align

import (
	"math"
)

// crackWidth of the mean distance of vertices: two vertices on borders that lie nearer are the sides of a crack in
// the mesh, as a sharp edge has whose sides were meshed by themselves.
const crackWidth = 0.3

// rimOf tells which vertices lie on the scan's border. Going round a vertex, every neighbour is the next of one face and the last of
// another, but for those at the ends of an open fan; fan is the sum of the former less the latter. nil where none or nearly all do, as
// in a mesh whose faces share no vertices.
func (c *cloud) rimOf(fan []uint32) []bool {
	n := 0
	for _, f := range fan {
		if f != 0 {
			n++
		}
	}
	if n == 0 || n > len(fan)/2 {
		return nil
	}
	reach := crackWidth * math.Sqrt(c.total/float64(max(c.usable, 1)))
	if !(reach > 0) {
		return nil
	}
	at := make(map[[3]int32][]int32, n)
	for i, f := range fan {
		if f != 0 && c.area[i] > 0 {
			k := cellOf(c.mesh.Vertices[i], reach)
			at[k] = append(at[k], int32(i))
		}
	}
	rim := make([]bool, len(fan))
	for i, f := range fan {
		rim[i] = f != 0 && c.area[i] > 0 && !c.anyNear(at, i, reach)
	}
	return rim
}

// anyNear reports whether another of the vertices lies within reach.
func (c *cloud) anyNear(at map[[3]int32][]int32, i int, reach float64) bool {
	p := c.mesh.Vertices[i]
	k := cellOf(p, reach)
	for z := k[2] - 1; z <= k[2]+1; z++ {
		for y := k[1] - 1; y <= k[1]+1; y++ {
			for x := k[0] - 1; x <= k[0]+1; x++ {
				for _, j := range at[[3]int32{x, y, z}] {
					if int(j) != i && p.Sub(c.mesh.Vertices[j]).Norm2() < float64(reach*reach) {
						return true
					}
				}
			}
		}
	}
	return false
}

// withoutRim returns the weights without those of vertices on the scan's border: what is nearest to such a point depends on where
// the scan ends, and a pose that draws it in from the edge would seem to explain more.
func (c *cloud) withoutRim(of []float64) []float64 {
	if c.rim == nil {
		return of
	}
	out := make([]float64, len(of))
	for i, w := range of {
		if !c.rim[i] {
			out[i] = w
		}
	}
	return out
}
