package align_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/align"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// hat is a rail along X with a section that is symmetric in Y: laid on itself the other way round it
// fits exactly. dent is how deep one flank is pressed in.
func hat(long, dent float64) func(geom.Vec) geom.Vec {
	return func(p geom.Vec) geom.Vec {
		y := p.Y - 60
		z := 40 * (1 - math.Max(0, math.Min(1, (math.Abs(y)-20)/15)))
		if d := math.Hypot(p.X-long/2, y-27); d < 12 {
			z -= dent * (1 - float64(d*d)/144)
		}
		return geom.Vec{X: p.X, Y: y, Z: z}
	}
}

// A rail slides along itself, which is named; that it may as well be turned end for end is no slide, and makes
// the placement ambiguous: a dent could lie on either flank.
func TestAHalfTurnIsNoSlide(t *testing.T) {
	ref, err := surface.New(context.Background(), bodywork.Mapped(bodywork.Plane(1200, 120, 3), hat(1200, 0)), 0, nil)
	require.NoError(t, err)
	scan := bodywork.WithNoise(bodywork.Mapped(bodywork.Plane(400, 120, 2), hat(400, 2)), 0.02, 4)
	turned := geom.Rotation(geom.Vec{X: 1, Y: -2, Z: 0.5}, 2.1)
	turned.T = geom.Vec{X: 300, Y: -80, Z: 900}
	p, err := align.BestFit(context.Background(), scan.Moved(turned), ref, align.Settings{}, nil)
	require.NoError(t, err)
	require.True(t, p.Free[0], "it slides along X")
	require.True(t, p.Ambiguous)
	require.NotNil(t, p.RunnerUp)
	require.NotContains(t, strings.Join(p.Notes, " "), "hardly changes the deviations", "turned end for end they are other ones")
}

// A small piece of a smooth sheet may belong anywhere on it; one that covers most of it is where it lies, to within its free motions.
func TestASmallScanThatSlidesMayBelongElsewhere(t *testing.T) {
	ref, err := surface.New(context.Background(), bodywork.CylinderPatch(500, 1.2, 400, 8), 0, nil)
	require.NoError(t, err)
	for _, c := range []struct {
		angle, long float64
		elsewhere   bool
	}{{1.1, 380, false}, {0.5, 120, true}} {
		scan := bodywork.WithNoise(bodywork.CylinderPatch(500, c.angle, c.long, 6), 0.02, 4)
		p, err := align.BestFit(context.Background(), scan, ref, align.Settings{}, nil)
		require.NoError(t, err)
		require.Contains(t, p.Free, true)
		said := strings.Contains(strings.Join(p.Notes, " "), "may belong to another place")
		require.Equal(t, c.elsewhere, said)
		require.True(t, !c.elsewhere || p.Ambiguous)
	}
}

// A tube may slide along itself and turn about itself, and both are named; that it may as well lie end for end is neither.
func TestATubeEndForEndIsNoTurnAboutItself(t *testing.T) {
	ref, err := surface.New(context.Background(), bodywork.CylinderPatch(40, 6.28, 500, 4), 0, nil)
	require.NoError(t, err)
	scan := bodywork.WithNoise(bodywork.CylinderPatch(40, 6.28, 480, 3), 0.02, 4)
	turned := geom.Rotation(geom.Vec{X: 1, Y: -2, Z: 0.5}, 2.1)
	p, err := align.BestFit(context.Background(), scan.Moved(turned), ref, align.Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, p.FreeMotions, 2)
	require.True(t, p.Ambiguous)
	require.Contains(t, strings.Join(p.Notes, " "), "A second pose, turned by 180.0 degrees")
}
