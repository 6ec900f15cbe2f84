package closure

import (
	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// quiet in mm: about the radius that a skin is smoothed over before it is fitted. Facets of a scan lean by its noise
	// over their size, and a fit takes what leans for hold that is not there.
	quiet = 6.0
	// mostPasses there and back.
	mostPasses = 12
	// there and back: the second undoes what the first takes off shapes larger than some eight facets.
	there, back = 0.5, -0.53
)

// quieted returns a skin, whose edges are so long on average, smoothed without shrinking; its borders stay.
//
// Based on: Taubin, "A signal processing approach to fair surface design" (1995).
func quieted(m *mesh.Mesh, edge float64) *mesh.Mesh {
	n := len(m.Vertices)
	next := make([]geom.Vec, n)
	count := make([]float64, n)
	border := make([]bool, n)
	out := &mesh.Mesh{Vertices: append([]geom.Vec{}, m.Vertices...), Faces: m.Faces}
	ids := make([]int64, n)
	for _, t := range m.Faces {
		for k, v := range t {
			ids[v] += int64(t[(k+1)%3]) - int64(t[(k+2)%3])
		}
	}
	for v := range border {
		border[v] = ids[v] != 0 // the fan's first and last neighbour differ
	}
	for range passesFor(edge) {
		for _, share := range [2]float64{there, back} {
			clear(next)
			clear(count)
			for _, t := range m.Faces {
				for k, v := range t {
					// Around a closed fan every neighbour comes once as the next corner.
					next[v] = next[v].Add(out.Vertices[t[(k+1)%3]])
					count[v]++
				}
			}
			for v := range out.Vertices {
				if !border[v] && count[v] > 0 {
					out.Vertices[v] = out.Vertices[v].Lerp(next[v].Scale(1/count[v]), share)
				}
			}
		}
	}
	return out
}

// passesFor returns how often a skin is smoothed; not at all where its facets are so large that they lean by little.
func passesFor(edge float64) int { return min(int(quiet/edge*quiet/edge/2), mostPasses) }
