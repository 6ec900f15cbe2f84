package chart

import (
	"cmp"
	"strings"

	"shutline/deviation/gapflush"
)

// key is an entry of a station's legend: a sign as it is drawn there, and what it means.
type key struct {
	words string
	wide  float64 // layout units, of the sign
	draw  func(x, y float64)
}

// stationKeys returns what the drawing's signs mean, of those that stand in it.
func (s *sheet) stationKeys(st *gapflush.Station) (list []key) {
	var seen, carried, dashed, zone bool
	for k := range st.Side {
		f := &st.Side[k]
		if !fitted(f) {
			continue
		}
		zone = true
		seen = seen || f.NoseState == gapflush.Seen
		carried = carried || f.NoseState == gapflush.Carried
		dashed = dashed || f.Edge == gapflush.Round && f.Radius > 0 && f.NoseState == gapflush.Carried
	}
	c := s.th.Faint
	if seen {
		list = append(list, key{"nose seen", 7, func(x, y float64) { s.dot(x+s.px(3.5), y, 3.2, c) }})
	}
	if carried {
		list = append(list, key{"nose carried on", 7, func(x, y float64) { s.ring(x+s.px(3.5), y, 2.8, 1.4, c) }})
	}
	if dashed {
		list = append(list, key{"edge carried on", 18, func(x, y float64) {
			for d := 0.0; d < 18; d += 7 {
				s.line(x+s.px(d), y, x+s.px(d+4), y, 1.6, c)
			}
		}})
	}
	if zone {
		list = append(list, key{"face zone", 14, func(x, y float64) {
			s.line(x, y, x+s.px(14), y, 3, c)
			for _, d := range []float64{0.6, 13.4} {
				s.line(x+s.px(d), y-s.px(4), x+s.px(d), y+s.px(4), 1.2, c)
			}
		}})
	}
	return list
}

// stationLegend writes the signs' meanings into one row that ends at right; those without room are left out.
func (s *sheet) stationLegend(st *gapflush.Station, left, right, y float64) {
	keys := s.stationKeys(st)
	wide := func() (sum float64) {
		for _, k := range keys {
			sum += s.px(k.wide+5+16) + s.width(small, regular, k.words)
		}
		return sum - s.px(16)
	}
	for len(keys) > 0 && wide() > right-left {
		keys = keys[:len(keys)-1]
	}
	if len(keys) == 0 {
		return
	}
	x := right - wide()
	for _, k := range keys {
		k.draw(x, y-s.px(4))
		x = s.text(x+s.px(k.wide+5), y, small, regular, s.th.Faint, leftOf, k.words) + s.px(16)
	}
}

// whyAndWhat is why a station has no gap and what to do.
func whyAndWhat(st *gapflush.Station) string {
	if _, do := st.Reason(); do != "" {
		return st.Why
	}
	why := st.Why
	if remedy := st.State.Remedy(); remedy != "" {
		why += " " + remedy
	}
	return strings.TrimSpace(why)
}

// sideWords says what is drawn of a side.
func sideWords(st *gapflush.Station, side int) string {
	f := &st.Side[side]
	switch {
	case !fitted(f) && shows(st, side):
		return "seen, not fitted"
	case !fitted(f):
		return "not seen"
	case f.Edge == gapflush.Chamfer:
		return "chamfer, nose " + noseWord(f)
	case f.Radius > 0:
		return "r " + number(f.Radius, 2) + " mm, nose " + noseWord(f)
	}
	return "sharp, nose " + noseWord(f)
}

func noseWord(f *gapflush.SideFit) string { return cmp.Or(f.NoseState.String(), "unseen") }

// shows reports whether anything is drawn beside a station's middle on a side.
func shows(st *gapflush.Station, side int) bool {
	away := 1.0
	if side == int(gapflush.A) {
		away = -1
	}
	for _, q := range st.Points {
		if float64(q.S*away) > 0 {
			return true
		}
	}
	for _, line := range st.Profile {
		for _, q := range line {
			if float64(q.S*away) > 0 {
				return true
			}
		}
	}
	return false
}
