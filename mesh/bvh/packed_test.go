package bvh

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Packed boxes never miss one that meets the question's, and let through little
// that is farther away than two of their steps.
func TestPackedBoxesMeetWhatTheBoxesMeet(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	through, needless := 0, 0
	for range 20000 {
		size := float32(math.Exp(6 * r.NormFloat64()))
		far := float32(1000 * r.NormFloat64() * float64(r.IntN(2)))
		var lo, hi [3]lanes
		for k := range 3 {
			for i := range width {
				lo[k][i] = far + size*float32(r.NormFloat64())
				hi[k][i] = lo[k][i] + size*r.Float32()*float32(r.IntN(2))
			}
		}
		used := uint32(r.IntN(255) + 1)
		p := pack(&lo, &hi, used)
		var from, to [3]float32
		for k := range 3 {
			from[k] = far + 2*size*float32(r.NormFloat64())
			to[k] = from[k] + size*float32(math.Exp(2*r.NormFloat64()))
		}
		step := 2 / p.per
		got := p.meeting(&from, &to) & used
		for i := range width {
			if used>>i&1 == 0 {
				continue
			}
			meets, nearly := true, true
			for k := range 3 {
				meets = meets && lo[k][i] <= to[k] && hi[k][i] >= from[k]
				nearly = nearly && lo[k][i] <= to[k]+step && hi[k][i] >= from[k]-step
			}
			found := got>>i&1 != 0
			if meets {
				require.True(t, found, "a box that meets was left out")
				through++
			} else if found {
				require.True(t, nearly, "a box that is far was let through")
				needless++
			}
		}
	}
	require.Greater(t, through, 1000)
	require.Less(t, needless, through/5)
	inf := float32(math.Inf(1))
	p := pack(&[3]lanes{}, &[3]lanes{}, 3)
	require.EqualValues(t, 3, p.meeting(&[3]float32{-inf, -inf, -inf}, &[3]float32{inf, inf, inf})&3)
}
