package align

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// A crop of the mirrored bracket fits the bracket in all but some hundredths of its points; a crop of the bracket
// itself fits it at the noise. The truth is which of the two was made.
func TestACropOfTheOtherHandIsNeverPlacedWithoutAWord(t *testing.T) {
	s := surfaceOf(t, bodywork.Bracket(bodywork.Sampling{Triangles: 20000}))
	for _, mirrored := range []bool{true, false} {
		t.Run(fmt.Sprint(mirrored), func(t *testing.T) {
			m := bodywork.Bracket(bodywork.Sampling{Triangles: 60000, Jitter: true, Seed: 3})
			at := geom.Vec{X: 20, Y: 150, Z: 60}
			m = bodywork.Without(m, func(c geom.Vec) bool { return c.Dist(at) > 75 })
			if mirrored {
				m = m.Mirrored(0)
			}
			pose := randomPose(rand.New(rand.NewPCG(5, 6)))
			p, err := BestFit(context.Background(), noisy(m, 0.02, 4).Moved(pose), s, Settings{}, nil)
			require.NoError(t, err, "what explains nine tenths is not refused")
			t.Log(p.Overlap, p.Notes)
			if mirrored {
				require.True(t, p.MirrorFits && p.Ambiguous, "%q", p.Notes)
				require.Contains(t, fmt.Sprint(p.Notes), "It may be the part of the other side")
				return
			}
			require.False(t, p.MirrorFits || p.Ambiguous, "%q", p.Notes)
			require.Less(t, placementError(p.ReferenceFromScan, pose, s.Mesh), 0.1)
		})
	}
}
