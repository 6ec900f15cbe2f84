package crosscut

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Curves that no scan should have end in a value within U or in words, never in a panic or a number that is none.
func TestOddCurves(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	ring := Curve{Closed: true}
	for k := range 200 {
		a := 2 * math.Pi * float64(k) / 200
		ring.Points = append(ring.Points, Point2{7 * math.Cos(a), 7 * math.Sin(a)})
	}
	v, _, why := radius([]Curve{ring}, Point2{7, 0}, 50, leastPlaces)
	require.True(t, v.OK, why)
	require.InDelta(t, 7, v.V, 1e-3, "the whole way round")
	v, _, why = radius([]Curve{ring}, Point2{7, 0}, 4, leastPlaces)
	require.True(t, v.OK, why)
	require.InDelta(t, 7, v.V, v.U)

	one := func(n int, at func(k int) Point2) Curve {
		c := Curve{}
		for k := range n {
			c.Points = append(c.Points, at(k))
		}
		return c
	}
	for name, c := range map[string]Curve{
		"one place many times": one(50, func(int) Point2 { return Point2{1, 1} }),
		"two places in turn":   one(50, func(k int) Point2 { return Point2{float64(k % 2), 0} }),
		"back and forth":       one(60, func(k int) Point2 { return Point2{math.Abs(float64(k - 30)), 0} }),
		"a spike":              one(41, func(k int) Point2 { return Point2{float64(k) / 10, math.Max(0, 5-math.Abs(float64(k-20))*5)} }),
		"a cloud":              one(60, func(int) Point2 { return Point2{r.NormFloat64(), r.NormFloat64()} }),
		"a step":               one(40, func(k int) Point2 { return Point2{float64(k), float64(k / 20 * 5)} }),
		"a spiral": one(120, func(k int) Point2 {
			s, c := math.Sincos(float64(k) / 10)
			return Point2{float64(k) / 60 * c, float64(k) / 60 * s}
		}),
		"a zigzag":    one(80, func(k int) Point2 { return Point2{float64(k) / 4, float64(k%2) * 3} }),
		"very small":  one(20, func(k int) Point2 { return Point2{float64(k) * 1e-9, float64(k*k) * 1e-12} }),
		"far away":    one(30, func(k int) Point2 { return Point2{1e8 + float64(k), 1e8 + float64(k*k)/100} }),
		"four places": one(4, func(k int) Point2 { return Point2{float64(k), float64(k * k)} }),
	} {
		for _, at := range []int{0, len(c.Points) / 2} {
			for _, within := range []float64{1e-9, 3, 1000} {
				v, centre, why := radius([]Curve{c}, c.Points[at], within, leastDrawn)
				require.Equal(t, v.OK, why == "", "%s: %v %q", name, v, why)
				for _, x := range []float64{v.V, v.U, centre.H, centre.V} {
					require.False(t, v.OK && (math.IsNaN(x) || math.IsInf(x, 0)), "%s: %v about %v", name, v, centre)
				}
				v, why = angle([]Curve{c}, [2]Point2{c.Points[at], c.Points[len(c.Points)/3]}, within, leastDrawn)
				require.Equal(t, v.OK, why == "", "%s: %v %q", name, v, why)
				require.False(t, v.OK && (math.IsNaN(v.V) || math.IsNaN(v.U) || math.IsInf(v.U, 0)), "%s: %v", name, v)
			}
		}
	}
}
