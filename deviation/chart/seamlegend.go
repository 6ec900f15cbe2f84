package chart

import (
	"cmp"
	"slices"

	"shutline/deviation/gapflush"
)

// missingWord is why a stretch without a value has none, in a word; "" where that is not the station's state.
func missingWord(state gapflush.State) string {
	if state == gapflush.Measured {
		return ""
	}
	return string(state)
}

// missingWords says what hatched stretches of a seam are, from the fullest wording to the shortest: with every reason and the number of its
// stations, the most frequent first. It has none where every station has its values.
func missingWords(r *gapflush.Result) []string {
	counts := map[string]int{}
	var reasons []string
	missing := false
	for i := range r.Stations {
		st := &r.Stations[i]
		if st.Gap.OK && st.Flush.OK {
			continue
		}
		missing = true
		if word := missingWord(st.State); word != "" {
			if counts[word]++; counts[word] == 1 {
				reasons = append(reasons, word)
			}
		}
	}
	if !missing {
		return nil
	}
	const bare = "no value"
	if len(reasons) == 0 {
		return []string{bare}
	}
	slices.SortStableFunc(reasons, func(a, b string) int { return cmp.Compare(counts[b], counts[a]) })
	// Two spaces stand between what is said by itself, see Theme.Say.
	text, parting := bare, ":  "
	for _, word := range reasons {
		text += parting + word + "  (" + count(counts[word]) + ")"
		parting = ",  "
	}
	return []string{text, bare}
}

// missingLegend says what the hatch means and why it is there, however narrow the hatched stretches are: between header's ends, else
// between those of the second row, else at the end of the row of the axis. It returns up to where that row is free.
func (s *sheet) missingLegend(r *gapflush.Result, header, second [2]float64, axis SeamAxis, row float64) (free float64) {
	free = s.w - s.px(2)
	const sign, between, most = 16, 6, 0.6 // of the axis, which keeps labels
	for _, words := range missingWords(r) {
		wide := s.px(sign+between) + s.width(small, regular, words)
		switch {
		case wide <= header[1]-header[0]:
			s.missingKey(header[1]-wide, s.px(15), words)
			return free
		case wide <= second[1]-second[0]:
			s.missingKey(second[1]-wide, s.px(15+sidesRow), words)
			return free
		case wide <= most*(axis.Right-axis.Left):
			s.missingKey(axis.Right-wide, row, words)
			return axis.Right - wide - s.px(12)
		}
	}
	return free
}

// missingKey draws a piece of the hatch, and what it means beside it.
func (s *sheet) missingKey(x, y float64, words string) {
	s.hatch(x, y-s.px(9), x+s.px(16), y+s.px(1))
	s.frame(x, y-s.px(9), x+s.px(16), y+s.px(1))
	s.text(x+s.px(22), y, small, regular, s.th.Faint, leftOf, words)
}
