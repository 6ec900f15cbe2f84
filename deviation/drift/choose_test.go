package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/mesh/geom"
)

// Of a sheet with a narrow roll along its edge, the roll's points, a fiftieth of all, are all looked at, and every part stands for its own area.
func TestWhatTurnsIsLookedAt(t *testing.T) {
	const along, across, roll, radius = 1000.0, 500.0, 10, 2.0
	in := Input{Field: &deviation.Field{}}
	put := func(p, n geom.Vec, area float64) {
		in.Points, in.Normals, in.Areas = append(in.Points, p), append(in.Normals, n), append(in.Areas, area)
		in.Field.State = append(in.Field.State, deviation.Measured)
	}
	const step = 1.0
	for x := step / 2; x < along; x += step {
		for y := step / 2; y < across; y += step {
			put(geom.Vec{X: x, Y: y}, geom.Vec{Z: 1}, step*step)
		}
		for k := range roll {
			s, c := math.Sincos(math.Pi * (float64(k) + 0.5) / roll)
			put(geom.Vec{X: x, Y: -radius * s, Z: radius * (c - 1)}, geom.Vec{Y: -s, Z: c}, step*math.Pi*radius/roll)
		}
	}
	// Of the roll's ten normals the first two, 9 and 27 degrees off the sheet's, are as good as the sheet's.
	const alike = 2
	flat, rolled, flatArea, rolledArea := 0, 0, 0.0, 0.0
	for _, s := range choose(&in) {
		if s.facing.Z > math.Cos(math.Pi/5) {
			flat++
			flatArea += s.area
		} else {
			rolled++
			rolledArea += s.area
		}
	}
	require.Equal(t, int(along/step)*(roll-alike), rolled)
	require.InEpsilon(t, along*math.Pi*radius*(roll-alike)/roll, rolledArea, 1e-9)
	require.InEpsilon(t, along*across+along*math.Pi*radius*alike/roll, flatArea, 1e-4)
	require.InDelta(t, mostSamples, flat, 1)
	in.Normals = nil
	require.InDelta(t, mostSamples, len(choose(&in)), 1)
}
