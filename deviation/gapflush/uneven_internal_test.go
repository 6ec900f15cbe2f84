package gapflush

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Of points whose noise grows as the secant of a roll's turn the parts tell that; a web's, which lie outside of the roll, and
// a roll that is not round do not, and few points tell nothing.
func TestUnevenOf(t *testing.T) {
	const noise, each = 0.03, 15
	rng := rand.New(rand.NewPCG(1, 2))
	parts := lastArc - firstArc
	seam := func(stations int, grow func(phi float64) float64, also func(part int) float64) ([]raw, []known) {
		first, kn := make([]raw, stations), make([]known, stations)
		for i := range first {
			kn[i].weighed = true
			for part := range unevenParts {
				phi := firstArc + float64((float64(part)+0.5)/unevenParts*parts)
				for range each {
					v := &first[i].shows[A].scattered[part]
					*v = append(*v, float64(noise*grow(phi)*rng.NormFloat64())+also(part))
				}
			}
		}
		return first, kn
	}
	even := func(float64) float64 { return 1 }
	none := func(int) float64 { return 0 }
	secant := func(phi float64) float64 { return min(1/math.Cos(min(phi, 85*math.Pi/180)), 5) }

	first, kn := seam(40, secant, none)
	u := unevenOf(first, kn, A, noise)
	require.NotNil(t, u)
	for part := range unevenParts {
		phi := firstArc + float64((float64(part)+0.5)/unevenParts*parts)
		require.InEpsilon(t, secant(phi), u.at(phi), 0.2, "part %d", part)
	}
	require.Equal(t, 1.0, (*uneven)(nil).at(1))

	first, kn = seam(40, even, none)
	require.Nil(t, unevenOf(first, kn, A, noise))
	first, kn = seam(2, secant, none)
	require.Nil(t, unevenOf(first, kn, A, noise), "of two stations")
	first, kn = seam(40, even, func(part int) float64 { return float64(0.03 * float64(1-2*(part%2))) })
	require.Nil(t, unevenOf(first, kn, A, noise), "a roll that is not round")
	first, kn = seam(40, even, func(part int) float64 {
		if part < 3 {
			return 0
		}
		return math.Abs(0.2 * rng.NormFloat64())
	})
	require.Nil(t, unevenOf(first, kn, A, noise), "a web")
}
