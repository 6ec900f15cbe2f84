package surface

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// cosSharp: where a corner's normal is more than 20 degrees from its facet, the
// facet stands beside an edge and not for a piece of a curved skin.
const cosSharp = 0.93969262

// Skin is the curved surface that a mesh's flat facets stand for, as far as the
// normals at their corners tell. Goroutines may share it.
type Skin struct {
	s       *Surface
	normals []geom.Vec // unit, per vertex
}

// Skin returns the mesh's curved skin. It is made once, on the first question.
//
// The corners' normals are exact for vertices on a sphere and better than area
// or angle weights on any curved skin. Based on: Max, "Weights for computing
// vertex normals from facet normals" (1999).
func (s *Surface) Skin(threads int) *Skin {
	s.skinned.Do(func() {
		k := &Skin{s: s, normals: pages.Make[geom.Vec](len(s.Mesh.Vertices))}
		// The loop is short and its result kept, so it is not broken off.
		_ = parallel.Chunks(context.Background(), len(k.normals), vertexRun, threads, nil, func(_, _, lo, hi int) {
			for v := lo; v < hi; v++ {
				k.normals[v] = s.curvedNormal(uint32(v))
			}
		})
		s.skin = k
	})
	return s.skin
}

// Mesh returns the mesh of facets.
func (k *Skin) Mesh() *mesh.Mesh { return k.s.Mesh }

func (s *Surface) curvedNormal(v uint32) geom.Vec {
	var sum geom.Vec
	at := s.Mesh.Vertices[v]
	for _, g := range s.fans.of(v) {
		t := s.Mesh.Faces[g]
		var next, last geom.Vec
		switch v {
		case t[0]:
			next, last = s.Mesh.Vertices[t[1]], s.Mesh.Vertices[t[2]]
		case t[1]:
			next, last = s.Mesh.Vertices[t[2]], s.Mesh.Vertices[t[0]]
		default:
			next, last = s.Mesh.Vertices[t[0]], s.Mesh.Vertices[t[1]]
		}
		e, f := next.Sub(at), last.Sub(at)
		if w := float64(e.Norm2() * f.Norm2()); w > 0 {
			sum = sum.AddScaled(1/w, e.Cross(f))
		}
	}
	return sum.Unit()
}

// At returns how far the curved skin rises over a point q of a facet, mm along
// the facet's normal (negative: it sinks), and the skin's unit normal there.
// smooth is false for a facet beside an edge or without area, which is taken as
// it is: the rise is 0 and the normal the facet's, zero for one without area.
//
// Along an edge the skin rises as the cubic does whose slopes at both ends are
// those that the corners' normals ask for (Vlachos, Peters, Boyd & Mitchell,
// "Curved PN triangles", 2001): on a circle that is the sag h²/8R of its chord.
// Where the two ends disagree, the lesser counts: where a flat meets a fillet only one end's
// normal tilts, and the cubic would stand off the flat. An end on an
// open border, where half of the surface that would tilt its normal is missing, does
// not count beside one that is not, and of two such ends the greater counts.
func (k *Skin) At(face uint32, q geom.Vec) (rise float64, normal geom.Vec, smooth bool) {
	o := k.over(face, q)
	return o.rise, o.normal, o.smooth
}

// On carries a point q of a facet onto the curved skin and returns the skin's unit normal there, as [Skin.At] says, and by how
// much more, mm, the skin may rise there: what the greater end of each edge asks for beyond what was taken.
func (k *Skin) On(face uint32, q geom.Vec) (at, normal geom.Vec, left float64) {
	o := k.over(face, q)
	if !o.smooth {
		return q, o.normal, 0
	}
	return q.AddScaled(o.rise, o.facet), o.normal, max(o.most-math.Abs(o.rise), 0)
}

// AtMost returns how far a curved skin may lie from a point q of a facet, mm: as
// At, but of two ends of an edge the greater counts, so that a bend that the
// facets next to it cut across is not missed. smooth is false as for At.
func (k *Skin) AtMost(face uint32, q geom.Vec) (rise float64, smooth bool) {
	o := k.over(face, q)
	return o.most, o.smooth
}

// Unsure returns how far the curved skin may lie from where [Skin.At] has it over a point q of a facet, mm: what the greater end of each
// edge asks for beyond what was taken, and all that an edge asks for whose ends both lie on an open border, which nothing within the
// surface confirms. smooth is false as for At.
func (k *Skin) Unsure(face uint32, q geom.Vec) (mm float64, smooth bool) {
	o := k.over(face, q)
	return math.Abs(o.most-math.Abs(o.rise)) + o.open, o.smooth
}

// overFacet is what a facet's corners say of the skin over a point of it.
type overFacet struct {
	rise, most    float64 // mm, what is taken and what the greater ends ask for
	open          float64 // mm, what edges along open borders ask for, without regard to the sign
	facet, normal geom.Vec
	smooth        bool
}

// over sums what the three edges say of the skin over a point of a facet.
func (k *Skin) over(face uint32, q geom.Vec) (o overFacet) {
	m := k.s.Mesh
	t := &m.Faces[face]
	a, b, c := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
	ab, bc, ca := b.Sub(a), c.Sub(b), a.Sub(c)
	n2 := ab.Cross(c.Sub(a))
	l2 := n2.Norm2()
	if !(l2 > 0) {
		return o
	}
	o.facet = n2.Scale(1 / math.Sqrt(l2))
	na, nb, nc := k.normals[t[0]], k.normals[t[1]], k.normals[t[2]]
	if na.Dot(o.facet) < cosSharp || nb.Dot(o.facet) < cosSharp || nc.Dot(o.facet) < cosSharp {
		o.normal = o.facet
		return o
	}
	o.smooth = true
	wa := bc.Cross(q.Sub(b)).Dot(n2) / l2
	wb := ca.Cross(q.Sub(c)).Dot(n2) / l2
	wc := 1 - wa - wb
	o.normal = na.Scale(wa).AddScaled(wb, nb).AddScaled(wc, nc).Unit()
	rim := k.s.fans.rim
	ra, rb, rc := rim[t[0]], rim[t[1]], rim[t[2]]
	o.edge(-ab.Dot(na), ab.Dot(nb), ra, rb, wa, wb)
	o.edge(-bc.Dot(nb), bc.Dot(nc), rb, rc, wb, wc)
	o.edge(-ca.Dot(nc), ca.Dot(na), rc, ra, wc, wa)
	o.most = math.Abs(o.most)
	return o
}

// edge adds what an edge says: its cubic, and the greater of its ends without regard to the lesser and to the sign.
func (o *overFacet) edge(atA, atB float64, rimA, rimB bool, wa, wb float64) {
	o.rise += edgeRise(atA, atB, rimA, rimB, wa, wb)
	most := float64(float64(wa*wb) * max(math.Abs(atA), math.Abs(atB)))
	o.most += most
	if rimA && rimB {
		o.open += math.Abs(most)
	}
}

// endsAgree: ends whose slopes differ by more than this ratio, or in sign, lie
// on no common curve that a facet could stand for.
const endsAgree = 3

// edgeRise returns the part of an edge in the rise over the point with the
// barycentric coordinates wa and wb of its ends, mm; atA and atB are what the
// normals at its ends ask for, the edge's length times the slope there, mm.
func edgeRise(atA, atB float64, rimA, rimB bool, wa, wb float64) float64 {
	share := float64(wa * wb)
	lesser, greater := atA, atB
	if math.Abs(atA) > math.Abs(atB) {
		lesser, greater = atB, atA
	}
	switch {
	case rimA && rimB:
		return float64(share * greater)
	case rimA:
		return float64(share * atB)
	case rimB:
		return float64(share * atA)
	case float64(lesser*greater) <= 0:
		return 0
	case math.Abs(greater) > endsAgree*math.Abs(lesser):
		return float64(share * lesser)
	}
	rest := float64((1 - wa - wb) / 2) // a third corner's share goes to both ends alike
	return float64(share * (float64((wa+rest)*atA) + float64((wb+rest)*atB)))
}
