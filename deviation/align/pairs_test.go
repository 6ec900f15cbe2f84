package align

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Three points and their partners with a published answer: the test "3D" of
// gonum's spatial/umeyama, whose figures were recomputed independently.
var (
	umeyamaX = []geom.Vec{{X: 0, Y: 0, Z: 1}, {X: 1, Y: 0, Z: 3}, {X: 2, Y: 5, Z: 8}}
	umeyamaY = []geom.Vec{{X: 1, Y: 2, Z: 4}, {X: 0, Y: 1, Z: 6}, {X: 1, Y: 7, Z: 11}}
	umeyamaR = geom.Mat3{
		{0.5699453290, 0.5900767342, -0.5718144539},
		{-0.5030534073, 0.8008235178, 0.3249907118},
		{0.6496919203, 0.1024262712, 0.7532657351},
	}
)

func requireMat(t *testing.T, want, got geom.Mat3, tol float64) {
	t.Helper()
	for i := range 3 {
		for j := range 3 {
			require.InDelta(t, want[i][j], got[i][j], tol, "element %d %d", i, j)
		}
	}
}

func TestSimilarityMatchesThePublishedExample(t *testing.T) {
	g, scale, rms, err := Similarity(umeyamaX, umeyamaY)
	require.NoError(t, err)
	requireMat(t, umeyamaR, g.R, 1e-9)
	require.InDelta(t, 1.0205423989, scale, 1e-9)
	require.InDelta(t, 1.4155929948, g.T.X, 1e-9)
	require.InDelta(t, 1.1579295387, g.T.Y, 1e-9)
	require.InDelta(t, 3.0877861137, g.T.Z, 1e-9)
	require.InDelta(t, 0.270898934, rms*rms, 1e-8)
}

// The turn is the same with and without a scale (Umeyama 1991); the shift then
// follows from the centroids alone.
func TestPairsKeepTheScaleAtOne(t *testing.T) {
	g, rms, err := Pairs(umeyamaX, umeyamaY)
	require.NoError(t, err)
	requireMat(t, umeyamaR, g.R, 1e-9)
	want := meanOf(umeyamaY).Sub(umeyamaR.MulVec(meanOf(umeyamaX)))
	require.InDelta(t, 0, g.T.Dist(want), 1e-8)
	_, _, free, err := Similarity(umeyamaX, umeyamaY)
	require.NoError(t, err)
	require.Greater(t, rms, free)
}

// Umeyama's own two-dimensional example mirrors a triangle. In the plane it has
// no exact answer; in space the mirror image is the triangle turned over, which
// a fit must find as a proper turn with nothing left.
func TestPairsTurnAMirroredTriangleOver(t *testing.T) {
	x := []geom.Vec{{}, {X: 1}, {Y: 2}}
	y := []geom.Vec{{}, {X: -1}, {Y: 2}}
	g, rms, err := Pairs(x, y)
	require.NoError(t, err)
	require.InDelta(t, 1, g.R.Det(), 1e-12)
	require.InDelta(t, 0, rms, 1e-7)
	requireMat(t, geom.Mat3{{-1, 0, 0}, {0, 1, 0}, {0, 0, -1}}, g.R, 1e-9)
}

// A mirrored solid has no proper turn that fits; the fit must still be one.
func TestPairsNeverMirror(t *testing.T) {
	x := []geom.Vec{{}, {X: 1}, {Y: 2}, {Z: 3}}
	var y []geom.Vec
	for _, p := range x {
		y = append(y, geom.Vec{X: -p.X, Y: p.Y, Z: p.Z})
	}
	g, rms, err := Pairs(x, y)
	require.NoError(t, err)
	require.InDelta(t, 1, g.R.Det(), 1e-12)
	require.Greater(t, rms, 0.1)
}

func TestPairsRecoverAnyMotion(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for range 50 {
		g := randomPose(rng)
		var x, y []geom.Vec
		for range 5 {
			p := geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(800)
			x, y = append(x, p), append(y, g.Apply(p))
		}
		got, rms, err := Pairs(x, y)
		require.NoError(t, err)
		require.InDelta(t, 0, geom.MaxDisplacement(g, got, geom.BoxOf(x)), 1e-9)
		require.InDelta(t, 0, rms, 1e-9)
	}
}

func TestPairsSayWhatIsWrong(t *testing.T) {
	line := []geom.Vec{{}, {X: 1}, {X: 2}}
	for name, c := range map[string]struct {
		x, y []geom.Vec
		want string
	}{
		"count":     {umeyamaX, umeyamaY[:2], "3 scan points but 2 reference points"},
		"few":       {umeyamaX[:2], umeyamaY[:2], "2 point pairs"},
		"line":      {umeyamaX, line, "reference points of the pairs lie on one line"},
		"same":      {[]geom.Vec{{}, {}, {}}, umeyamaY, "scan points of the pairs lie on one line"},
		"nonfinite": {[]geom.Vec{{}, {X: 1}, {Y: math.NaN()}}, umeyamaY, "pair 3"},
	} {
		_, _, err := Pairs(c.x, c.y)
		require.ErrorIs(t, err, ErrPairs, name)
		require.ErrorContains(t, err, c.want, name)
	}
}
