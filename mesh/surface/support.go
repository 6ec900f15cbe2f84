package surface

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
)

// feature returns what a closest point lies on. A point that is a corner to
// the last bit counts as that corner, whichever way it was reached.
func (s *Surface) feature(a bvh.Answer) geom.Feature {
	if a.Feature == geom.OnFace || a.Feature >= geom.OnVertexA {
		return a.Feature
	}
	p, q, r := s.Mesh.Corners(a.Face)
	switch a.Point {
	case p:
		return geom.OnVertexA
	case q:
		return geom.OnVertexB
	case r:
		return geom.OnVertexC
	}
	return a.Feature
}

// support returns the unit pseudonormal at a hit and whether it lies on an open border.
func (s *Surface) support(h Hit) (normal geom.Vec, border bool) {
	if h.Feature == geom.OnFace {
		return s.Mesh.AreaNormal(h.Face).Unit(), false
	}
	sum := s.weighted(h.Face, h.Feature)
	if s.onRim(h.Face, h.Feature) {
		across, joined := s.acrossCrack(h)
		return sum.Add(across).Unit(), !joined
	}
	return sum.Unit(), false
}

// weighted returns the sum of the unit normals of the faces at a feature, each
// weighted by the angle it takes up around a point of the feature: its corner's
// angle at a vertex, pi along an edge, 2 pi inside a face.
//
// Based on: Bærentzen & Aanæs, "Signed distance computation using the angle
// weighted pseudonormal" (2005).
func (s *Surface) weighted(face uint32, feature geom.Feature) geom.Vec {
	m := s.Mesh
	if feature == geom.OnFace {
		return m.AreaNormal(face).Unit().Scale(2 * math.Pi)
	}
	sum := geom.Vec{}
	v, w, edge := corners(m.Faces[face], feature)
	for _, g := range s.fans.of(v) {
		t := m.Faces[g]
		if edge {
			if t[0] == w || t[1] == w || t[2] == w {
				sum = sum.AddScaled(math.Pi, m.AreaNormal(g).Unit())
			}
			continue
		}
		a, b, c := m.Corners(g)
		angle := mesh.CornerAngles(a, b, c)
		for k := range 3 {
			if t[k] == v {
				sum = sum.AddScaled(angle[k], m.AreaNormal(g).Unit())
			}
		}
	}
	return sum
}

// onRim reports whether a feature belongs to an edge with a single face.
func (s *Surface) onRim(face uint32, feature geom.Feature) bool {
	if feature == geom.OnFace {
		return false
	}
	v, w, edge := corners(s.Mesh.Faces[face], feature)
	if edge {
		return s.fans.rim[v] && s.fans.rim[w] && s.fans.sharing(s.Mesh, v, w) == 1
	}
	return s.fans.rim[v]
}

// corners returns the vertices of an edge, or the vertex of a corner twice.
func corners(t [3]uint32, feature geom.Feature) (v, w uint32, edge bool) {
	switch feature {
	case geom.OnEdgeAB:
		return t[0], t[1], true
	case geom.OnEdgeBC:
		return t[1], t[2], true
	case geom.OnEdgeCA:
		return t[2], t[0], true
	case geom.OnVertexB:
		return t[1], t[1], false
	case geom.OnVertexC:
		return t[2], t[2], false
	}
	return t[0], t[0], false
}
