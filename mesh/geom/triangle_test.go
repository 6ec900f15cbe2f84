package geom

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// bigVec computes with 300 bits, so that no rounding matters.
type bigVec [3]*big.Float

func bigOf(x float64) *big.Float { return new(big.Float).SetPrec(300).SetFloat64(x) }

func bigVecOf(v Vec) bigVec { return bigVec{bigOf(v.X), bigOf(v.Y), bigOf(v.Z)} }

func (a bigVec) plus(s *big.Float, b bigVec) (r bigVec) {
	for k := range r {
		r[k] = bigOf(0)
		r[k].Add(a[k], r[k].Mul(s, b[k]))
	}
	return r
}

func (a bigVec) minus(b bigVec) bigVec { return a.plus(bigOf(-1), b) }

func (a bigVec) dot(b bigVec) *big.Float {
	s := bigOf(0)
	for k := range a {
		s.Add(s, bigOf(0).Mul(a[k], b[k]))
	}
	return s
}

// exactDistance is the distance of p from a triangle by another way than the
// code's: the smallest of the three sides' and, where the foot lies inside by
// its barycentric coordinates, the plane's.
func exactDistance(p, a, b, c Vec) float64 {
	bp, ba, bb, bc := bigVecOf(p), bigVecOf(a), bigVecOf(b), bigVecOf(c)
	best := bigOf(math.Inf(1))
	try := func(q bigVec) {
		if d := q.minus(bp).dot(q.minus(bp)); d.Cmp(best) < 0 {
			best = d
		}
	}
	side := func(s, t bigVec) {
		e := t.minus(s)
		try(s)
		if l := e.dot(e); l.Sign() > 0 {
			u := bigOf(0).Quo(bp.minus(s).dot(e), l)
			if u.Sign() > 0 && u.Cmp(bigOf(1)) < 0 {
				try(s.plus(u, e))
			}
		}
	}
	side(ba, bb)
	side(bb, bc)
	side(bc, ba)
	e, f, g := bb.minus(ba), bc.minus(ba), bp.minus(ba)
	cross := func(s, t, u, v *big.Float) *big.Float {
		return bigOf(0).Sub(bigOf(0).Mul(s, t), bigOf(0).Mul(u, v))
	}
	ee, ef, ff := e.dot(e), e.dot(f), f.dot(f)
	if den := cross(ee, ff, ef, ef); den.Sign() > 0 {
		v := bigOf(0).Quo(cross(ff, g.dot(e), ef, g.dot(f)), den)
		w := bigOf(0).Quo(cross(ee, g.dot(f), ef, g.dot(e)), den)
		if v.Sign() >= 0 && w.Sign() >= 0 && bigOf(0).Add(v, w).Cmp(bigOf(1)) <= 0 {
			try(ba.plus(v, e).plus(w, f))
		}
	}
	d, _ := bigOf(0).Sqrt(best).Float64()
	return d
}

// Triangles with a side of 100 mm and every height down to 1e-10 mm give the
// distance to a few roundings of coordinates of some 1000 mm (an ulp: 2.3e-13),
// and the point lies where the feature says.
func TestClosestOnTrianglesOfAnyShape(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, height := range []float64{80, 12, 9, 1, 1e-2, 1e-4, 1e-6, 1e-8, 1e-10, 0} {
		for range 500 {
			g := RotationVector(Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()})
			g.T = Vec{500 * r.NormFloat64(), 500 * r.NormFloat64(), 500 * r.NormFloat64()}
			corner := []Vec{g.Apply(Vec{}), g.Apply(Vec{X: 100}), g.Apply(Vec{X: 140*r.Float64() - 20, Y: height})}
			r.Shuffle(3, func(i, j int) { corner[i], corner[j] = corner[j], corner[i] })
			a, b, c := corner[0], corner[1], corner[2]
			off := []float64{0, 1e-3, 1, 50}[r.IntN(4)]
			p := g.Apply(Vec{140*r.Float64() - 20, height * (2*r.Float64() - 0.5), off * r.NormFloat64()})
			q, f := ClosestOnTriangle(p, a, b, c)
			require.InDelta(t, exactDistance(p, a, b, c), q.Dist(p), 2e-12, "height %v", height)
			for k, corner := range corner {
				require.False(t, f == OnVertexA+Feature(k) && q != corner, "a corner is returned as it is")
			}
		}
	}
}

func TestClosestOnTriangleNamesTheFeature(t *testing.T) {
	a, b, c := Vec{}, Vec{X: 4}, Vec{Y: 4}
	for p, want := range map[Vec]Feature{
		{1, 1, 3}: OnFace, {2, -1, 1}: OnEdgeAB, {3, 3, 1}: OnEdgeBC, {-1, 2, 1}: OnEdgeCA,
		{-1, -1, 1}: OnVertexA, {9, -1, 1}: OnVertexB, {-1, 9, 1}: OnVertexC,
	} {
		_, f := ClosestOnTriangle(p, a, b, c)
		require.Equal(t, want, f, "%v", p)
		// The same triangle pressed flat to a thin one.
		thin := func(v Vec) Vec { return Vec{v.X, v.Y / 100, v.Z} }
		_, f = ClosestOnTriangle(thin(p), thin(a), thin(b), thin(c))
		if want != OnEdgeBC { // pressing moves the region of this side
			require.Equal(t, want, f, "%v, thin", p)
		}
	}
	// Degenerate: a point, and segments.
	q, f := ClosestOnTriangle(Vec{1, 2, 3}, a, a, a)
	require.Equal(t, a, q)
	require.Equal(t, OnVertexA, f)
	q, _ = ClosestOnTriangle(Vec{1, 2, 3}, a, b, a)
	require.Equal(t, Vec{X: 1}, q)
	q, _ = ClosestOnTriangle(Vec{1, 2, 3}, a, b, b)
	require.Equal(t, Vec{X: 1}, q)
}
