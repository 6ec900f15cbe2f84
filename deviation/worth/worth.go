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
	// Share of the error that a length sees, root mean square: a length sees one direction, so of the size of a displacement in
	// space it is the root of a third; 0: all of it.
	Share float64
	// Draws is how many independent draws of the scan's error it is; 0: one.
	Draws float64
	Not   string // why it does not count; "": it does
	// Unheld: there is an error, and Not says why it has no number. Nothing over a length has one then.
	Unheld bool
}

// Along returns of the error, and of its U, what a length sees, mm.
func (t *Teller) Along() (e, u float64) {
	if t.Share == 0 {
		return t.Error, t.U
	}
	return float64(t.Share * t.Error), float64(t.Share * t.U)
}

// Settings of an estimate.
type Settings struct {
	Noise float64 // mm, one standard deviation of a point; 0: not known
	Size  float64 // mm, the part's greatest length
	Span  float64 // mm, see Growth.Span; 0: Size
}

// Growth is how the scan's uncertainty grows with length.
type Growth struct {
	OK       bool
	Why      string  // why there is no value
	A        float64 // mm, expanded
	PerMetre float64 // mm per metre, expanded; where an error has no number, of those that have one
	Tellers  []Rate  // what it rests on, in the order given
	Factor   float64 // by which the tellers' root mean square is expanded
	Used     int     // tellers that count
	Draws    float64 // that they are together
	Size     float64 // mm
	// Span is the distance beyond which errors do not grow, mm: what lies farther apart on a body that a scanner goes round
	// need not be farther apart along its path. Equal to Size on a panel.
	Span float64
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

// student returns the factor for so many degrees of freedom, whole ones counted.
func student(n float64) float64 { return students[min(max(int(n+rounding), 1), len(students))-1] }

// rounding is what a sum of thirds may fall short of a whole number by.
const rounding = 1e-9

// Estimate combines what was told. A teller's error counts as no less than it is known to: an error
// that is small by luck, or was read badly, does not make the scan better.
func Estimate(tellers []Teller, s Settings) Growth {
	g := Growth{Size: s.Size, Span: s.Span, A: float64(2 * math.Sqrt2 * s.Noise)}
	if !(g.Span > 0) || g.Span > g.Size {
		g.Span = g.Size
	}
	sum := 0.0
	for _, t := range tellers {
		r := Rate{Teller: t}
		seen, u := t.Along()
		draws := t.Draws
		if draws == 0 {
			draws = 1
		}
		switch {
		case t.Not != "":
			r.Why = t.Not
		case !(t.Over > 0) || math.IsInf(t.Over, 0) || math.IsNaN(t.Error+t.U):
			r.Why = "it has no length"
		case t.Over < float64(shortestTeller*s.Size):
			r.Why = fmt.Sprintf("%.0f mm is less than a third of the part's %.0f mm", t.Over, s.Size)
		default:
			r.Counts = true
		}
		over := g.spanned(t.Over)
		if over > 0 {
			r.PerMetre = seen / over * 1000
		}
		if r.Counts {
			e := max(math.Abs(seen), u/2) / over * 1000
			sum += float64(draws * float64(e*e))
			g.Used++
			g.Draws += draws
		}
		g.Tellers = append(g.Tellers, r)
	}
	switch {
	case len(tellers) == 0:
		g.Why = "no known length, no closure, no overlap and no deviation from a reference tells how its error grows"
		return g
	case g.Used == 0:
		g.Why = "nothing that tells of its error counts: " + g.Tellers[0].Why
		return g
	}
	g.Factor = student(g.Draws)
	g.PerMetre = float64(g.Factor * math.Sqrt(sum/g.Draws))
	g.OK = true
	for _, t := range tellers {
		if t.Unheld {
			g.OK, g.Why = false, fmt.Sprintf("the %s is not known: %s", t.Name, t.Not)
		}
	}
	return g
}

// Without returns the growth that the others tell, without the teller k of those that were given: an error that is judged
// must not be excused by what it shows itself.
func (g *Growth) Without(k int) Growth {
	var others []Teller
	for i := range g.Tellers {
		if i != k {
			others = append(others, g.Tellers[i].Teller)
		}
	}
	out := Estimate(others, Settings{Size: g.Size, Span: g.Span})
	out.A = g.A
	return out
}

// At returns the expanded uncertainty of a length in mm that the scan gives.
func (g *Growth) At(length float64) verdict.Value {
	if !g.OK {
		return verdict.Value{}
	}
	return verdict.Value{V: g.A + g.Grown(length), OK: true}
}

// Grown returns what drift and scale add to the uncertainty of a length in mm, expanded, mm; 0 where it is not known.
func (g *Growth) Grown(length float64) float64 {
	if !g.OK {
		return 0
	}
	return float64(g.PerMetre*g.spanned(length)) / 1000
}

// spanned returns what of a length counts.
func (g *Growth) spanned(length float64) float64 {
	if g.Span < g.Size {
		return min(length, g.Span)
	}
	return length
}

// K is the divisor of the form A + L/K, without a dimension; 0 where nothing grows or nothing is known.
func (g *Growth) K() float64 {
	if !g.OK || !(g.PerMetre > 0) {
		return 0
	}
	return 1000 / g.PerMetre
}

// ScalePPM is what a reading of a few mm, a gap, is uncertain by from the scan's growth: a standard
// uncertainty in parts per million, half the expanded one; 0 where it is not known. A piece that is not held slides as a whole, and
// what lies so close together with it.
func (g *Growth) ScalePPM() float64 { return 500 * g.PerMetre }

// What a scan may be used for, as tables have it.
const (
	ForGaps       = "gaps and flushes"
	ForPanels     = "the shape of a panel"
	ForDimensions = "overall dimensions"
)

// Use is something that a scan may be used for.
type Use struct {
	Name string        // [ForGaps], [ForPanels] or [ForDimensions]
	Over float64       // mm
	Good verdict.Value // mm: good to ± V; not OK: no value
	Why  string        // why there is none
	// Median: Good is the median of the expanded uncertainties (k = 2) that this scan's gaps were measured with.
	Median bool
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
		{Name: ForGaps, Over: gapOver},
		{Name: ForPanels, Over: min(panelOver, g.Size)},
		{Name: ForDimensions, Over: g.Size},
	}
	for k := range list {
		u := &list[k]
		switch {
		case k == 0 && gaps.OK:
			u.Good, u.Median = verdict.Value{V: gaps.V, OK: true}, true
		case g.OK:
			u.Good = g.At(u.Over)
		default:
			u.Why = g.Why
		}
	}
	return list
}
