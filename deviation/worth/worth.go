package worth

import (
	"fmt"
	"math"

	"shutline/deviation/verdict"
)

// Kind is what told something of the scan.
type Kind uint8

// The kinds of tellers.
const (
	Length  Kind = iota // a known length
	Closure             // the scan ran over itself
	Overlap             // two pieces that carry different shape
	Drift               // a shape in the deviation from the reference
)

// String returns the word used in files.
func (k Kind) String() string {
	return [...]string{"length", "closure", "overlap", "drift"}[k]
}

// Teller is one error that was seen.
type Teller struct {
	Kind  Kind
	Name  string
	Error float64 // mm, of either sign
	U     float64 // mm, k = 2: what the error itself is known to
	Over  float64 // mm, the length over which it arose
}

// Settings of an estimate.
type Settings struct {
	Noise float64 // mm, one standard deviation of a point; 0: not known
	Size  float64 // mm, the part's greatest length
}

// Growth is how the scan's uncertainty grows with length.
type Growth struct {
	OK       bool
	Why      string  // why there is no value
	A        float64 // mm, expanded
	PerMetre float64 // mm per metre, expanded
	Tellers  []Rate  // what it rests on, in the order given
	Factor   float64 // by which the tellers' root mean square is expanded
	Used     int     // tellers that count
	Size     float64 // mm
}

// Rate is a teller with its rate.
type Rate struct {
	Teller
	PerMetre float64 // mm per metre, of either sign
	Counts   bool
	Why      string // why it does not count
}

// shortestTeller is the share of the part's length over which a teller must have seen the scan: what lies
// close together says nothing of how errors grow. Half of the two thirds that known lengths should have.
const shortestTeller = 1.0 / 3

// students are the 95 % points of Student's t for 1, 2, … degrees of freedom (tables of the t
// distribution). For more than there are here the last one is taken, which is no less than theirs.
var students = [...]float64{12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201}

func student(n int) float64 { return students[min(n, len(students))-1] }

// Estimate combines what was told. A teller's error counts as no less than it is known to: an error
// that is small by luck, or was read badly, does not make the scan better.
func Estimate(tellers []Teller, s Settings) Growth {
	g := Growth{Size: s.Size, A: float64(2 * math.Sqrt2 * s.Noise)}
	sum := 0.0
	for _, t := range tellers {
		r := Rate{Teller: t}
		switch {
		case !(t.Over > 0) || math.IsInf(t.Over, 0) || math.IsNaN(t.Error+t.U):
			r.Why = "it has no length"
		case t.Over < float64(shortestTeller*s.Size):
			r.Why = fmt.Sprintf("%.0f mm is less than a third of the part's %.0f mm", t.Over, s.Size)
		default:
			r.Counts = true
		}
		if t.Over > 0 {
			r.PerMetre = t.Error / t.Over * 1000
		}
		if r.Counts {
			e := max(math.Abs(t.Error), t.U/2) / t.Over * 1000
			sum += float64(e * e)
			g.Used++
		}
		g.Tellers = append(g.Tellers, r)
	}
	switch {
	case len(tellers) == 0:
		g.Why = "no known length, no closure, no overlap and no reference tell how its error grows"
		return g
	case g.Used == 0:
		g.Why = "nothing that tells of its error reaches over a third of the part: " + g.Tellers[0].Why
		return g
	}
	g.Factor = student(g.Used)
	g.PerMetre = float64(g.Factor * math.Sqrt(sum/float64(g.Used)))
	g.OK = true
	return g
}

// At returns the expanded uncertainty of a length in mm that the scan gives.
func (g *Growth) At(length float64) verdict.Value {
	if !g.OK {
		return verdict.Value{}
	}
	return verdict.Value{V: g.A + float64(g.PerMetre*length)/1000, OK: true}
}

// K is the divisor of the form A + L/K, without a dimension; 0 where nothing grows or nothing is known.
func (g *Growth) K() float64 {
	if !g.OK || !(g.PerMetre > 0) {
		return 0
	}
	return 1000 / g.PerMetre
}

// ScalePPM is what a reading of a few mm, a gap, is uncertain by from the scan's growth: a standard
// uncertainty in parts per million, half the expanded one; 0 where it is not known.
func (g *Growth) ScalePPM() float64 {
	if !g.OK {
		return 0
	}
	return 500 * g.PerMetre
}

// Use is something that a scan may be used for.
type Use struct {
	Name string        // "gaps and flushes", "the shape of a panel", "overall dimensions"
	Over float64       // mm
	Good verdict.Value // mm: good to ± V; not OK: no value
	Why  string        // why there is none
}

const (
	// gapOver is what lies between the two places of a gap, mm, and panelOver a panel's length.
	gapOver   = 10.0
	panelOver = 1000.0
)

// Uses returns what the scan is good for. gaps is the U that gaps were measured with, where any were: what grows
// with length is in it. A panel counts as a metre long, or as long as the part.
func (g *Growth) Uses(gaps verdict.Value) []Use {
	list := []Use{
		{Name: "gaps and flushes", Over: gapOver},
		{Name: "the shape of a panel", Over: min(panelOver, g.Size)},
		{Name: "overall dimensions", Over: g.Size},
	}
	for k := range list {
		u := &list[k]
		switch {
		case k == 0 && gaps.OK:
			u.Good = verdict.Value{V: gaps.V, OK: true}
		case g.OK:
			u.Good = g.At(u.Over)
		default:
			u.Why = g.Why
		}
	}
	return list
}
