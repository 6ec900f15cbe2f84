package words

import (
	"strings"

	"shutline/deviation/gapflush"
)

// byState lists the stations that were not measured, state by state in the order they appear.
func byState(r *gapflush.Result) (order []gapflush.State, at map[gapflush.State][]int) {
	at = map[gapflush.State][]int{}
	for i := range r.Stations {
		s := r.Stations[i].State
		if s == gapflush.Measured {
			continue
		}
		if at[s] == nil {
			order = append(order, s)
		}
		at[s] = append(at[s], i)
	}
	return order, at
}

// missing words the stations without a gap.
func (w Writer) missing(c *Card, k int, r *gapflush.Result) {
	order, at := byState(r)
	for _, s := range order {
		reasons, of := byReason(r, at[s])
		if len(reasons) > mostReasons || reasons[0] == "" {
			data := fields{"Stations": w.stations(r, at[s]), "Why": w.StationState(s)}
			c.at(w.say("seam.missing", "No gap at {{.Stations}}: {{.Why}}.", data), Place{k, at[s][0]})
			continue
		}
		for _, why := range reasons {
			list := of[why]
			data := fields{"Stations": w.stations(r, list), "Why": r.Stations[list[0]].Why}
			c.at(w.say("seam.missing.why", "No gap at {{.Stations}}: {{.Why}}", data), Place{k, list[0]})
		}
	}
}

// mostReasons are told one by one; of more only the state they have in common is.
const mostReasons = 3

// byReason parts stations by what is said of them, its numbers aside, in the order it is first said.
func byReason(r *gapflush.Result, stations []int) (order []string, at map[string][]int) {
	at = map[string][]int{}
	for _, i := range stations {
		why := strings.Map(func(c rune) rune {
			if c >= '0' && c <= '9' {
				return -1
			}
			return c
		}, r.Stations[i].Why)
		if at[why] == nil {
			order = append(order, why)
		}
		at[why] = append(at[why], i)
	}
	return order, at
}

// advice says what would bring a number, state by state. Where most of a seam has
// none, or where the path meets no seam, the path itself is the first suspect.
func (w Writer) advice(c *Card, r *gapflush.Result) {
	order, at := byState(r)
	lost := len(r.Stations) - r.Measured
	off := len(at[gapflush.OffPath])
	switch {
	case 2*off > len(r.Stations):
		c.next(w.say("advice.path.off", "The path is not where the scan has this seam: check its points, and that scan and path are in one frame.", nil))
		if w.OwnFrame {
			c.next(w.say("advice.path.frame", "Without a reference, paths are in the scan's own frame.", nil))
		}
		return
	case 2*lost > len(r.Stations):
		c.next(w.say("advice.path.most", "Most stations have no gap: see first whether the path runs along the middle of this gap, then at each reason.", nil))
	}
	for _, s := range order {
		text := w.remedy(s)
		if text == "" {
			continue
		}
		c.next(w.say("advice.state", "{{.Stations}}: {{.Advice}}", fields{"Stations": capitalWord(w.stations(r, at[s])), "Advice": text}))
	}
}

// remedy says what helps against a state.
func (w Writer) remedy(s gapflush.State) string {
	switch s {
	case gapflush.NoseUnseen:
		return w.say("advice.nose-unseen", "scan slantwise into the gap from both sides, so that the scan reaches round the edges.", nil)
	case gapflush.SideMissing:
		return w.say("advice.side-missing", "scan the panel that is missing, or end the path where it ends.", nil)
	case gapflush.Bridged:
		return w.say("advice.bridged", "the scan was closed over the gap: make it again without filling holes, or scan closer.", nil)
	case gapflush.TwoSkins:
		return w.say("advice.two-skins", "take the second skin (an inner panel, a double pass, a reflection) out of the scan.", nil)
	case gapflush.NoFace:
		return w.say("advice.no-face", "scan the faces just behind the edges; the key face of the seam says how far back they are used.", nil)
	case gapflush.TooCoarse:
		return w.say("advice.too-coarse", "scan finer: the points must lie closer than the edge's radius.", nil)
	case gapflush.ThirdPanel:
		return w.say("advice.third-panel", "shorten the key face of the seam, or end the path before the third panel.", nil)
	case gapflush.NotParallel:
		return w.say("advice.not-parallel", "end the path before the edges part, as at a corner.", nil)
	case gapflush.OffPath:
		return w.say("advice.off-path", "the path leaves the gap there; bring its points back to the middle.", nil)
	}
	return ""
}

// StationState says what a station's state means.
func (w Writer) StationState(s gapflush.State) string {
	switch s {
	case gapflush.Measured:
		return w.say("state.measured", "measured", nil)
	case gapflush.NoseUnseen:
		return w.say("state.nose-unseen", "the scan does not reach round an edge, so only the flush is known", nil)
	case gapflush.SideMissing:
		return w.say("state.side-missing", "one panel is not in the scan there", nil)
	case gapflush.Bridged:
		return w.say("state.bridged", "the scan runs across the gap without a break", nil)
	case gapflush.TwoSkins:
		return w.say("state.two-skins", "two skins lie over one another and it cannot be told which is outside", nil)
	case gapflush.NoFace:
		return w.say("state.no-face", "there is no face behind the edge to measure from", nil)
	case gapflush.TooCoarse:
		return w.say("state.too-coarse", "the points lie further apart than the edge is round", nil)
	case gapflush.ThirdPanel:
		return w.say("state.third-panel", "a third panel reaches into the face", nil)
	case gapflush.NotParallel:
		return w.say("state.not-parallel", "the two edges run apart by more than 15°", nil)
	case gapflush.OffPath:
		return w.say("state.off-path", "there is no seam where the path runs", nil)
	}
	return string(s)
}
