package gapflush_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// The joint runs along +y with its outside at +z, and is built with side A at -x. Walked the other way the panels change
// their letters: A is what was B, and what is told of the sides must say so.
func TestSidesSwapWithThePath(t *testing.T) {
	j := bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4, Flush: 0.5, Length: 100, Width: 40, Spacing: 1.2, Seed: 1,
	})
	seam := gapflush.DefaultSeam("wing to door", []geom.Vec{{Y: 5}, {Y: 95}})
	minus, plus := gapflush.Toward{Axis: 0, Minus: true}, gapflush.Toward{Axis: 0}
	r := measure(t, j.Mesh, seam, gapflush.Settings{})
	last := len(r.Stations) - 1
	require.Equal(t, []gapflush.SideRun{{First: 0, Last: last, A: minus, B: plus}}, r.Sides())
	require.InDelta(t, 0.5, r.FlushMean.V, 0.05)

	slices.Reverse(seam.Path)
	r = measure(t, j.Mesh, seam, gapflush.Settings{})
	require.Equal(t, []gapflush.SideRun{{First: 0, Last: last, A: plus, B: minus}}, r.Sides())
	require.InDelta(t, -0.5, r.FlushMean.V, 0.05, "the flush is the other panel's, and its sign turns too")
}

// Round an arch no axis tells the sides of all stations: the outer panel lies before, over and behind the wheel.
func TestSidesRoundAnArch(t *testing.T) {
	r := &gapflush.Result{}
	for k := range 19 { // 0 to 180 degrees, from the front over the top; A outside
		w := math.Pi * float64(k) / 18
		r.Stations = append(r.Stations, gapflush.Station{Index: k + 1, A: geom.Vec{X: math.Cos(w), Z: -math.Sin(w)}})
	}
	runs := r.Sides()
	require.Len(t, runs, 3)
	require.Equal(t, "-x", runs[0].A.String())
	require.Equal(t, "+z", runs[1].A.String())
	require.Equal(t, "-z", runs[1].B.String())
	require.Equal(t, "+x", runs[2].A.String())
	require.Equal(t, 0, runs[0].First)
	require.Equal(t, 18, runs[2].Last)
	require.Equal(t, runs[0].Last+1, runs[1].First)

	require.Empty(t, (&gapflush.Result{Stations: []gapflush.Station{{}}}).Sides(), "no direction, no word")
}

func TestPanelsLeaveTheVehiclesSideOut(t *testing.T) {
	for name, want := range map[string][2]string{
		"wing to door":          {"wing", "door"},
		"wing to door left":     {"wing", "door"},
		"wing to door, right":   {"wing", "door"},
		"wing to door (left)":   {"wing", "door"},
		"Wing to Door Left":     {"Wing", "Door"},
		"left wing to door":     {"left wing", "door"},
		"lamp to upright":       {"lamp", "upright"},
		"front door to quarter": {"front door", "quarter"},

		"wing to door, lower":         {"wing", "door"},
		"wing to door (upper) left":   {"wing", "door"},
		"wing to door left, at the T": {"wing", "door"},

		"Kotflügel zu Tür":                   {"Kotflügel", "Tür"},
		"Kotfluegel zu Tuer, unten":          {"Kotfluegel", "Tuer"},
		"wing - door":                        {"wing", "door"},
		"wing – door left":                   {"wing", "door"},
		"wing/door":                          {"wing", "door"},
		"B-pillar to door/roof":              {"B-pillar", "door/roof"},
		"wing to door, 0 to 300 mm":          {"wing", "door"},
		"wing to door left, 37.5 to 412 mm":  {"wing", "door"},
		"wing to door (right), 0 to 99.9 mm": {"wing", "door"},
	} {
		got, ok := (&gapflush.Seam{Name: name}).Panels()
		require.True(t, ok, name)
		require.Equal(t, want, got, name)
	}
	require.Equal(t, "door to wing, lower", (&gapflush.Seam{Name: "wing to door, lower"}).TurnedName())
	require.Equal(t, "door to wing left (upper)", (&gapflush.Seam{Name: "wing to door left (upper)"}).TurnedName())
	require.Equal(t, "Tür zu Kotflügel, unten", (&gapflush.Seam{Name: "Kotflügel zu Tür, unten"}).TurnedName())
	require.Equal(t, "door/wing", (&gapflush.Seam{Name: "wing/door"}).TurnedName())
	require.Empty(t, (&gapflush.Seam{Name: "pillar"}).TurnedName())
	for _, name := range []string{"pillar", "to door", "wing to ", " to left", "pillar, 0 to 300 mm", "seam 1/2", "B-pillar", "seam 1 - 2"} {
		_, ok := (&gapflush.Seam{Name: name}).Panels()
		require.False(t, ok, name)
	}
}
