package gapflush

import (
	"math"
	"regexp"
	"strings"
	"unicode"

	"shutline/mesh/geom"
)

// Toward is a direction told by the nearest axis of the frame: axis 0, 1, 2 for x, y, z and which way along it.
type Toward struct {
	Axis  int
	Minus bool
}

// String returns "+x" or "-x".
func (t Toward) String() string {
	return map[bool]string{false: "+", true: "-"}[t.Minus] + string("xyz"[t.Axis])
}

// Opposite returns the other way along the same axis.
func (t Toward) Opposite() Toward { return Toward{t.Axis, !t.Minus} }

// TowardOf returns the axis nearest to a direction; false for one that has no length. Of axes as near, the first.
func TowardOf(d geom.Vec) (t Toward, ok bool) {
	most := 0.0
	for k, c := range [3]float64{d.X, d.Y, d.Z} {
		if math.Abs(c) > most {
			most, t, ok = math.Abs(c), Toward{k, c < 0}, true
		}
	}
	return t, ok
}

// SideRun says which way the sides lie along a run of stations, indices into [Result.Stations]. The
// directions are those square to the seam in the skin: A lies opposite to B.
type SideRun struct {
	First, Last int
	A, B        Toward
}

// across is the direction from A to B where there is a seam and its outside is known, else the zero vector.
func (s *Station) across() geom.Vec {
	if s.State == OffPath || s.State == TwoSkins {
		return geom.Vec{}
	}
	return s.A
}

// tellsSides is the least share of a direction along one axis by which the two sides of a whole seam are
// told: 3 mm across a gap of 10 mm is seen with the eye.
const tellsSides = 0.3

// Sides returns which way sides A and B lie, so that a person at the vehicle can tell them apart: one run where an
// axis tells it of the whole seam, else, as round a wheel arch, a run for every nearest axis; none without a station.
func (r *Result) Sides() []SideRun {
	var sum geom.Vec
	least := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}
	first, last := -1, -1
	for i := range r.Stations {
		a := r.Stations[i].across()
		if a == (geom.Vec{}) {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		sum = sum.Add(a)
	}
	if first < 0 {
		return nil
	}
	total := [3]float64{sum.X, sum.Y, sum.Z}
	for i := range r.Stations {
		if a := r.Stations[i].across(); a != (geom.Vec{}) {
			for k, c := range [3]float64{a.X, a.Y, a.Z} {
				least[k] = min(least[k], math.Copysign(c, c*total[k]))
			}
		}
	}
	best := -1
	for k := range total {
		if least[k] >= tellsSides && (best < 0 || math.Abs(total[k]) > math.Abs(total[best])) {
			best = k
		}
	}
	if best >= 0 {
		b := Toward{best, total[best] < 0}
		return []SideRun{{first, last, b.Opposite(), b}}
	}
	var runs []SideRun
	for i := first; i <= last; i++ {
		b, ok := TowardOf(r.Stations[i].across())
		switch n := len(runs) - 1; {
		case !ok:
		case n >= 0 && runs[n].B == b:
			runs[n].Last = i
		default:
			runs = append(runs, SideRun{i, i, b.Opposite(), b})
		}
	}
	return runs
}

// sideWords stand at the end of a name for the side of the vehicle that the whole seam is on.
var sideWords = []string{"left", "right"}

// stretchWords stand at the end of the name of a part of a seam: ", 0 to 300 mm".
var stretchWords = regexp.MustCompile(`, [0-9.]+ to [0-9.]+ mm$`)

// partings stand between the names of two panels, those that say most first: in English, in German, and signs.
var partings = []string{" to ", " zu ", " – ", " - ", " / ", "/"}

// parted cuts a name in two where it names two panels, each by at least one letter.
func parted(name string) (sides [2]string, by string, ok bool) {
	for _, by := range partings {
		a, b, found := strings.Cut(name, by)
		if found && strings.ContainsFunc(a, unicode.IsLetter) && strings.ContainsFunc(b, unicode.IsLetter) {
			return [2]string{a, b}, by, true
		}
	}
	return sides, "", false
}

// Panels returns what sides A and B are called: a seam named "wing to door" parts the wing from the door, as do "wing zu door",
// "wing - door" and "wing/door", and
// one named "wing to door left" is the one on the left: both panels are that side's, and neither is called so.
// What follows a comma or stands in brackets, as in "wing to door, lower", says where the seam lies.
// A stretch's panels are those of the whole. ok is false where the name does not say.
func (s *Seam) Panels() (sides [2]string, ok bool) {
	sides, _, _, ok = s.named()
	return sides, ok
}

// TurnedName returns the name of the seam with its panels exchanged; "" where it does not say them.
func (s *Seam) TurnedName() string {
	sides, by, where, ok := s.named()
	if !ok {
		return ""
	}
	return sides[1] + by + sides[0] + where
}

// named returns what the sides are called, what parts their names, and what the name says after that of where the seam lies.
func (s *Seam) named() (sides [2]string, by, where string, ok bool) {
	name := s.Name
	if s.Whole != "" {
		name = s.Whole
	}
	sides, by, ok = parted(stretchWords.ReplaceAllString(name, ""))
	if i := strings.IndexAny(sides[1], ",("); i > 0 {
		sides[1], where = sides[1][:i], sides[1][i:]
		if where[0] == '(' {
			where = " " + where
		}
	}
	sides[0], sides[1] = strings.TrimSpace(sides[0]), strings.TrimSpace(sides[1])
	for _, word := range sideWords {
		if n := len(sides[1]) - len(" "+word); n > 0 && strings.EqualFold(sides[1][n:], " "+word) {
			where = sides[1][n:] + where
			sides[1] = strings.TrimSpace(sides[1][:n])
		}
	}
	if sides[0] == "" || sides[1] == "" {
		return [2]string{}, "", "", false
	}
	return sides, by, where, ok
}
