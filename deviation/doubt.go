package deviation

import (
	"context"
	"fmt"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// Placing says how well the placement of a scan is known. nil, where it is
// asked for, is a placement that is taken at its word.
type Placing struct {
	// Covariance of three shifts in mm along the reference's axes and three turns
	// in radians about them through Centre, of what is held.
	Covariance [6][6]float64
	Centre     geom.Vec
	Free       []Free // what is not held; each is independent of the others and of Covariance
}

// Free is a motion that nothing holds: p moves by Shift + Turn × (p - Centre) for
// each mm of it, and it is known to Sigma mm at best. Words say what the
// placement may do: "slide along X".
type Free struct {
	Shift, Turn geom.Vec
	Sigma       float64
	Words       string
}

// freeAlong is the part of a free motion along a point's normal from which the
// point's deviation has no uncertainty: as for a placement's own motions, a part of a
// fiftieth moves the surface by 0.02 mm for each mm of slide, which is
// the placement error aimed for. Lesser parts count with the motion's Sigma.
const freeAlong = 0.02

// mostFree bounds how many free motions are told apart; a rigid motion has six.
const mostFree = 6

// chordDoubt is the standard uncertainty of a chord error as a share of it: over facets of 12 and 24
// mm on a pressing with radii down to 200 mm, half of the estimates are
// within 2 % of the formula's, four fifths within 10 %.
const chordDoubt = 0.1

// Budget is what a point's uncertainty is made of besides the scanner's noise.
type Budget struct {
	// Placement is the standard uncertainty in mm that the placement leaves along
	// the point's normal; -1 - k where free motion k has a part along it.
	Placement float32
	// Chord is how far the reference's facet lies from the curved skin that it
	// stands for, mm: where positive, a point on that skin reads proud by it.
	Chord float32
}

// doubts computes budgets; it is shared by goroutines.
type doubts struct {
	placing *Placing
	terms   [21]float64 // of the covariance: the upper triangle row by row, off the diagonal doubled
	skin    *surface.Skin
}

func newDoubts(p *Placing, ref *surface.Surface, threads int) *doubts {
	d := &doubts{placing: p, skin: ref.Skin(threads)}
	d.setTerms()
	return d
}

func (d *doubts) setTerms() {
	if d.placing == nil {
		return
	}
	k := 0
	for i := range 6 {
		for j := i; j < 6; j++ {
			d.terms[k] = d.placing.Covariance[i][j]
			if j > i {
				d.terms[k] *= 2
			}
			k++
		}
	}
}

// of returns the budget of a point p whose closest point on the reference is hit.
func (d *doubts) of(p geom.Vec, hit *surface.Hit) Budget {
	rise, n, smooth := d.skin.At(hit.Face, hit.Point)
	if !smooth {
		n = hit.Normal
	}
	return Budget{Placement: float32(d.along(p, n)), Chord: float32(rise)}
}

// along returns the placement's standard uncertainty along the normal n at p, mm,
// or -1 - k where free motion k has a part along it.
//
// A small motion (t, ω) of the scan moves its surface at p by n·(t + ω × (p - c))
// along the normal n, so the variance is jᵀCj with j = (n, (p - c) × n).
func (d *doubts) along(p, n geom.Vec) float64 {
	if d.placing == nil {
		return 0
	}
	arm := p.Sub(d.placing.Centre)
	m := arm.Cross(n)
	j := [6]float64{n.X, n.Y, n.Z, m.X, m.Y, m.Z}
	v, k := 0.0, 0
	for i := range 6 {
		row := 0.0
		for l := i; l < 6; l++ {
			row += float64(d.terms[k] * j[l])
			k++
		}
		v += float64(j[i] * row)
	}
	for i := range d.placing.Free {
		f := &d.placing.Free[i]
		along := n.Dot(f.Shift) + m.Dot(f.Turn)
		if math.Abs(along) > freeAlong {
			return float64(-1 - min(i, mostFree-1))
		}
		along *= f.Sigma
		v += float64(along * along)
	}
	return math.Sqrt(max(v, 0))
}

// wordsOf returns the words of the free motions; those past the last that is told apart share it.
func wordsOf(p *Placing) []string {
	out := make([]string, mostFree)
	if p != nil {
		for k := range p.Free {
			out[min(k, mostFree-1)] = p.Free[k].Words
		}
	}
	return out
}

// NoU stands in Field.U where a deviation has no uncertainty.
const NoU = -1

// Expand fills in the field's U from its budgets and the noise of one scan point
// along the normal, one standard deviation in mm; 0 is a scan without noise.
//
// U = 2 √(noise² + placement² + (chord/10)²) + |chord|: the chord error is an error of known
// size and sign that is left in the deviation, as that is defined against the facets,
// so it is added to the expanded uncertainty of the rest (JCGM 100:2008, F.2.4.5).
// The true deviation then lies within U in 95.4 to 97.7 % of such measurements,
// whatever the chord's share. What the scan's scale, its drift over the part's
// length and its temperature add is not in it.
func (f *Field) Expand(noise float64, threads int) {
	f.Noise = noise
	f.U = make([]float64, len(f.State))
	without := make([][mostFree]int, (len(f.State)+pointRun-1)/pointRun)
	_ = parallel.Chunks(context.Background(), len(f.State), pointRun, threads, nil, func(_, chunk, lo, hi int) {
		for i := lo; i < hi; i++ {
			b := f.Budget[i]
			switch {
			case f.State[i] != Measured:
			case b.Placement < 0:
				f.U[i] = NoU
				without[chunk][int(-1-b.Placement)]++
			default:
				f.U[i] = b.Expanded(noise)
			}
		}
	})
	var sum [mostFree]int
	for _, w := range without {
		for k := range sum {
			sum[k] += w[k]
		}
	}
	for k, n := range sum {
		if n > 0 {
			f.Notes = append(f.Notes, fmt.Sprintf("%d measured points have a deviation without an uncertainty, because the placement may %s", n, f.mayDo(k)))
		}
	}
}

// Expanded returns the uncertainty U (k = 2) in mm of a value with this budget
// and a standard uncertainty of the scanner's; see [Field.Expand]. Placement must not be negative.
func (b Budget) Expanded(noise float64) float64 {
	p, c := float64(b.Placement), math.Abs(float64(b.Chord))
	d := float64(chordDoubt * c)
	return float64(2*math.Sqrt(float64(noise*noise)+float64(p*p)+float64(d*d))) + c
}

// Value returns the deviation of point i with its U, OK where the point was
// measured, and whether the deviation has a U; without one U is 0.
func (f *Field) Value(i int) (v verdict.Value, hasU bool) {
	if f.State[i] != Measured {
		return verdict.Value{}, false
	}
	v = verdict.Value{V: f.Deviation[i], OK: true}
	if f.U == nil || f.U[i] == NoU {
		return v, false
	}
	v.U = f.U[i]
	return v, true
}

// WhyFree says what the placement may do that leaves point i without an uncertainty, "" where it has one.
func (f *Field) WhyFree(i int) string {
	if f.Budget == nil || f.Budget[i].Placement >= 0 {
		return ""
	}
	return f.mayDo(int(-1 - f.Budget[i].Placement))
}

func (f *Field) mayDo(k int) string {
	if k >= len(f.free) || f.free[k] == "" {
		return "move"
	}
	return f.free[k]
}
