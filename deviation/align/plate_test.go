package align

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
)

// A flat rectangular plate lies as well turned by a half, and so do its borders: what they hold of it is
// one of two places, and that is said.
func TestAPlateHeldByItsBordersMayLieTurned(t *testing.T) {
	s := surfaceOf(t, bodywork.Plane(600, 400, 6))
	for seed := range uint64(1) {
		pose := randomPose(rand.New(rand.NewPCG(seed, 5)))
		p, err := BestFit(context.Background(), noisy(bodywork.Plane(600, 400, 5), 0.03, seed).Moved(pose), s, Settings{}, nil)
		require.NoError(t, err)
		require.NotEmpty(t, p.Borders)
		require.True(t, p.Ambiguous)
	}
}
