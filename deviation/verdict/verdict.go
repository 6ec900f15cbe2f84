// Package verdict decides whether a value with an uncertainty lies inside a
// tolerance, and admits when that cannot be told.
package verdict

// Value is a measured number with its expanded uncertainty U (k = 2), or no
// number at all when OK is false.
type Value struct {
	V, U float64
	OK   bool
}

// Tolerance is an interval of allowed values, both limits included.
type Tolerance struct{ Lo, Hi float64 }

// Verdict is the outcome of a decision. Larger is worse.
type Verdict uint8

// The verdicts in the order of definitions: the worst of several is the largest.
const (
	NotJudged Verdict = iota
	Conforms
	Undecided
	DoesNotConform
)

// String returns the words used in files; NotJudged is the empty string.
func (v Verdict) String() string {
	return [...]string{"", "conforms", "undecided", "does not conform"}[v]
}

// Decide applies ISO 14253-1 with the guard band U (k = 2): conforms when the
// value is inside the tolerance by at least the guard band, does not conform
// when outside by at least it, else undecided. A missing value is undecided.
func Decide(x Value, t Tolerance) Verdict { return DecideGuarded(x, t, x.U) }

// DecideGuarded is Decide with a guard band of its own, in mm.
func DecideGuarded(x Value, t Tolerance, guard float64) Verdict {
	switch {
	case !x.OK:
		return Undecided
	case x.V >= t.Lo+guard && x.V <= t.Hi-guard:
		return Conforms
	case x.V <= t.Lo-guard && x.V < t.Lo, x.V >= t.Hi+guard && x.V > t.Hi:
		return DoesNotConform
	}
	return Undecided
}

// Worst returns the worst of several verdicts, NotJudged for none.
func Worst(vs ...Verdict) Verdict {
	w := NotJudged
	for _, v := range vs {
		w = max(w, v)
	}
	return w
}

// Opened returns what a verdict comes to where it is not certain that the value is that of the
// feature which was to be judged: undecided, or not judged where it was not.
func Opened(v Verdict) Verdict {
	if v == NotJudged {
		return NotJudged
	}
	return Undecided
}
