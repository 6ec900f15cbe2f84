package scanplan

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// Seen is an error that was seen after a path.
type Seen struct {
	Path  float64 // mm travelled
	Error float64 // mm, how far off
}

// Growth is an error that grows as Error·(s/Path)^Power along the path s.
type Growth struct {
	OK    bool
	Why   string // why there is none
	Error float64
	Path  float64
	Power float64
	// Fitted says that the power was fitted; else it is the usual one, 1.
	Fitted bool
}

// The powers: of position noise alone, of what scanners do, of angle noise alone.
const (
	leastPower = 0.5
	usualPower = 1.0
	mostPower  = 1.5
	// spanToFit is the factor by which paths must differ for their errors to tell a power: an error
	// is one draw, so that of two near paths either may be the larger.
	spanToFit = 2.0
)

// Fit fits the growth to errors that were seen. With paths that differ by a factor of two and more the power is fitted too, by
// least squares of the logarithms, and kept between 0.5 and 1.5.
func Fit(seen []Seen) Growth {
	var list []Seen
	lo, hi := math.Inf(1), 0.0
	for _, s := range seen {
		if s.Path > 0 && s.Error > 0 && !math.IsInf(s.Path, 0) && !math.IsInf(s.Error, 0) {
			list = append(list, s)
			lo, hi = min(lo, s.Path), max(hi, s.Path)
		}
	}
	if len(list) == 0 {
		return Growth{Why: "no error was seen along a path of known length; state in [plan] the way the scanner travelled (path, in mm), or what was seen on other scans (seen)"}
	}
	g := Growth{OK: true, Path: hi, Power: usualPower}
	mx, my, n := 0.0, 0.0, float64(len(list))
	for _, s := range list {
		mx += logOf(s.Path/hi) / n
		my += logOf(s.Error) / n
	}
	if hi >= float64(spanToFit*lo) {
		sxx, sxy := 0.0, 0.0
		for _, s := range list {
			d := logOf(s.Path/hi) - mx
			sxx += float64(d * d)
			sxy += float64(d * (logOf(s.Error) - my))
		}
		g.Power, g.Fitted = min(max(sxy/sxx, leastPower), mostPower), true
	}
	// The mean square at the longest path: an error's own logarithm would lie low.
	sum := 0.0
	for _, s := range list {
		e := float64(s.Error * geom.Pow(hi/s.Path, g.Power))
		sum += float64(e*e) / n
	}
	g.Error = math.Sqrt(sum)
	return g
}

// At returns the error after a path, mm.
func (g *Growth) At(path float64) float64 {
	return float64(g.Error * geom.Pow(path/g.Path, g.Power))
}

// Within returns the path after which the error reaches e, mm.
func (g *Growth) Within(e float64) float64 {
	return float64(g.Path * geom.Pow(e/g.Error, 1/g.Power))
}

// Tighter is what the middle gains: by how many times less the ends are off than the far end of a path begun at its end. 1.4 to 2.8.
func (g *Growth) Tighter() float64 { return geom.Pow(2, g.Power) }

// String words it.
func (g *Growth) String() string {
	if !g.OK {
		return g.Why
	}
	how := "taken as usual"
	if g.Fitted {
		how = "fitted"
	}
	return fmt.Sprintf("%.3g mm after %.3g m, growing with the power %.2f of the path, %s", g.Error, g.Path/1000, g.Power, how)
}

// logOf returns the natural logarithm of x > 0, the same on every processor.
func logOf(x float64) float64 {
	m, e := math.Frexp(x)
	u := (m - 1) / (m + 1)
	z := float64(u * u)
	sum := 0.0
	for k := 49.0; k >= 1; k -= 2 {
		sum = 1/k + float64(sum*z)
	}
	return float64(2*float64(u*sum)) + float64(float64(e)*math.Ln2)
}
