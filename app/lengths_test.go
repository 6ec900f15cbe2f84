package app_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// walls is two parallel square walls, length mm apart along x.
func walls(length float64) *app.Placed {
	m := &mesh.Mesh{}
	for _, x := range []float64{0, length} {
		at := uint32(len(m.Vertices))
		for k := range 25 {
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: float64(k%5)*20 - 40, Z: float64(k/5)*20 - 40})
		}
		for k := range uint32(20) {
			if k%5 < 4 {
				m.Faces = append(m.Faces, [3]uint32{at + k, at + k + 1, at + k + 6}, [3]uint32{at + k, at + k + 6, at + k + 5})
			}
		}
	}
	return &app.Placed{Mesh: m}
}

func measured(t *testing.T, length float64, i inspection.Inspection, l inspection.Length) app.Length {
	t.Helper()
	i.Lengths = []inspection.Length{l}
	out, err := app.MeasureLengths(context.Background(), &i, walls(length), app.Settings{})
	require.NoError(t, err)
	require.Len(t, out, 1)
	return out[0]
}

func bar(known float64) inspection.Length {
	return inspection.Length{Name: "bar", From: geom.Vec{X: 1, Y: 3, Z: 4}, To: geom.Vec{X: known - 1, Y: 3, Z: 4}, HasKnown: true, Known: known}
}

func TestLengthIsMeasuredOnTheSurface(t *testing.T) {
	l := measured(t, 1000.25, inspection.Inspection{Scan: inspection.Scan{Noise: 0.03}}, bar(1000))
	require.InDelta(t, 1000.25, l.Measured.V, 1e-9)
	require.InDelta(t, 0.25, l.Error.V, 1e-9)
	require.InDelta(t, 250, l.ErrorPPM, 1e-6)
	require.InDelta(t, 2*0.03*1.4142135623730951, l.Measured.U, 1e-12, "two ends of 0.03 mm, k = 2")
	require.Equal(t, verdict.NotJudged, l.Verdict)
}

// A steel ball bar of 500.000 at 20 °C and 11.5e-6 per kelvin, measured 500.012
// at 23 °C: true 500.01725 there, error -0.00525 (worked by hand from ISO 1 and L20 = L / (1 + α ΔT)).
func TestLengthIsReferredTo20Degrees(t *testing.T) {
	l := bar(500)
	l.HasTemperature, l.Temperature, l.Expansion = true, 23, 11.5e-6
	got := measured(t, 500.012, inspection.Inspection{}, l)
	require.InDelta(t, -0.00525, got.Error.V, 1e-5)
}

// A body of 3700 mm at 30 °C, 11.7e-6 ± 1e-6 per kelvin and ± 1 K, both
// rectangular: 0.0214 and 0.0250 mm, U 0.066 (GUM, worked by hand).
func TestLengthCarriesTheUncertaintyOfTemperature(t *testing.T) {
	l := bar(3700)
	l.KnownU, l.HasTemperature, l.Temperature, l.Expansion = 0, true, 30, 11.7e-6
	got := measured(t, 3700, inspection.Inspection{}, l)
	require.InDelta(t, -0.433, got.Error.V, 1e-3)
	require.InDelta(t, 0.066, got.Measured.U, 5e-4)
}

func TestLengthVerdicts(t *testing.T) {
	l := bar(1000)
	l.KnownU, l.HasAllowed, l.AllowedA, l.AllowedPerMetre = 0.1, true, 0.3, 0.1 // ± 0.4 mm
	for _, c := range []struct {
		length float64
		want   verdict.Verdict
	}{{1000.29, verdict.Conforms}, {1000.35, verdict.Undecided}, {999.65, verdict.Undecided}, {1000.6, verdict.DoesNotConform}} {
		got := measured(t, c.length, inspection.Inspection{}, l)
		require.InDelta(t, 0.4, got.Allowed, 1e-12)
		require.InDelta(t, 0.1, got.Error.U, 1e-9)
		require.Equal(t, c.want, got.Verdict, "%v", c.length)
	}
}

func TestLengthsWithoutAnEndHaveNoNumber(t *testing.T) {
	l := bar(1000)
	l.From.Y, l.To.Y = 90, 90 // beside the walls
	l.HasAllowed, l.AllowedA = true, 1
	got := measured(t, 1000, inspection.Inspection{}, l)
	require.False(t, got.Measured.OK)
	require.Contains(t, got.Why, "does not meet the scan")
	require.Equal(t, verdict.Undecided, got.Verdict)
}

// Ends that scatter by 0.5 mm are not sure to 0.03 mm, whatever is stated: U is at least
// 2 x 0.5 x root 2 less what twenty points leave open.
func TestLengthDoesNotBelieveANoiseThatIsTooSmall(t *testing.T) {
	placed := walls(1000.25)
	r := rand.New(rand.NewPCG(3, 3))
	for k := range placed.Mesh.Vertices {
		placed.Mesh.Vertices[k].X += 0.5 * r.NormFloat64()
	}
	i := inspection.Inspection{Scan: inspection.Scan{Noise: 0.03}, Lengths: []inspection.Length{bar(1000)}}
	out, err := app.MeasureLengths(context.Background(), &i, placed, app.Settings{})
	require.NoError(t, err)
	require.Greater(t, out[0].Measured.U, 0.7)
}

// A length that is known in another unit is no error of the scan: 1000 mm read where 100 are known.
func TestLengthsInAnotherUnitHaveNoNumber(t *testing.T) {
	l := bar(100)
	l.From, l.To = bar(1000).From, bar(1000).To
	l.HasAllowed, l.AllowedA = true, 1
	got := measured(t, 1000, inspection.Inspection{}, l)
	require.False(t, got.Measured.OK)
	require.False(t, got.Error.OK)
	require.Contains(t, got.Why, "10 times as much")
	require.Equal(t, verdict.Undecided, got.Verdict)
}
