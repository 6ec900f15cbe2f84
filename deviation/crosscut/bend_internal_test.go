package crosscut

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// A bend of 6 mm between two straights reads 6 mm however far past its ends the stretch is asked to reach.
func TestTheStraightsBesideABendAreNotOfIt(t *testing.T) {
	const r, step = 6.0, 0.5
	in, runs := 0, 0
	for _, within := range []float64{4, 5, 6, 8, 10, 12, 20} {
		for seed := range uint64(10) {
			noise := rand.New(rand.NewPCG(seed, 5))
			off := func() float64 { return 0.02 * noise.NormFloat64() }
			var c Curve
			for s := -40.0; s < 0; s += step {
				c.Points = append(c.Points, Point2{s, r + off()})
			}
			for a := math.Pi / 2; a > 0; a -= step / r {
				d := r + off()
				c.Points = append(c.Points, Point2{d * math.Cos(a), d * math.Sin(a)})
			}
			for s := 0.0; s > -40; s -= step {
				c.Points = append(c.Points, Point2{r + off(), s})
			}
			at := Point2{r / math.Sqrt2, r / math.Sqrt2}
			v, _, why := radius([]Curve{c}, at, within, leastPlaces)
			require.True(t, v.OK, why)
			require.InDelta(t, r, v.V, 0.6, "within %v, seed %d", within, seed)
			runs++
			if math.Abs(v.V-r) <= v.U {
				in++
			}
		}
	}
	require.GreaterOrEqual(t, in, runs*85/100)
}
