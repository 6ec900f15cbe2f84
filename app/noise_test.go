package app_test

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/verdict"
)

// A scan with 0.2 mm of noise has a guard band of about 0.4 mm, whether the
// inspection states the noise or leaves it to be estimated: a tolerance that is
// narrower than that cannot be judged.
func TestNoiseThatIsNotStatedWidensTheGuardBand(t *testing.T) {
	noisy := dish(0, 1)
	random := rand.New(rand.NewPCG(7, 7))
	for k := range noisy.Vertices {
		noisy.Vertices[k].Z += 0.2 * random.NormFloat64()
	}
	i := job(t, noisy, dish(0, 1))
	i.Place.Method, i.Surface.HasShare, i.Surface.Share = inspection.None, true, 0.5
	i.Surface.Tolerance = verdict.Tolerance{Lo: -0.3, Hi: 0.3}
	for _, stated := range []float64{0, 0.2} {
		i.Scan.Noise = stated
		o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
		require.NoError(t, err)
		require.Equal(t, verdict.Undecided, o.Compared.Verdict, "noise = %v", stated)
	}
	// 0.6 mm leaves 0.2 mm inside the guard band, about one standard deviation: 68 % of the points.
	i.Scan.Noise, i.Surface.Tolerance = 0, verdict.Tolerance{Lo: -0.6, Hi: 0.6}
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.Conforms, o.Compared.Verdict)
	i.Surface.Share = 0.8
	o, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.Undecided, o.Compared.Verdict, "the estimate is neither nothing nor far too large")
}

// 3 mm for 0.2 mm and 0.02 mm for 0.2 mm are slips; a factor of two either way is how scanners are described.
func TestAStatedNoiseThatIsASlipIsNoted(t *testing.T) {
	noisy := dish(0, 1)
	random := rand.New(rand.NewPCG(7, 7))
	for k := range noisy.Vertices {
		noisy.Vertices[k].Z += 0.2 * random.NormFloat64()
	}
	i := job(t, noisy, dish(0, 1))
	i.Place.Method = inspection.None
	for stated, noted := range map[float64]bool{0: false, 0.02: true, 0.1: false, 0.2: false, 0.4: false, 3: true} {
		i.Scan.Noise = stated
		o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
		require.NoError(t, err)
		found := false
		for _, n := range o.Compared.Field.Notes {
			found = found || strings.Contains(n, "the noise is stated as")
		}
		require.Equal(t, noted, found, "noise = %v", stated)
		used := o.Compared.Field.Noise
		if stated == 0.02 {
			require.InDelta(t, 0.2, used, 0.03, "what is plainly too small makes no U")
		} else if stated > 0 {
			require.Equal(t, stated, used)
		}
	}
}
