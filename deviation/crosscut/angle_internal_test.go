package crosscut

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is read of the angle between the straights beside a drawn bend: clear of it; with stretches that reach onto the bend,
// which is noticed or lies within U; and with straights that are crowned themselves. -v prints the table.
func TestAnglesOfDrawnBends(t *testing.T) {
	const flat, runs = 60.0, 120
	for _, c := range []struct {
		kind      string
		nearest   float64 // of a place from the bend, of what is looked at about it
		crowned   bool
		in, given float64
		mostHalf  float64 // degrees, of U
	}{
		{"clear of the bend", 1.0, false, 0.93, 0.95, 0.5},
		{"reaching onto it", -0.3, false, 0.93, 0.15, 0.8},
		{"of crowned straights", 1.0, true, 0.93, 0.95, 0.5},
	} {
		in, given := 0, 0
		var wide, off []float64
		for seed := range uint64(runs) {
			r := rand.New(rand.NewPCG(seed, 31))
			even := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
			radius, turns, crown := math.Exp(even(math.Log(1.5), math.Log(40))), even(5, 100)*math.Pi/180, 0.0
			if c.crowned {
				crown = 1 / even(500, 3000)
			}
			long := radius * turns
			b := newBend(2*flat+long, func(s float64) float64 {
				if s > flat && s < flat+long {
					return 1 / radius
				}
				return crown
			})
			d := drawn{bend: b, noise: even(0, 0.1), spacing: even(0.3, 1.5), within: even(5, 20)}
			one, two := flat-even(c.nearest, 1.5)*d.within-2*d.spacing, flat+long+even(c.nearest, 1.5)*d.within+2*d.spacing // past the faces that round the bend's ends off
			truth := math.Pi                                                                                                // less what the curve turns by from place to place, in its own steps; of the straights, where a place is on the bend
			from, to := one, two
			if !c.crowned {
				from, to = 0, 2*flat+long
			}
			for k := b.index(from); k < b.index(to); k++ {
				truth -= b.bent[k] * b.step
			}
			v, why := angle(d.scanned(t, r), [2]Point2{b.at[b.index(one)], b.at[b.index(two)]}, d.within, leastPlaces)
			if !v.OK {
				require.NotEmpty(t, why)
				continue
			}
			given++
			const degree = 180 / math.Pi
			wide, off = append(wide, v.U*degree), append(off, math.Abs(v.V-truth)*degree)
			if math.Abs(v.V-truth) <= v.U {
				in++
			}
		}
		t.Logf("%-21s %3d of %3d read, truth within U %5.1f %%, half of U under %.2f°, 95 %% of errors under %.2f°", c.kind, given, runs, 100*float64(in)/float64(given), part(wide, 0.5), part(off, 0.95))
		require.GreaterOrEqual(t, float64(in), c.in*float64(given), c.kind)
		require.GreaterOrEqual(t, float64(given), c.given*runs, c.kind)
		require.LessOrEqual(t, part(wide, 0.5), c.mostHalf, c.kind)
	}
}
