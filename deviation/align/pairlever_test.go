package align

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Six pairs within 400 mm, each off by 0.1 mm an axis, place a body that reaches 5 m beyond them. The truth is known by
// construction: the errors made of 600 draws are of the size that is stated, in the middle of the pairs and at the far end.
func TestPairsCarryTheirLever(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	targets := []geom.Vec{{}, {X: 400}, {Y: 300}, {Z: 250}, {X: 380, Y: 280, Z: 60}, {X: 120, Y: 200, Z: 240}}
	far := geom.Vec{X: 5000, Y: 200, Z: 100}
	box := geom.BoxOf([]geom.Vec{{}, far})
	const draws = 600
	var made, said [2]float64
	for range draws {
		var pairs []Pair
		for _, q := range targets {
			pairs = append(pairs, Pair{q.Add(geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(0.1)), q})
		}
		p, err := FitPairs(pairs, box)
		require.NoError(t, err)
		for k, at := range [2]geom.Vec{p.Centre, far} {
			s, _ := p.SigmaAt(at)
			said[k] += s * s / draws
			made[k] += p.ReferenceFromScan.Apply(at).Sub(at).Norm2() / draws
		}
		require.Contains(t, strings.Join(p.Notes, " "), "mm beyond the pairs")
	}
	for k := range 2 {
		require.InEpsilon(t, made[k], said[k], 0.15, "mean square error at place %d", k)
	}
	require.Greater(t, said[1], 200*said[0])
	inside, err := FitPairs(func() (out []Pair) {
		for _, q := range targets {
			out = append(out, Pair{q.Add(geom.Vec{X: 0.1 * rng.NormFloat64()}), q})
		}
		return out
	}(), geom.BoxOf(targets))
	require.NoError(t, err)
	require.NotContains(t, strings.Join(inside.Notes, " "), "beyond the pairs")
}
