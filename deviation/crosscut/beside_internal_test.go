package crosscut

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Noise that neighbouring places share, as after smoothing, turns a whole stretch: its own places say little of that, the stretches
// beside it on the same face do. The truth is the drawn bend's; -v prints both shares.
func TestSharedNoiseIsInTheAngle(t *testing.T) {
	const flat, within, runs = 60.0, 4.0, 100
	alone, beside := 0, 0
	var wide []float64
	given := 0
	for seed := range uint64(runs) {
		r := rand.New(rand.NewPCG(seed, 32))
		radius, turns := 2+3*r.Float64(), (3+20*r.Float64())*math.Pi/180
		long := radius * turns
		b := newBend(2*flat+long, func(s float64) float64 {
			if s > flat && s < flat+long {
				return 1 / radius
			}
			return 1.0 / 800
		})
		d := drawn{bend: b, noise: 0.05, spacing: 1.2, within: within, smoothed: true}
		one, two := flat-2*within, flat+long+2*within
		truth := math.Pi
		for k := b.index(one); k < b.index(two); k++ {
			truth -= b.bent[k] * b.step
		}
		curves, at := d.scanned(t, r), [2]Point2{b.at[b.index(one)], b.at[b.index(two)]}
		own, _ := angle(curves, at, within, leastPlaces)
		v, why := angleOfScan(curves, at, within)
		require.Equal(t, own.OK, v.OK)
		if !v.OK {
			require.NotEmpty(t, why)
			continue
		}
		require.Equal(t, own.V, v.V)
		require.GreaterOrEqual(t, v.U, own.U)
		given++
		off := math.Abs(v.V - truth)
		if off <= own.U {
			alone++
		}
		if off <= v.U {
			beside++
		}
		wide = append(wide, v.U*180/math.Pi)
	}
	t.Logf("truth within U: by a stretch alone %d of %d, by those beside it too %d; half of U under %.2f°", alone, given, beside, part(wide, 0.5))
	require.GreaterOrEqual(t, given, runs*8/10)
	require.GreaterOrEqual(t, float64(beside), 0.95*float64(given))
	require.Less(t, alone, beside)
}

// An exact arc has no scatter, however its places lie.
func TestACrownIsNoScatter(t *testing.T) {
	var c Curve
	for k := range 400 {
		phi := (float64(k)*0.25 - 50 + 0.1*math.Sin(float64(k))) / 300
		c.Points = append(c.Points, Point2{300 * math.Sin(phi), 300 * (math.Cos(phi) - 1)})
	}
	list := directions([]Curve{c}, Point2{}, 5)[0]
	require.Len(t, list, 19, "as far as the arc goes")
	require.InDelta(t, 0, list[9].turned, 1e-5)
	for _, d := range bendings(list) {
		require.InDelta(t, 0, d, 1e-5, "radians")
	}
}

// A dent beside a place is no scatter of the face; the truth is the drawn bend's.
func TestADentBesideLeavesTheAngleAlone(t *testing.T) {
	const flat, within = 300.0, 10.0
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 33))
		b := newBend(2*flat+1, func(s float64) float64 {
			switch {
			case s > flat && s < flat+1:
				return 0.1
			case s > flat-80 && s < flat-30: // 2.5 mm deep
				return 0.006 * math.Cos(2*math.Pi*(s-flat+55)/50)
			}
			return 1.0 / 3000
		})
		one, two := flat-15, flat+16
		truth := math.Pi
		for k := b.index(one); k < b.index(two); k++ {
			truth -= b.bent[k] * b.step
		}
		d := drawn{bend: b, noise: 0.03, spacing: 1.2, within: within}
		v, why := angleOfScan(d.scanned(t, r), [2]Point2{b.at[b.index(one)], b.at[b.index(two)]}, within)
		require.True(t, v.OK, why)
		require.InDelta(t, truth, v.V, v.U)
		require.Less(t, v.U*180/math.Pi, 1.5, "degrees")
	}
}
