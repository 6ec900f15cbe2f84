package words

import (
	"regexp"
	"slices"

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

// without is stations that have no gap for one reason.
type without struct {
	why, do string // of the first of them; do is "" where the state alone tells what to do
	at      []int
	own     bool // the reason's numbers are the first one's own
}

var digits = regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)

// reasons parts stations of one state by why they have no gap; those that differ in numbers only are told together.
func reasons(r *gapflush.Result, at []int) (list []without) {
	like := map[string]int{}
	for _, i := range at {
		why, do := r.Stations[i].Reason()
		kind := digits.ReplaceAllString(why, "#")
		n, there := like[kind]
		if !there {
			n = len(list)
			like[kind] = n
			list = append(list, without{why: why, do: do})
		}
		list[n].at = append(list[n].at, i)
		list[n].own = list[n].own || why != list[n].why
	}
	return list
}

// missing words the stations without a gap, with the reason that stands beside their pictures.
func (w Writer) missing(c *Card, k int, r *gapflush.Result) {
	order, at := byState(r)
	for _, s := range order {
		for _, x := range reasons(r, at[s]) {
			data := fields{"Stations": w.stations(r, x.at), "K": r.Stations[x.at[0]].Index, "State": w.StationState(s), "Why": x.why}
			said := ""
			switch {
			case x.why == "":
				said = w.say("seam.missing", "No gap at {{.Stations}}: {{.State}}.", data)
			case x.own:
				said = w.say("seam.missing.own", "No gap at {{.Stations}}: {{.State}}. At station {{.K}}: {{.Why}}", data)
			default:
				said = w.say("seam.missing.why", "No gap at {{.Stations}}: {{.State}}. {{.Why}}", data)
			}
			c.at(said, Place{k, x.at[0]})
		}
	}
}

// advice says what would bring a number, reason by reason. Where most of a seam has
// none, or where the path meets no seam, for reasons that do not say more, the path itself is the first suspect.
func (w Writer) advice(c *Card, r *gapflush.Result) {
	order, at := byState(r)
	lost, off := 0, 0
	for _, s := range order {
		for _, x := range reasons(r, at[s]) {
			if x.do == "" {
				lost += len(x.at)
				if s == gapflush.OffPath {
					off += len(x.at)
				}
			}
		}
	}
	beside := 2*off > len(r.Stations)
	switch {
	case beside:
		c.next(w.say("advice.path.off", "The path is not where the scan has this seam: check its points, and that scan and path are in one frame.", nil))
		if w.OwnFrame && !w.Reference {
			c.next(w.say("advice.path.frame", "Without a reference, paths are in the scan's own frame.", nil))
		}
	case 2*lost > len(r.Stations):
		c.next(w.say("advice.path.most", "Most stations have no gap: see first whether the path runs along the middle of this gap, then at each reason.", nil))
	}
	for _, s := range order {
		var plain []int
		for _, x := range reasons(r, at[s]) {
			if x.do == "" {
				plain = append(plain, x.at...)
				continue
			}
			c.next(w.say("advice.state", "{{.Stations}}: {{.Advice}}", fields{"Stations": capitalWord(w.stations(r, x.at)), "Advice": inside(x.do) + "."}))
		}
		text := w.remedy(s)
		if text == "" || len(plain) == 0 || beside {
			continue
		}
		slices.Sort(plain)
		c.next(w.say("advice.state", "{{.Stations}}: {{.Advice}}", fields{"Stations": capitalWord(w.stations(r, plain)), "Advice": text}))
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
		return w.say("advice.no-face", "scan the faces just behind the edges; the seam's face zone (face) says how far back they are used.", nil)
	case gapflush.TooCoarse:
		return w.say("advice.too-coarse", "scan finer: the points must lie closer than the edge's radius.", nil)
	case gapflush.ThirdPanel:
		return w.say("advice.third-panel", "shorten the seam's face zone (face), or end the path before the third panel.", nil)
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
		return w.say("state.nose-unseen", "the scan does not tell how far an edge reaches, so only the flush is known", nil)
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
