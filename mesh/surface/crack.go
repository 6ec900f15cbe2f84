package surface

import (
	"cmp"
	"slices"

	"shutline/mesh/geom"
)

// CrackWidth is the widest crack between two patches, in mm, that counts as
// joined (definitions.md: CAD references are often tessellated patch by patch,
// with chord errors of a few hundredths of a millimetre along their seams).
const CrackWidth = 0.05

// acrossCrack looks for other faces within CrackWidth of a point on a border.
// Another face is one that is not connected to the point's own face inside
// that distance, by a vertex or edge that lies in it: so the next triangles of
// the same patch do not count however small they are, and two patches that
// meet somewhere else do. It returns the weighted normals of what lies across:
// of every further connected piece, those of its feature closest to the point,
// so that a crack gives the pseudonormal that the joined surface would have there.
func (s *Surface) acrossCrack(h Hit) (sum geom.Vec, joined bool) {
	around := geom.Box{Lo: h.Point, Hi: h.Point}.Grow(CrackWidth)
	var near []crackFace
	s.tree.FacesIn(around, func(face uint32) {
		a, b, c := s.Mesh.Corners(face)
		q, feature := geom.ClosestOnTriangle(h.Point, a, b, c)
		if d := q.Dist(h.Point); d <= CrackWidth {
			near = append(near, crackFace{face: face, feature: feature, dist: d, piece: -1})
		}
	})
	s.labelPieces(near, h.Point)
	own := -1
	for i := range near {
		if near[i].face == h.Face {
			own = near[i].piece
		}
	}
	// Pieces are numbered in the order of their lowest face, which fixes the order of the sum.
	for piece := range near {
		best := -1
		for i, f := range near {
			if f.piece != piece || piece == own {
				continue
			}
			if best < 0 || f.dist < near[best].dist {
				best = i
			}
		}
		if best >= 0 {
			sum, joined = sum.Add(s.weighted(near[best].face, near[best].feature)), true
		}
	}
	return sum, joined
}

type crackFace struct {
	face    uint32
	feature geom.Feature
	dist    float64
	piece   int
}

// labelPieces sorts faces by index and numbers the pieces they form around q.
func (s *Surface) labelPieces(near []crackFace, q geom.Vec) {
	slices.SortFunc(near, func(a, b crackFace) int { return cmp.Compare(a.face, b.face) })
	pieces := 0
	for i := range near {
		if near[i].piece >= 0 {
			continue
		}
		near[i].piece = pieces
		stack := []int{i}
		for len(stack) > 0 {
			t := s.Mesh.Faces[near[stack[len(stack)-1]].face]
			stack = stack[:len(stack)-1]
			for j := range near {
				if near[j].piece < 0 && s.meetNear(t, s.Mesh.Faces[near[j].face], q) {
					near[j].piece = pieces
					stack = append(stack, j)
				}
			}
		}
		pieces++
	}
}

// meetNear reports whether two faces share a vertex or edge within CrackWidth of q.
func (s *Surface) meetNear(a, b [3]uint32, q geom.Vec) bool {
	var common [3]geom.Vec
	n := 0
	for _, v := range a {
		if v == b[0] || v == b[1] || v == b[2] {
			common[n] = s.Mesh.Vertices[v]
			n++
		}
	}
	if n == 0 {
		return false
	}
	// With one or two corners in common this is the closest point of a point or segment.
	for k := n; k < 3; k++ {
		common[k] = common[n-1]
	}
	c, _ := geom.ClosestOnTriangle(q, common[0], common[1], common[2])
	return c.Dist(q) <= CrackWidth
}
