package scanplan

import "math"

// Chain is an open chain of joints: one view joined to the last.
type Chain struct {
	Pitch float64 // mm between joints
	Shift float64 // mm, standard error of position at each
	Turn  float64 // radians, of angle
}

// Open returns the standard error across the path at its end:
// √(N s_t² + (s_r l)² N(N+1)(2N+1)/6) after N joints.
func (c Chain) Open(path float64) float64 {
	n := path / c.Pitch
	arm := float64(c.Turn * c.Pitch)
	return math.Sqrt(float64(n*float64(c.Shift*c.Shift)) + float64(float64(arm*arm)*float64(n*float64((n+1)*(2*n+1))))/6)
}

// FromMiddle returns the same where the path was begun in its middle and gone each way.
func (c Chain) FromMiddle(path float64) float64 { return c.Open(path / 2) }

// Closed returns what is left at a share of a closed path whose end had the standard error open, once
// the gap is shared out in proportion to the path: largest half way round, half of the open end's.
func Closed(open, share float64) float64 {
	return float64(open * math.Sqrt(max(float64(share*(1-share)), 0)))
}
