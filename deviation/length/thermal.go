package length

import "math"

// A temperature is rarely known better than 1 K nor a coefficient better than
// 1e-6 per kelvin; both as half-widths of even distributions (trade.md 5.3).
const (
	temperatureHalf = 1.0
	expansionHalf   = 1e-6
)

// The temperatures, °C, between which bodywork is scanned and its coefficients hold.
const (
	Coldest = -40.0
	Hottest = 200.0
)

// Growth returns by how much a length of mm grows from 20 °C to a temperature in °C,
// mm; expansion is per kelvin. A body of one material grows evenly; of several it does not, and its gaps change.
func Growth(mm, expansion, temperature float64) float64 {
	return float64(float64(mm*expansion) * (temperature - 20))
}

// At20 refers a length that was measured at a temperature in °C to 20 °C (ISO 1).
func At20(mm, expansion, temperature float64) float64 {
	return mm / (1 + float64(expansion*(temperature-20)))
}

// thermal returns the lines of a budget for a length of mm that is carried over dt
// kelvin with a coefficient, with their standard uncertainties: each times the other, and the two
// together, which is all that is left where dt or the coefficient is nothing (JCGM 100:2008, 5.1.2 note and H.1.7).
func thermal(mm, expansion, dt, uExpansion, uTemperature float64) []Line {
	return []Line{
		{"expansion coefficient", math.Abs(float64(float64(mm*dt) * uExpansion)), 0},
		{"temperature", math.Abs(float64(float64(mm*expansion) * uTemperature)), 0},
		{"temperature and coefficient together", math.Abs(float64(float64(mm*uExpansion) * uTemperature)), 0},
	}
}
