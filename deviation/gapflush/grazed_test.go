package gapflush_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// A view square to a roll shows faces of one size across it, larger by the secant of the angle the roll has turned:
// at 45 to 75 degrees 1.4 to 3.9 times. Points spread evenly over the surface show no such thing, however little of the roll there is.
func TestOnlyOneViewGrazes(t *testing.T) {
	grazed := func(trial *bodywork.Trial) (n int) {
		s := gapflush.DefaultSeam("trial", trial.Path)
		s.Every, s.Radius = trial.Every, trial.Radius
		for _, note := range measure(t, trial.Scan, s, gapflush.Settings{Noise: trial.Noise}).Notes {
			if strings.Contains(note, "grazingly") {
				n++
			}
		}
		return n
	}
	views := 0
	for seed := uint64(100); seed < 106; seed++ {
		for _, seen := range []float64{0, 1.05, 0.7} {
			require.Zero(t, grazed(bodywork.Drawn(bodywork.DrawnOptions{Radius: [2]float64{1, 5}, Noise: 0.05, Spacing: 0.8, Seen: seen}, seed)), "seed %d, %.2f seen", seed, seen)
		}
		for _, k := range bodywork.BadKinds() {
			if k.Name == "seen from one direction" {
				views += grazed(k.Make(seed))
			}
		}
	}
	// The side that a slanting view looks at is seen past its nose, and some rolls have no faces there at all.
	require.GreaterOrEqual(t, views, 3)
}

// hems is a flush seam along x whose sides are alike: at returns how far a place s mm along the sheet from the shoulder (behind it
// below 0) lies toward the gap's middle and up, from the shoulder, apart how far points lie apart there along and across the seam.
// The shoulders lie back mm from the middle; with noise of 0.02 mm.
func hems(back, end float64, at func(s float64) (y, h float64), apart func(s float64) (along, across float64)) *mesh.Mesh {
	const face, length, noise = 30.0, 120.0, 0.02
	random := rand.New(rand.NewPCG(7, 11))
	m := &mesh.Mesh{}
	for _, side := range []float64{-1, 1} {
		var before []uint32
		for s := -face; s < end; {
			y, h := at(s)
			along, across := apart(s)
			var row []uint32
			for x := random.Float64() * along; x < length; x += along {
				row = append(row, uint32(len(m.Vertices)))
				m.Vertices = append(m.Vertices, geom.Vec{X: x + random.NormFloat64()*0.05, Y: side * (back - y), Z: h + random.NormFloat64()*noise})
			}
			for i, k := 0, 0; before != nil && (i < len(before)-1 || k < len(row)-1); {
				// The row whose next point lies nearer to the start goes on.
				var f [3]uint32
				if k == len(row)-1 || i < len(before)-1 && m.Vertices[before[i+1]].X < m.Vertices[row[k+1]].X {
					f = [3]uint32{before[i], before[i+1], row[k]}
					i++
				} else {
					f = [3]uint32{before[i], row[k+1], row[k]}
					k++
				}
				if side > 0 {
					f[1], f[2] = f[2], f[1]
				}
				m.Faces = append(m.Faces, f)
			}
			before, s = row, s+across
		}
	}
	return m
}

// uneven is a seam of two hems of 2 mm, 4 mm apart, whose points lie 0.8 mm apart on the faces and, from 25
// degrees of the rolls on, onRoll(turn) apart across and alongRoll along the seam.
func uneven(onRoll func(turn float64) float64, alongRoll float64) *mesh.Mesh {
	const radius = 2.0
	return hems(2+radius, radius*110*math.Pi/180, func(s float64) (y, h float64) {
		if s < 0 {
			return s, 0
		}
		return radius * math.Sin(s/radius), radius * (math.Cos(s/radius) - 1)
	}, func(s float64) (along, across float64) {
		if turn := s / radius; turn > 25*math.Pi/180 {
			return alongRoll, onRoll(turn)
		}
		return 0.8, 0.8
	})
}

// Points that lie farther apart on a roll than behind it, across and along alike, were not seen grazingly: a view square to the face
// parts them across alone, by the secant of the turn. Both rolls end 110 degrees round, so that the gap is 4.0000.
func TestPointsFartherApartBothWaysAreNotGrazed(t *testing.T) {
	s := gapflush.DefaultSeam("uneven", []geom.Vec{{X: 10}, {X: 110}})
	s.Every, s.Radius = 10, [2]float64{2, 2}
	grazed := func(m *mesh.Mesh) (*gapflush.Result, bool) {
		r := measure(t, m, s, gapflush.Settings{Noise: 0.02})
		return r, strings.Contains(strings.Join(r.Notes, "\n"), "grazingly")
	}
	r, ok := grazed(uneven(func(float64) float64 { return 1.05 }, 1.05))
	require.False(t, ok, r.Notes)
	for _, st := range r.Stations {
		require.Equal(t, gapflush.Measured, st.State, st.Why)
		require.InDelta(t, 4, st.Gap.V, st.Gap.U*1.5)
		require.Less(t, st.Gap.U, 0.1)
	}
	_, ok = grazed(uneven(func(turn float64) float64 { return 0.8 / math.Max(math.Cos(turn), 0.3) }, 0.8))
	require.True(t, ok)
}
