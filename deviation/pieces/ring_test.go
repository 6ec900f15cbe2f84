package pieces

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// ring is a closed body by formula: a rounded box 1400 by 1000 mm in plan and 600 mm high whose skin
// has swages and dimples, so that it holds all six motions everywhere.
type ring struct{ spacing float64 }

const ringHeight = 600.0

// at returns a place of the skin at a share of the way round and a height.
func (r ring) at(share, z float64) geom.Vec {
	s, c := geom.Sincos(2 * math.Pi * share)
	// A superellipse of exponent 4, by its polar radius.
	a, b := c/700, s/500
	radius := 1 / math.Sqrt(math.Sqrt(a*a*a*a+b*b*b*b))
	s1, _ := geom.Sincos(2 * math.Pi * share * 23)
	s2, _ := geom.Sincos(z / 37)
	s3, _ := geom.Sincos(2*math.Pi*share*11 + z/90)
	radius += 3*s1*s2 + 4*s3 - z*z/4000
	return geom.Vec{X: radius * c, Y: radius * s, Z: z}
}

// piece returns the skin between two shares of the way round, its samples strewn and noisy by the seed.
func (r ring) piece(from, to, noise float64, seed uint64) *mesh.Mesh {
	const round = 4100.0
	n := int((to - from) * round / r.spacing)
	rows := int(ringHeight / r.spacing)
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for k := range rows + 1 {
			jx, jz := unitOf(seed, uint64(2*(i*(rows+1)+k))), unitOf(seed, uint64(2*(i*(rows+1)+k)+1))
			share := from + (to-from)*(float64(i)+0.5*(jx-0.5))/float64(n)
			m.Vertices = append(m.Vertices, r.at(share, ringHeight*(float64(k)+0.5*(jz-0.5))/float64(rows)))
		}
	}
	w := uint32(rows + 1)
	for i := range uint32(n) {
		for k := range uint32(rows) {
			a, b, c, d := i*w+k, (i+1)*w+k, (i+1)*w+k+1, i*w+k+1
			m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
		}
	}
	if noise > 0 {
		m = bodywork.WithNoise(m, noise, seed)
	}
	return m
}

// loop returns n pieces round the ring, each beginning before the last one ends, thrown off by up to
// a few millimetres and degrees, and the motions that put them right: of the first piece's frame.
func (r ring) loop(n int, overlap, noise float64, seed uint64) (all []Piece, firstFromPiece []geom.Rigid) {
	var trueFromPiece []geom.Rigid
	for k := range n {
		from := float64(k) / float64(n)
		m := r.piece(from, from+1/float64(n)+overlap, noise, seed*100+uint64(k))
		x := vec6{}
		for i := range x {
			x[i] = 6 * (unitOf(seed, uint64(10*k+i)) - 0.5)
			if i >= 3 {
				x[i] /= 1000
			}
		}
		pieceFromTrue := moved(geom.Identity(), &x, m.Bounds().Center())
		all = append(all, Piece{Name: string(rune('a' + k)), Mesh: m.Moved(pieceFromTrue)})
		trueFromPiece = append(trueFromPiece, pieceFromTrue.Inverse())
	}
	for k := range trueFromPiece {
		firstFromPiece = append(firstFromPiece, trueFromPiece[0].Inverse().After(trueFromPiece[k]))
	}
	return all, firstFromPiece
}
