package gapflush_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
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
