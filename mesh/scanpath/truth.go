package scanpath

import (
	"math"

	"shutline/mesh/geom"
)

// Overlap is what two pieces both see.
type Overlap struct {
	A, B   int
	Places [][2]Place // the same points of the body, as A and as B have them, every truthStep mm
	// BFromA carries A onto B with the least sum of squares over the places, both without noise;
	// RMS and Worst (mm) are what it leaves: the two carry different shape by that.
	BFromA     geom.Rigid
	RMS, Worst float64
}

// truthStep is the distance between the places that truths are taken at, mm. Motions change over half a metre.
const truthStep = 25.0

// Overlaps returns what each two pieces both see, in order.
func (s *Scan) Overlaps() []Overlap {
	var out []Overlap
	for a := range s.Pieces {
		for b := a + 1; b < len(s.Pieces); b++ {
			v := Overlap{A: a, B: b, Places: s.shared(a, b)}
			if len(v.Places) < 3 {
				continue
			}
			v.BFromA, v.RMS, v.Worst = s.fit(a, b, v.Places)
			out = append(out, v)
		}
	}
	return out
}

// Closing is where a scan runs over itself after a long way.
type Closing struct {
	Piece  int
	Places [][2]Place // the same points of the body, as the beginning and as the end of the path have them
	Centre geom.Vec   // mean of the places on the end's skin, in the piece's frame
	// StartFromEnd carries the end's skin onto the beginning's with the least sum of squares, both
	// without noise; RMS (mm) is what it leaves.
	StartFromEnd geom.Rigid
	RMS, Worst   float64
	Shift        geom.Vec // StartFromEnd at Centre, mm
	Turn         geom.Vec // its rotation vector, radians
	Travel       float64  // mm of the path between the two looks, the mean
}

// Closings returns where the pieces run over themselves: where the path comes back to its start, then along the
// middle of the roof.
func (s *Scan) Closings() []Closing {
	var out []Closing
	for i := range s.Pieces {
		p := &s.Pieces[i]
		var wall, roof [][2]Place
		for _, at := range s.places(i) {
			to := at
			switch at.Sheet {
			case Wall:
				to.U += Round
			case RoofLeft:
				to.Sheet = RoofRight
			default:
				continue
			}
			if _, ok := s.Carried(i, to); !ok {
				continue
			}
			if p.travel(to) < p.travel(at) {
				at, to = to, at
			}
			if at.Sheet == Wall {
				wall = append(wall, [2]Place{at, to})
			} else {
				roof = append(roof, [2]Place{at, to})
			}
		}
		for _, places := range [2][][2]Place{wall, roof} {
			if len(places) < 3 {
				continue
			}
			c := Closing{Piece: i, Places: places}
			var endFromStart geom.Rigid
			endFromStart, c.RMS, c.Worst = s.fit(i, i, places)
			c.StartFromEnd = endFromStart.Inverse()
			for _, pair := range places {
				q, _ := s.Carried(i, pair[1])
				c.Centre = c.Centre.AddScaled(1/float64(len(places)), q)
				c.Travel += math.Abs(p.travel(pair[1])-p.travel(pair[0])) / float64(len(places))
			}
			c.Shift = c.StartFromEnd.Apply(c.Centre).Sub(c.Centre)
			c.Turn = rotationVector(c.StartFromEnd)
			out = append(out, c)
		}
	}
	return out
}

// travel returns s of the path at a place, on average.
func (p *Piece) travel(at Place) float64 {
	seen, n := p.Path.sights(at)
	s := 0.0
	for i := range n {
		s += float64(seen[i].Weight * seen[i].S)
	}
	return s
}

// places returns places that a piece sees, every truthStep.
func (s *Scan) places(piece int) []Place {
	p := &s.Pieces[piece]
	var out []Place
	add := func(at Place) {
		if _, ok := s.Carried(piece, at); ok {
			out = append(out, at)
		}
	}
	// A whole number of steps a round, so that U and U+Round both are places.
	n := math.Ceil(Round / truthStep)
	step := Round / n
	for i := math.Ceil(p.Path.From / step); i <= math.Floor(p.Path.To/step); i++ {
		for v := truthStep / 2; v < WallTop; v += truthStep {
			add(Place{Wall, float64(i * step), v})
		}
	}
	for _, sheet := range [2]Sheet{RoofLeft, RoofRight} {
		for x := truthStep / 2; x < Length; x += truthStep {
			for y := truthStep/2 - Width/2; y < Width/2; y += truthStep {
				add(Place{sheet, x, y})
			}
		}
	}
	return out
}

// shared returns the places that two pieces both see.
func (s *Scan) shared(a, b int) [][2]Place {
	var out [][2]Place
	for _, at := range s.places(a) {
		others := []Place{at, {at.Sheet, at.U + Round, at.V}, {at.Sheet, at.U - Round, at.V}}
		if at.Sheet != Wall {
			others = []Place{{RoofLeft, at.U, at.V}, {RoofRight, at.U, at.V}}
		}
		for _, to := range others {
			if _, ok := s.Carried(b, to); ok {
				out = append(out, [2]Place{at, to})
			}
		}
	}
	return out
}

// fit returns the motion that carries piece a onto b with the least sum of squares over places, and what it leaves.
func (s *Scan) fit(a, b int, places [][2]Place) (bFromA geom.Rigid, rms, worst float64) {
	from, to := make([]geom.Vec, len(places)), make([]geom.Vec, len(places))
	for i, pair := range places {
		from[i], _ = s.Carried(a, pair[0])
		to[i], _ = s.Carried(b, pair[1])
	}
	bFromA = motionBetween(from, to, s.Pieces[b].PieceFromReference.After(s.Pieces[a].PieceFromReference.Inverse()))
	for i := range from {
		d := bFromA.Apply(from[i]).Dist(to[i])
		rms += float64(d * d)
		worst = max(worst, d)
	}
	return bFromA, math.Sqrt(rms / float64(len(from))), worst
}

// motionBetween returns the rigid motion with the least sum of squares from one list of points onto another, from
// a start that lies within some tenths of a radian of it (Gauss-Newton).
func motionBetween(from, to []geom.Vec, start geom.Rigid) geom.Rigid {
	g := start
	n := 1 / float64(len(from))
	for range 30 {
		moved := make([]geom.Vec, len(from))
		var p, q geom.Vec
		for i := range from {
			moved[i] = g.Apply(from[i])
			p, q = p.AddScaled(n, moved[i]), q.AddScaled(n, to[i])
		}
		// About the means the shift drops out: what is left is (Σ |r|² 1 - r rᵀ) w = Σ r × e.
		var m geom.Mat3
		var right geom.Vec
		for i := range moved {
			r, e := moved[i].Sub(p), to[i].Sub(q)
			right = right.Add(r.Cross(e))
			d := r.Norm2()
			for j := range 3 {
				m[j][j] += d
				for k := range 3 {
					m[j][k] -= float64(r.At(j) * r.At(k))
				}
			}
		}
		w := solve3(m, right)
		turn := geom.RotationVector(w)
		turn.T = q.Sub(turn.ApplyDir(p))
		g = turn.After(g).Orthonormal()
		if w.Norm() < 1e-15 {
			break
		}
	}
	return g
}

// solve3 solves m x = b by Cramer's rule; the zero vector where m has no inverse.
func solve3(m geom.Mat3, b geom.Vec) geom.Vec {
	d := m.Det()
	if d == 0 {
		return geom.Vec{}
	}
	var x [3]float64
	for k := range 3 {
		n := m
		n[0][k], n[1][k], n[2][k] = b.X, b.Y, b.Z
		x[k] = n.Det() / d
	}
	return geom.Vec{X: x[0], Y: x[1], Z: x[2]}
}
