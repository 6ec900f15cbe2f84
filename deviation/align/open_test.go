package align_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/align"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// A real mesh of long thin facets: the gear wheel of the open meshes, scanned with noise as a whole and in part, from any
// pose. It has 40 teeth and is the same after a turn by one, or when turned over: the placement lies on it to within the noise and says
// that another pose does so too, which differs by whole teeth.
func TestTheGearWheelIsPlacedAndAmbiguous(t *testing.T) {
	l, err := meshio.Read(context.Background(), "../../testdata/open/gearwheel.stl", meshio.Options{Unit: "mm"})
	require.NoError(t, err)
	box := l.Mesh.Bounds()
	ref, err := surface.New(context.Background(), l.Mesh, 0, nil)
	require.NoError(t, err)
	noise := 0.0001 * box.Diagonal()
	for k, share := range []float64{1, 0.4} {
		rng := rand.New(rand.NewPCG(uint64(k), 8))
		scan := bodywork.Without(l.Mesh, func(c geom.Vec) bool { return c.X > box.Lo.X+share*box.Size().X })
		pose := geom.Rotation(geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}, math.Pi*rng.Float64())
		pose.T = geom.Vec{X: 500 * rng.NormFloat64(), Y: 500 * rng.NormFloat64(), Z: 500 * rng.NormFloat64()}
		p, err := align.BestFit(context.Background(), bodywork.WithNoise(scan, noise, uint64(k)).Moved(pose), ref, align.Settings{}, nil)
		require.NoError(t, err)
		require.True(t, p.Ambiguous)
		require.Greater(t, p.Overlap.Fine, 0.99)
		require.Less(t, p.RMS, noise)
		require.Equal(t, [6]bool{}, p.Free)
		teeth := p.RunnerUp.Angle / (2 * math.Pi / 40)
		require.InDelta(t, math.Round(teeth), teeth, 0.01, "turned by %g degrees", p.RunnerUp.Angle*180/math.Pi)
		require.Positive(t, math.Round(teeth))
	}
}
