package words

import (
	"math"

	"shutline/app"
	"shutline/deviation"
	"shutline/deviation/evidence"
	"shutline/deviation/verdict"
)

// Change words how the second of two results of a part differs from the first.
func (w Writer) Change(c *app.Change) Card {
	s := c.Surface
	data := fields{
		"Changed": Percent(s.Share[deviation.Changed]), "Same": Percent(s.Share[deviation.NotChanged]), "Open": Percent(s.Share[deviation.Undecidable]),
		"Unseen": Percent(s.Share[deviation.NotCompared]), "Limit": MM(s.Limit), "Mean": Signed(s.Mean), "RMS": MM(s.RMS), "N": Count(len(s.Regions.List)),
		"Noise": fixed(c.Noise[0], 3), "Second": fixed(c.Noise[1], 3),
	}
	var card Card
	switch n := len(s.Regions.List); {
	case s.Share[deviation.NotCompared] == 1:
		card.Headline = w.say("change.nothing", "No place is seen by both scans, so nothing could be compared", data)
		return card
	case n == 0 && s.Share[deviation.Changed] > 0:
		card.Headline = w.say("change.specks", "No connected place on the surface has changed by more than its uncertainty, only specks", data)
	case n == 0:
		card.Headline = w.say("change.none", "No place on the surface has changed by more than its uncertainty", data)
	case n == 1:
		card.Headline = w.say("change.one", "One place on the surface has changed", data)
	default:
		card.Headline = w.say("change.some", "{{.N}} places on the surface have changed", data)
	}
	card.add(w.say("change.shares", "Of the reference's area {{.Same}} has surely not changed by {{.Limit}} or more, {{.Open}} is undecided, {{.Changed}} differs by more than its uncertainty (where nothing changed 5 % does, by noise), and {{.Unseen}} is not seen by both scans.", data))
	card.add(w.say("change.mean", "The second scan lies {{.Mean}} from the first on average; the RMS of the change is {{.RMS}}.", data))
	box := c.Samples.Mesh.Bounds()
	for k := range s.Regions.List {
		if k == mostTold {
			data["More"] = Count(len(s.Regions.List) - mostTold)
			card.add(w.say("change.more", "More places are in changes.csv: {{.More}}.", data))
			break
		}
		r := &s.Regions.List[k]
		at := c.Samples.Mesh.Vertices[r.Peak]
		peak := verdict.Value{V: math.Abs(r.Value.V), U: r.Value.U, OK: true}
		d := fields{"K": k + 1, "Where": w.Thirds(r.Centre, box), "Size": extent(r.Size), "Area": w.area(r.Area), "Peak": WithU(peak, "mm"), "Mean": MM(math.Abs(r.Mean)), "Spot": Spot(at)}
		said := w.say("change.prouder", "Place {{.K}}, in {{.Where}}, {{.Size}} ({{.Area}}), is up to {{.Peak}} prouder than before, {{.Mean}} on average; most at {{.Spot}}.", d)
		if r.Value.V < 0 {
			said = w.say("change.lower", "Place {{.K}}, in {{.Where}}, {{.Size}} ({{.Area}}), is up to {{.Peak}} lower than before, {{.Mean}} on average; most at {{.Spot}}.", d)
		}
		card.Found = append(card.Found, Sentence{Text: said, At: &at})
	}
	for _, n := range c.Notes {
		card.add(capital(n))
	}
	return card
}

// ChangedSeam words how a seam differs.
func (w Writer) ChangedSeam(s app.SeamChange) Card {
	data := fields{"Name": s.Name, "Why": inside(s.Why), "N": len(s.Stations)}
	if s.Why != "" {
		return Card{Headline: w.say("change.seam.not", "Not compared: {{.Why}}", data)}
	}
	var card Card
	said := func(gap bool) string {
		count := [4]int{}
		var most app.StationChange
		worst := -1.0
		for _, st := range s.Stations {
			v, d := st.Flush, st.FlushDecision
			if gap {
				v, d = st.Gap, st.GapDecision
			}
			count[d]++
			if d == deviation.Changed && math.Abs(v.V) > worst {
				worst, most = math.Abs(v.V), st
			}
		}
		f := fields{"Changed": count[deviation.Changed], "Same": count[deviation.NotChanged], "Open": count[deviation.Undecidable], "None": count[deviation.NotCompared], "K": most.Index}
		text := ""
		if gap {
			text = w.say("change.gaps", "Gap: changed at {{.Changed}} stations, not changed at {{.Same}}, undecided at {{.Open}}, without a number at {{.None}}.", f)
		} else {
			text = w.say("change.flushes", "Flush: changed at {{.Changed}} stations, not changed at {{.Same}}, undecided at {{.Open}}, without a number at {{.None}}.", f)
		}
		if c := deviation.ByChance(count[1]+count[2]+count[3], count[deviation.Changed]); c.Of >= leastForChance {
			text += " " + w.chance(c)
		}
		if worst < 0 {
			return text
		}
		before, after, change := most.FlushBefore, most.FlushAfter, most.Flush
		if gap {
			before, after, change = most.GapBefore, most.GapAfter, most.Gap
		}
		f["Before"], f["After"], f["Change"] = WithU(before, "mm"), WithU(after, "mm"), WithU(change, "mm")
		return text + " " + w.say("change.most", "Most at station {{.K}}: from {{.Before}} to {{.After}}, a change of {{.Change}}.", f)
	}
	card.Headline = w.say("change.seam", "{{.N}} stations of both results side by side", data)
	card.add(said(true))
	card.add(said(false))
	return card
}

// leastForChance is how many differences make chance worth a word: of so many one leaves its U.
const leastForChance = 20

// chance says how many differences would leave their U where nothing has changed, beside how many do.
func (w Writer) chance(c deviation.Chance) string {
	f := fields{"N": c.Of, "Expected": fixed(c.Expected, 1), "Changed": c.Changed, "P": Percent(c.P)}
	switch {
	case c.Changed == 0:
		return w.say("change.chance.none", "Of {{.N}} about {{.Expected}} would leave their U by chance where nothing has changed; none does.", f)
	case c.Explains():
		return w.say("change.chance", "Of {{.N}} about {{.Expected}} would leave their U by chance where nothing has changed; {{.Changed}} {{if eq .Changed 1}}does{{else}}do{{end}}, which chance alone explains (it gives as many or more in {{.P}} of cases).", f)
	}
	return w.say("change.chance.more", "Of {{.N}} about {{.Expected}} would leave their U by chance where nothing has changed; {{.Changed}} do, more than chance explains (it gives as many in {{.P}} of cases, if stations err independently).", f)
}

// ChangedSeams words all seams together: what is said of each may be chance.
func (w Writer) ChangedSeams(seams []app.SeamChange) Card {
	all := evidence.ChanceOf(seams, true, true)
	if all.Of < leastForChance {
		return Card{}
	}
	card := Card{Headline: w.say("change.seams", "{{.Changed}} of {{.N}} gaps and flushes differ by more than their U", fields{"Changed": all.Changed, "N": all.Of})}
	card.add(w.chance(all))
	if all.Changed > 0 && all.Explains() {
		card.add(w.say("change.seams.chance", "Take none of them for a change by itself: look whether neighbouring stations have changed the same way.", nil))
	}
	return card
}

// ChangedPoints words how the named points differ; empty where there are none.
func (w Writer) ChangedPoints(points []app.PointChange) Card {
	var card Card
	if len(points) == 0 {
		return card
	}
	changed := 0
	for k := range points {
		p := &points[k]
		at := p.At
		d := fields{"Name": p.Name, "Why": p.Why, "Before": WithU(p.Before, "mm"), "After": WithU(p.After, "mm"), "Change": WithU(p.Change, "mm")}
		said := ""
		switch {
		case p.Why != "":
			said = w.say("change.point.not", "{{.Name}}: not compared: {{.Why}}.", d)
		case p.Decision == deviation.Changed:
			changed++
			said = w.say("change.point.changed", "{{.Name}} has changed by {{.Change}}, from {{.Before}} to {{.After}}.", d)
		case p.Decision == deviation.NotChanged:
			said = w.say("change.point.same", "{{.Name}} has not changed by anything that matters: {{.Change}}.", d)
		case p.Decision == deviation.Undecidable:
			said = w.say("change.point.open", "{{.Name}}: whether it has changed cannot be told: {{.Change}}.", d)
		default:
			said = w.unseenPoint(p, d)
		}
		card.Found = append(card.Found, Sentence{Text: said, At: &at})
	}
	data := fields{"N": Count(changed), "Of": Count(len(points))}
	card.Headline = w.say("change.points", "{{.N}} of {{.Of}} named points have changed", data)
	return card
}

// unseenPoint says in which of both results a point has no deviation, and why.
func (w Writer) unseenPoint(p *app.PointChange, d fields) string {
	d["First"], d["Second"] = w.spotState(p.StateBefore), w.spotState(p.StateAfterwards)
	switch {
	case p.After.OK:
		return w.say("change.point.unseen.first", "{{.Name}} has no deviation in the first result: {{.First}}.", d)
	case p.Before.OK:
		return w.say("change.point.unseen.second", "{{.Name}} has no deviation in the second result: {{.Second}}.", d)
	case p.StateBefore == p.StateAfterwards:
		return w.say("change.point.unseen.both", "{{.Name}} has no deviation in either result: {{.First}}.", d)
	}
	return w.say("change.point.unseen.each", "{{.Name}} has no deviation in either result: in the first {{.First}}, in the second {{.Second}}.", d)
}

// spotState says why a named place has no deviation.
func (w Writer) spotState(state string) string {
	switch state {
	case deviation.OffReference.String():
		return w.say("spot.off-reference", "the reference lies further from it than the reach", nil)
	case deviation.NoScan.String():
		return w.say("spot.no-scan", "the scan has too few points around it", nil)
	case deviation.PlacementFree.String():
		return w.say("spot.placement-free", "the placement may move along the surface's normal there", nil)
	}
	return w.say("spot.no-value", "it has no value", nil)
}
