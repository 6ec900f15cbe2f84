package length

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
)

// The end gauge of JCGM 100:2008 (GUM), H.1, in nm: l = ls + d - ls (da th + as dth).
// Printed there: contributions 25, 9.7, 2.9 and 16.6, uc = 32, 16 degrees of freedom, t99 = 2.92, U99 = 93;
// with the terms of second order, 11.7 and 1.7, uc = 34.
func TestEndGauge(t *testing.T) {
	const ls = 50.000623e6
	d, dofD := Combined([]Line{{"repeat", 5.8, 24}, {"random", 3.9, 5}, {"systematic", 6.7, 8}})
	require.InDelta(t, 9.7, d, 0.05)
	require.InDelta(t, 25.6, dofD, 0.2) // printed of the rounded 9.7

	coefficients := thermal(ls, 0, -0.1, 0.58e-6, 0.41) // the difference of the coefficients: nothing, times th = -0.1
	difference := thermal(ls, 11.5e-6, 0, 0, 0.029)     // the difference of the temperatures: nothing
	require.InDelta(t, 2.9, coefficients[0].U, 0.05)
	require.Zero(t, coefficients[1].U)
	require.InDelta(t, 16.6, difference[1].U, 0.1)
	lines := []Line{{"standard", 25, 18}, {"comparison", 9.7, 25.6}, {"coefficients", coefficients[0].U, 50}, {"temperatures", difference[1].U, 2}}
	u, dof := Combined(lines)
	require.InDelta(t, 31.71, u, 0.005)
	require.Equal(t, 32.0, math.Round(u))
	require.InDelta(t, 16.66, dof, 0.05)
	k := Coverage(0.99, int(dof))
	require.InDelta(t, 2.92, k, 0.005)
	require.InDelta(t, 2.12, Coverage(0.95, int(dof)), 0.005)
	require.InDelta(t, 92.6, k*u, 0.1)
	require.InDelta(t, 50.000838, (ls+215)/1e6, 5e-7)

	// Second order, from the distributions as stated: da even ±1e-6, th 0.2 K and an arcsine of 0.5 K, as even ±2e-6, dth even ±0.05 K.
	th := math.Hypot(0.2, 0.5/math.Sqrt2)
	require.InDelta(t, 0.41, th, 0.005)
	first := thermal(ls, 0, 0, 1e-6/math.Sqrt(3), th)[2]
	second := thermal(ls, 11.5e-6, 0, 2e-6/math.Sqrt(3), 0.05/math.Sqrt(3))[2]
	require.InDelta(t, 11.73, first.U, 0.005)
	require.InDelta(t, 1.67, second.U, 0.005)
	u, _ = Combined(append(lines, first, second))
	require.Equal(t, 34.0, math.Round(u))
}

// Percentage points of Student's t and chi-square as every statistical table prints them.
func TestTables(t *testing.T) {
	for _, c := range []struct {
		p    float64
		dof  int
		want float64
	}{{0.95, 1, 12.706}, {0.95, 2, 4.303}, {0.95, 5, 2.571}, {0.95, 10, 2.228}, {0.99, 3, 5.841}, {0.99, 30, 2.750}, {0.9545, 100, 2.025}} {
		require.InDelta(t, c.want, Coverage(c.p, c.dof), 6e-4, "%v", c)
	}
	for _, c := range []struct {
		x   float64
		dof int
		p   float64
	}{{3.841, 1, 0.05}, {6.635, 1, 0.01}, {5.991, 2, 0.05}, {7.815, 3, 0.05}, {11.345, 3, 0.01}, {12.592, 6, 0.05}, {16.812, 6, 0.01}, {3.00, 1, 0.0833}, {18.307, 10, 0.05}, {31.410, 20, 0.05}, {24.996, 15, 0.05}} {
		require.InDelta(t, c.p, chiSquareTail(c.x, c.dof), 5e-5, "%v", c)
	}
	require.Equal(t, 1.0, chiSquareTail(0, 3))
	require.InDelta(t, 9.8659e-10, normalTail(6), 1e-13) // Abramowitz & Stegun, table 26.1
}

// Trade figures, computed: a body of 3.7 m at 30 °C.
func TestBodyAt30Degrees(t *testing.T) {
	require.InDelta(t, 0.433, Growth(3700, 11.7e-6, 30), 5e-4)
	require.InDelta(t, 0.444, Growth(3700, 12e-6, 30), 5e-4)
	require.InDelta(t, 0.851, Growth(3700, 23e-6, 30), 5e-4)
	lines := thermal(3700, 11.7e-6, 10, expansionHalf/math.Sqrt(3), temperatureHalf/math.Sqrt(3))
	require.InDelta(t, 0.0214, lines[0].U, 5e-5)
	require.InDelta(t, 0.0250, lines[1].U, 5e-5)
	u, _ := Combined(lines)
	require.InDelta(t, 0.033, u, 5e-4)
	require.InDelta(t, 0.066, 2*u, 5e-4)
	// A plastic bumper held at its middle, 850 mm to each end, on steel of 11.5 to 12e-6, and an aluminium bonnet 1500 mm wide in it.
	require.InDelta(t, 0.41, Growth(850, 60e-6, 30)-Growth(850, 11.7e-6, 30), 5e-3)
	require.InDelta(t, 0.67, Growth(850, 90e-6, 30)-Growth(850, 11.7e-6, 30), 6e-3)
	require.InDelta(t, -1.23, Growth(850, 60e-6, -10)-Growth(850, 11.7e-6, -10), 5e-3)
	require.InDelta(t, -2.00, Growth(850, 90e-6, -10)-Growth(850, 11.7e-6, -10), 6e-3)
	require.InDelta(t, 0.17, Growth(1500, 23e-6, 30)-Growth(1500, 11.7e-6, 30), 5e-3)
}

// A steel ball bar of 500.000 mm at 20 °C that reads 500.012 at 23 °C is 500.01725 long there: off by -0.005, not +0.012.
func TestBallBar(t *testing.T) {
	require.InDelta(t, 500.01725, 500+Growth(500, 11.5e-6, 23), 1e-9)
	require.InDelta(t, -0.005, At20(500.012, 11.5e-6, 23)-500, 5e-4)
	require.InDelta(t, 0.022, formOf([]float64{-0.010, 0.004, 0.012, -0.006}), 1e-12)
}

// Limits of the form A + L/K and A + B per metre are the same.
func TestLimits(t *testing.T) {
	for _, c := range []struct{ a, k, length, want float64 }{{0.020, 25000, 3700, 0.168}, {0.050, 20000, 3700, 0.235}, {0.030, 50000, 1000, 0.050}} {
		require.InDelta(t, c.want, allowedOf(Known{A: c.a, PerMetre: 1000 / c.k, Length: c.length}), 1e-12)
	}
}

// Three scale bars of 1000, 1500 and 500 mm, u = 0.05, 0.06, 0.04: c = 1.00020868 ± 0.0000291 (one standard
// uncertainty), residuals +0.001, +0.017, -0.024, chi² 0.45 on 2: a scale error, no bend.
func TestScaleFromBars(t *testing.T) {
	known := []verdict.Value{{V: 1000, OK: true}, {V: 1500, OK: true}, {V: 500, OK: true}}
	measured := []verdict.Value{{V: 1000.21, U: 0.10, OK: true}, {V: 1500.33, U: 0.12, OK: true}, {V: 500.08, U: 0.08, OK: true}}
	s := FindScale(known, measured)
	require.InDelta(t, 208.68, s.PPM.V, 0.005)
	require.InDelta(t, 29.1, s.PPM.U/2, 0.05)
	for k, want := range []float64{0.001, 0.017, -0.024} {
		require.InDelta(t, want, s.Left[k], 5e-4)
	}
	require.InDelta(t, 0.45, s.Chi2, 0.005)
	require.Equal(t, 2, s.DoF)
	require.True(t, s.Common)
	require.Equal(t, 3, s.Lengths)

	measured[1].V = 1499.4 // one that is shorter, where the others are longer
	s = FindScale(known, measured)
	require.False(t, s.Common)
	require.Less(t, s.P, 1e-6)
	measured[0].OK, measured[1].OK = false, false
	s = FindScale(known, measured)
	require.Equal(t, 0, s.DoF)
	require.False(t, s.Common)
	require.True(t, s.PPM.OK)
	measured[2].OK = false
	require.False(t, FindScale(known, measured).PPM.OK)
}

// Four bars of which one is wrong by 1 mm: the mean scale is no better known than they agree.
func TestAMeanOfWhatDisagreesIsNotSure(t *testing.T) {
	var known, measured []verdict.Value
	for k, l := range []float64{600, 900, 1400, 1900} {
		known = append(known, verdict.Value{V: l, U: 0.04, OK: true})
		m := l * 1.0003
		if k == 2 {
			m -= 1
		}
		measured = append(measured, verdict.Value{V: m, U: 0.01, OK: true})
	}
	s := FindScale(known, measured)
	require.False(t, s.Common)
	require.Less(t, math.Abs(s.PPM.V-300), s.PPM.U)
}
