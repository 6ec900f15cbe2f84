package pieces

import (
	"math"

	"shutline/mesh/geom"
)

const (
	// feignedMargin: a direction that is held as much as noise feigns it, twice over, is not held: noise is not the same all over a piece.
	feignedMargin = 2.0
	// ownOfSecond is the share of a vertex's own noise in the variance of its height above the mean of some six neighbours.
	ownOfSecond = 6.0 / 7.0
	// roughShare: noise of so much of the spacing tilts faces by some 8 degrees, and a vertex's normal by as much; of those within
	// 25 degrees of one another the mean follows the vertex.
	roughShare = 0.07
)

// noise returns one standard deviation of the piece's points, mm, by how far they lie above the mean of their neighbours: of that bodywork's
// own curvature is little, and the median leaves edges out. Noise that neighbours share is not in it.
func (b *body) noise() float64 {
	beside := make([]geom.Vec, len(b.mesh.Vertices))
	count := make([]float64, len(b.mesh.Vertices))
	for _, f := range b.mesh.Faces {
		for k, v := range f {
			beside[v] = beside[v].Add(b.mesh.Vertices[f[(k+1)%3]]).Add(b.mesh.Vertices[f[(k+2)%3]])
			count[v] += 2
		}
	}
	var above []float64
	for _, v := range b.probes {
		above = append(above, math.Abs(b.mesh.Vertices[v].Sub(beside[v].Scale(1/count[v])).Dot(b.normals[v])))
	}
	return madScale * median(above) * math.Sqrt(ownOfSecond)
}

// feign returns how much noise of s mm holds the piece against a slide that its shape does not: the variance of one component of a smoothed
// normal. The mean normal of a disc is told by its rim alone, by 2πρ/h points over an area of πρ².
func (b *body) feign(s float64) float64 {
	r := b.smoothing()
	return float64(s*s) * 2 * b.spacing / (math.Pi * float64(r*r*r))
}
