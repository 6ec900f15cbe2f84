package seamfind

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// A skin ends in a roll of 1.5 mm and a wall, by formula: at a depth d the roll lies 1.5 - sqrt(1.5² - (1.5 - d)²)
// behind the wall. Where the wall is a gap's the lip keeps that at every depth, however deep it goes; where a floor
// joins it to the other side's, there is no nose that other places could be carried on to.
func TestOnlyGroovesHaveNoNoseToCarryOnTo(t *testing.T) {
	const r, wall = 1.5, 1.0 // mm; the place of the wall
	outline := func(deep float64, floor bool) (run []cutPoint) {
		put := func(x, h float64, facing bool) { run = append(run, cutPoint{x, h, facing}) }
		for x := 16.0; x > wall+r; x -= 0.2 {
			put(x, 0, true)
		}
		for a := 0.0; a < 90; a += 2 {
			sin, cos := math.Sincos(a * math.Pi / 180)
			put(wall+r-r*sin, r*cos-r, a < 70)
		}
		for h := -r; h > -deep; h -= 0.2 {
			put(wall, h, false)
		}
		if !floor {
			return run
		}
		half := len(run)
		for x := wall; x > -wall; x -= 0.2 {
			put(x, -deep, true)
		}
		for k := half - 1; k >= 0; k-- {
			put(-run[k].x, run[k].h, run[k].facing)
		}
		return run
	}
	for _, c := range []struct {
		deep  float64
		floor bool
	}{{6, false}, {6, true}, {3, true}} {
		nose, flat, seen := noseOf([][]cutPoint{outline(c.deep, c.floor)}, straight{}, wall+r)
		require.True(t, seen)
		require.False(t, flat)
		require.Equal(t, c.floor, nose.groove, "%v", c)
		require.False(t, nose.gentle, "%v", c)
		for k, d := range depths {
			if c.floor {
				require.True(t, math.IsNaN(nose.at[k]), "%v", c)
				continue
			}
			require.InDelta(t, r-math.Sqrt(r*r-(r-d)*(r-d)), nose.at[k], 0.1, "%g mm deep", d)
		}
	}
}
