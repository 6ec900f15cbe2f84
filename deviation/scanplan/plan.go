package scanplan

import (
	"fmt"
	"math"

	"shutline/deviation/verdict"
)

// Part is what is to be scanned.
type Part struct {
	Length, Width, Height float64 // mm, the largest first along the path's strokes' row
	Area                  float64 // mm² of its surface; 0: not known, that of a box without a floor
}

// stroke is how far apart a scanner's strokes lie, mm: a field of 0.6 m with an overlap. A car-size body of
// 3.7 by 1.7 m so takes about 50 m, as practice has it.
const stroke = 500.0

// Path returns how far a scanner travels over a part in one go, mm: over every strip of its surface once, and once along it or
// round it.
func (p Part) Path() float64 {
	area := p.Area
	if !(area > 0) {
		area = float64(2*(p.Length+p.Width)*p.Height) + float64(p.Length*p.Width)
	}
	if !p.Closes() {
		return area/stroke + p.Length
	}
	return area/stroke + float64(2*(p.Length+p.Width))
}

// Start is where on a piece the scanner begins.
type Start uint8

// The starts.
const (
	AtEnd    Start = iota // at an end
	InMiddle              // in the middle, then each way
)

// String returns the word used in files.
func (s Start) String() string { return [...]string{"end", "middle"}[s] }

// Hold is what holds pieces, or a scan in one go, together.
type Hold uint8

// The holds.
const (
	Surface Hold = iota // overlaps of the surface alone; in one go: nothing
	Loop                // in one go, the path comes back to its start and the scanner closes the loop
	Markers             // markers all over the part, measured once as a frame
)

// String returns the word used in files.
func (h Hold) String() string { return [...]string{"surface", "loop", "markers"}[h] }

// Way is a way of scanning a part.
type Way struct {
	Pieces int
	Start  Start
	Hold   Hold
}

// Prediction is what a way is expected to come to, mm, root mean squares.
type Prediction struct {
	Way
	Path   float64 // of one piece
	FarEnd float64 // how far off a piece is at its far end, seen from where it was begun; on a closed loop half way round, where it is off most
	// Length is the error of the part's length. It does not depend on where a path was begun: the
	// chain between its ends is the same.
	Length float64
	// Joins says that the path's end, or the pieces, still fit so well that they are joined; a loop that does not
	// close, or pieces that do not fit, are no use.
	Joins bool
}

// Of the error at the far end of a path round a body, the root mean square that its length is off by: as
// one chain, and once the ends are joined, in the scanner or by laying all pieces together at once. A scanner that comes
// back 10 mm off is 1.5 mm wrong over the length after closing, by practice; the simulated scanners give 2.3 before
// and 1.5 after, and 1.0 to 1.7 in four to eight pieces. On a panel the length takes one of three directions.
const (
	lengthOpen   = 0.22
	lengthClosed = 0.15
	lengthPanel  = 0.58
)

const (
	// closable, mm, is the most that a path's end or a piece may be off and still be joined without help: 10 mm close
	// well, 250 to 300 do not, by practice; the line between is our choice.
	closable = 50.0
	// frameError per metre of part, mm: markers measured as a frame by photographs are usually good to 0.05 mm over a car.
	frameError = 0.0125
	// betweenMarkers, mm: how far a scanner goes from marker to marker without being held, two strokes.
	betweenMarkers = 2 * stroke
	// overWidth is the least overlap of pieces, mm, and overShare of a piece's length.
	overWidth, overShare = 200.0, 0.15
	// leastLoop pieces go round a body, so that they hold each other.
	leastLoop, mostPieces = 3, 12
)

// Predict returns what a way is expected to come to on a part.
//
// In pieces the far end of each is off by what grew along its own path; begun in the middle, by 2^p times less. The part's length is as
// wrong in pieces as in one go where they are merely chained; round a body they hold each other as a loop does.
func Predict(p Part, g *Growth, w Way) Prediction {
	n := float64(max(w.Pieces, 1))
	out := Prediction{Way: w, Path: p.Path() / n, Joins: true}
	own := out.Path
	if w.Start == InMiddle {
		own /= 2
	}
	out.FarEnd = g.At(own)
	whole := g.At(p.Path())
	switch {
	case w.Hold == Markers:
		local := g.At(min(own, betweenMarkers))
		frame := float64(frameError*p.Length) / 1000
		out.FarEnd = math.Sqrt(float64(local*local) + float64(frame*frame))
		out.Length = out.FarEnd
	case !p.Closes():
		out.Length = float64(lengthPanel * whole)
		out.Joins = w.Pieces < 2 || out.FarEnd <= closable
	case w.Hold == Loop:
		out.Length = float64(lengthClosed * whole)
		out.Joins = out.FarEnd <= closable
		out.FarEnd = Closed(whole, 0.5)
	case w.Pieces >= leastLoop:
		out.Length = float64(lengthClosed * whole)
		out.Joins = out.FarEnd <= closable
	default:
		out.Length = float64(lengthOpen * whole)
		out.Joins = w.Pieces < 2 || out.FarEnd <= closable
	}
	return out
}

// Closes tells a body that is gone round from a panel.
func (p Part) Closes() bool { return min(p.Width, p.Height) > stroke }

// Plan is the way to scan next.
type Plan struct {
	OK      bool // a way meets what is wanted
	Why     string
	Wanted  float64 // mm, over the part's length, k = 2
	Part    Part
	Growth  Growth
	Closed  bool       // what was seen is perhaps of a scan whose loop a program has closed, and so less than what the scanner drifts by
	Now     Prediction // in one go, as a start: what would come out
	Chosen  Prediction
	Tried   []Prediction // every way looked at, the simplest first
	Overlap float64      // mm that pieces share
	Bar     float64      // mm, the least length of a scale bar beside the part
	Steps   []string     // what to do, in order
}

// Find returns the simplest way of scanning a part whose error over its length, twice its root mean square, is no more than
// wanted mm: one go before pieces, few before many, without markers before with.
func Find(p Part, g Growth, wanted float64) Plan {
	out := Plan{Wanted: wanted, Part: p, Growth: g}
	switch {
	case !(wanted > 0):
		out.Why = fmt.Sprintf("an accuracy of %g mm cannot be planned for", wanted)
		return out
	case !g.OK:
		out.Why = "no plan, because " + g.Why
		return out
	case !(p.Length > 0):
		out.Why = "the part has no size"
		return out
	}
	ways := []Way{{1, AtEnd, Surface}}
	if p.Closes() {
		ways = append(ways, Way{1, AtEnd, Loop})
		for n := leastLoop; n <= mostPieces; n++ {
			ways = append(ways, Way{n, AtEnd, Surface}, Way{n, InMiddle, Surface})
		}
	}
	ways = append(ways, Way{1, InMiddle, Markers})
	if p.Closes() {
		ways = append(ways, Way{6, InMiddle, Markers})
	}
	best := math.Inf(1)
	for k, w := range ways {
		q := Predict(p, &g, w)
		if k == 0 {
			out.Now = q
		}
		out.Tried = append(out.Tried, q)
		switch {
		case !q.Joins || out.OK:
		case 2*q.Length <= wanted:
			out.Chosen, out.OK = q, true
		case q.Length < best:
			out.Chosen, best = q, q.Length
		}
	}
	if !out.OK {
		out.Why = fmt.Sprintf("no way of scanning with this scanner reaches %.3g mm over %.2f m: the best comes to %.3g mm (k = 2)", wanted, p.Length/1000, 2*out.Chosen.Length)
	}
	out.Bar = 2.0 / 3 * p.Length
	out.steps()
	return out
}

// steps words the chosen way.
func (p *Plan) steps() {
	c := p.Chosen
	add := func(format string, args ...any) { p.Steps = append(p.Steps, fmt.Sprintf(format, args...)) }
	switch {
	case c.Pieces > 1:
		each := p.Part.Path() / float64(c.Pieces)
		p.Overlap = max(overWidth, float64(overShare*p.Part.Length/math.Ceil(float64(c.Pieces)/2)))
		add("scan in %d pieces of about %.0f m of travel each", c.Pieces, each/1000)
		add("let neighbouring pieces overlap by %.0f mm or more, over edges and openings in two directions, not in a narrow strip along a smooth panel", math.Ceil(p.Overlap/10)*10)
	case c.Hold == Loop:
		add("scan in one go round the body, about %.0f m of travel, and over the start again by 300 mm, so that the scanner can close the loop", c.Path/1000)
	default:
		add("scan in one go, about %.0f m of travel", c.Path/1000)
	}
	switch {
	case c.Hold == Markers:
		add("begin in the middle and go each way; held by the markers, either end will be about %s mm off", verdict.TwoDigits(c.FarEnd))
	case c.Start == InMiddle:
		add("begin in the middle and go each way: either end is then %.1f times less off (%s mm) than the far end of a path begun at its end", p.Growth.Tighter(), verdict.TwoDigits(c.FarEnd))
	case c.Hold != Loop:
		add("begin at one end; the far end will be about %s mm off", verdict.TwoDigits(c.FarEnd))
	}
	if c.Hold == Markers {
		add("put markers all over the part, 50 to 100 mm apart on smooth panels, irregularly, five in every view, none within 10 mm of an edge, and measure them once as a frame before the scan")
	}
	add("lay a scale bar of %.1f m or more beside the part, and a second one in another direction that is used for nothing but checking", math.Ceil(p.Bar/100)/10)
	if c.Hold == Markers {
		add("when all is scanned, scan a hand's width of the start once more, its markers taken off: what it is off by tells the scanner's drift; once may be luck, three times is not")
	} else {
		add("when all is scanned, scan a hand's width of the start once more: what it is off by tells the scanner's drift; once may be luck, three times is not")
	}
}
