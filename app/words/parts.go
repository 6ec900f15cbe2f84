package words

import (
	"path/filepath"
	"slices"
	"strings"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

// Parts words the meshes as read.
func (w Writer) Parts(p *app.Parts) Card {
	c := Card{Headline: w.say("parts.headline", "The scan is read", nil)}
	if p.Reference != nil {
		c.Headline = w.say("parts.headline.both", "Scan and reference are read", nil)
	}
	if n := p.Exchanged(); n != "" {
		c.Headline, c.Verdict = w.say("parts.headline.exchanged", "Have scan and reference been swapped?", nil), verdict.Undecided
		c.add(capital(n))
	}
	w.part(&c, w.say("parts.scan", "The scan", nil), w.say("parts.ofscan", "the scan", nil), p.Scan, p.Box(p.Scan.Mesh).Size(), p.Examined.Scan)
	if p.Reference != nil {
		w.part(&c, w.say("parts.reference", "The reference", nil), w.say("parts.ofreference", "the reference", nil), p.Reference, p.Box(p.Reference.Mesh).Size(), p.Examined.Reference)
	}
	if p.Unexamined() {
		c.add(w.say("parts.unexamined", "Whether the meshes have faults of their own is not known yet.", nil))
	}
	for _, n := range p.Notes {
		// What was judged has just been said, in the same words for both meshes.
		if strings.Contains(n, "the unit was judged from the size") {
			continue
		}
		if !slices.ContainsFunc(c.Found, func(s Sentence) bool { return s.Text == capital(n) }) {
			c.add(capital(n))
		}
	}
	switch {
	case c.Verdict == verdict.Undecided:
		c.next(w.say("parts.next.exchanged", "Look which file is the scan: what scatters is one, what is smooth is a drawing. Take them the other way round if they are swapped.", nil))
	case p.Reference == nil:
		c.next(w.say("parts.next.reference", "Add a reference to compare the surface with; seams are measured without one.", nil))
	default:
		c.next(w.say("parts.next", "Check that both sizes are what you expect, then look at Place.", nil))
	}
	return c
}

func (w Writer) part(c *Card, who, whom string, l *meshio.Loaded, size geom.Vec, health *quality.Examination) {
	data := fields{"Who": who, "Whom": whom, "Faces": Count(len(l.Mesh.Faces)), "Points": Count(len(l.Mesh.Vertices)), "Size": Size(size), "File": filepath.Base(l.Path)}
	if len(l.Mesh.Faces) > 0 {
		c.add(w.say("parts.size", "{{.Who}} has {{.Faces}} triangles on {{.Points}} points and measures {{.Size}}.", data))
	} else {
		c.add(w.say("parts.cloud", "{{.Who}} is {{.Points}} points without faces and measures {{.Size}}.", data))
	}
	data["Unit"] = string(l.Unit)
	switch l.UnitSource {
	case "judged":
		c.add(w.say("parts.unit.judged", "{{.Who}} does not say its unit: {{.Unit}} was judged from its size. Check it.", data))
	case "format":
		c.add(w.say("parts.unit.format", "{{.Who}} is in {{.Unit}}, as its format says.", data))
	}
	if n := l.DroppedNotFinite + l.DroppedNoArea; n > 0 {
		data["N"], data["Bad"] = Count(n), Count(l.DroppedNotFinite)
		c.add(w.say("parts.dropped", "{{.N}} faces of {{.File}} were left out: {{.Bad}} with corners that are no numbers, the others without area.", data))
	}
	if health == nil {
		return
	}
	if n := len(health.Health.Panels()); n > 1 {
		data["N"] = Count(n)
		c.add(w.say("parts.pieces", "{{.Who}} is in {{.N}} separate pieces, as panels are; one that is not the part, such as a stand, counts in the figures too.", data))
	}
	grave := health.Grave()
	if len(l.Mesh.Faces) == 0 {
		grave = health.Faults()
	}
	for _, f := range grave {
		data["Fault"] = f
		c.add(w.say("parts.fault", "{{.Who}}: {{.Fault}}", data))
	}
	// The lesser ones are named, what each means is for the tables.
	var lesser []string
	for _, f := range health.Faults() {
		if !slices.Contains(grave, f) {
			name, _, _ := strings.Cut(f, ": ")
			lesser = append(lesser, name)
		}
	}
	if len(lesser) > 0 {
		data["Faults"] = strings.Join(lesser, "; ")
		c.add(w.say("parts.lesser", "Lesser faults of {{.Whom}}: {{.Faults}}. Figures bear them; results.json says what each means.", data))
	}
}

// Place words the placement.
func (w Writer) Place(p *app.Placed) Card {
	pl := p.Placement
	data := fields{"RMS": MM(pl.RMS), "Points": Count(pl.PointsUsed), "Share": Percent(pl.ShareUsed)}
	c := Card{Headline: w.placeHeadline(&pl, data)}
	w.placedBy(&c, &pl)
	switch {
	case !pl.RMSKnown || pl.PointsUsed == 0:
	case pl.Datums != nil || pl.Pairs != nil:
		c.add(w.say("place.rms.follow", "{{.Points}} points ({{.Share}} of those offered) follow the reference so; their RMS distance from it is {{.RMS}}.", data))
	default:
		c.add(w.say("place.rms", "{{.Points}} points ({{.Share}} of those offered) carry the placement; their RMS distance from the reference is {{.RMS}}.", data))
	}
	w.runnerUp(&c, &pl)
	names := w.Motions()
	free, worst := []string{}, -1
	for i := range 6 {
		if pl.Free[i] {
			free = append(free, names[i])
		} else if i < 3 && (worst < 0 || pl.Sigma[i] > pl.Sigma[worst]) {
			worst = i
		}
	}
	if worst >= 0 && (pl.Method == "best-fit" || pl.Datums != nil || pl.Pairs != nil) && pl.Sigma[worst] > 0 {
		data["Axis"], data["U"] = names[worst], verdict.TwoDigits(2*pl.Sigma[worst])
		switch {
		case pl.Free[0] || pl.Free[1] || pl.Free[2]:
			c.add(w.say("place.weakest.held", "Of the shifts that are held the {{.Axis}} is the least sure: ± {{.U}} mm (k = 2).", data))
		case evenShifts(&pl, worst):
			c.add(w.say("place.shifts", "The shifts are known to ± {{.U}} mm (k = 2).", data))
		default:
			c.add(w.say("place.weakest", "Least sure of the shifts is the {{.Axis}}: ± {{.U}} mm (k = 2).", data))
		}
	}
	// A placement that nothing was compared with has no motion that could be held.
	nothing := !pl.RMSKnown && len(free) == len(names)
	given := pl.Method == inspection.Given || pl.Method == inspection.None
	switch {
	case nothing:
	case given && len(free) > 0:
		data["Free"] = Count(len(names) - len(free))
		c.add(w.say("place.free.given", "The position is taken as exact: no U holds what it may be off by. The surface alone would hold {{.Free}} of the 6 motions there to 1 mm.", data))
	default:
		for _, f := range free {
			data["Axis"] = f
			c.add(w.say("place.free", "The {{.Axis}} is not held by the surface: there is no number for it, and deviations along it mean nothing.", data))
		}
	}
	c.addAll(pl.Notes)
	w.others(&c, p)
	switch {
	case w.placeNext(&c, &pl):
	case pl.Ambiguous:
		c.Verdict = verdict.Undecided
		c.add(w.say("place.ambiguous", "A second, different position explains the scan nearly as well.", nil))
		c.next(w.say("place.next.ambiguous", "Look at the part from several sides. If it lies wrong, scan more of its edges and corners.", nil))
	case nothing && w.Astray:
		c.Verdict = verdict.Undecided
		c.next(w.placeFirst())
	case nothing:
		c.Verdict = verdict.NotJudged
		c.next(w.say("place.next.nothing", "Check that the paths of the seams and the points of the lengths are in the frame the scan is in now.", nil))
	case len(free) > 0 && pl.Method == "best-fit":
		c.Verdict = verdict.Undecided
		c.next(w.say("place.next.free", "Scan a corner or an edge that stops the part from sliding, or trust seams only: gaps and flushes do not depend on it.", nil))
	case len(free) > 0:
		c.Verdict = verdict.Undecided
		c.next(w.say("place.next.free.given", "Trust the placement only as far as you trust where it comes from: this surface does not hold it.", nil))
	default:
		c.Verdict = verdict.Conforms
		c.next(w.say("place.next", "Go on to Surface.", nil))
	}
	return c
}

// evenShifts reports whether the three shifts are held, and so equally that none is worth naming as the least sure.
func evenShifts(pl *align.Placement, worst int) bool {
	const equal = 0.95
	for i := range 3 {
		if pl.Free[i] || pl.Sigma[i] < equal*pl.Sigma[worst] {
			return false
		}
	}
	return true
}

// Motions names the six motions of a placement in their order.
func (w Writer) Motions() [6]string {
	return [6]string{
		w.say("motion.tx", "shift along x", nil), w.say("motion.ty", "shift along y", nil), w.say("motion.tz", "shift along z", nil),
		w.say("motion.rx", "turn about x", nil), w.say("motion.ry", "turn about y", nil), w.say("motion.rz", "turn about z", nil),
	}
}

// Surface words the comparison.
func (w Writer) Surface(o *app.Outcome) Card {
	cmp, in := o.Compared, o.Inspection.Surface
	s := cmp.Summary
	f, byArea := s.Figures()
	data := fields{
		"Lo": Signed(in.Tolerance.Lo), "Hi": Signed(in.Tolerance.Hi), "Share": Percent(f.ShareInTolerance), "Wanted": Percent(in.Share),
		"RMS": MM(f.RMS), "Mean": Signed(f.Mean), "Low": Signed(f.P025), "High": Signed(f.P975),
		"Reach": MM(in.Reach), "Covered": Percent(s.ReferenceCovered),
	}
	c := Card{Verdict: cmp.Worst()}
	if !f.OK {
		c.Headline = w.say("surface.headline.nothing", "No point of the scan could be compared", nil)
		c.Verdict = verdict.Undecided
	} else {
		c.Headline = w.say("surface.headline", "{{.Share}} of the measured surface lies within {{.Lo}} to {{.Hi}}", data)
		if !byArea {
			c.Headline = w.say("surface.headline.points", "{{.Share}} of the measured points lie within {{.Lo}} to {{.Hi}}", data)
			c.add(w.say("surface.points.only", "Without faces every point counts once: where the scan is dense it weighs more.", nil))
		}
		switch {
		case in.HasShare && byArea:
			c.add(w.say("surface.wanted", "Wanted: {{.Wanted}} of the area.", data))
		case in.HasShare:
			c.add(w.say("surface.wanted.points", "Wanted: {{.Wanted}} of the points.", data))
		default:
			c.add(w.say("surface.reported", "No share is asked for, so the surface is reported and not judged.", nil))
		}
		if byArea {
			c.add(w.say("surface.rms", "RMS {{.RMS}}, mean {{.Mean}}; 95 % of the area lies between {{.Low}} and {{.High}}.", data))
		} else {
			c.add(w.say("surface.rms.points", "RMS {{.RMS}}, mean {{.Mean}}; 95 % of the points lie between {{.Low}} and {{.High}}.", data))
		}
		w.extremes(&c, o)
		w.regions(&c, o)
		w.doubts(&c, o)
	}
	total := s.Count[0] + s.Count[1] + s.Count[2] + s.Count[3]
	if out := total - s.Count[0]; out > 0 && total > 0 {
		data["Out"], data["OutShare"] = Count(out), Percent(float64(out)/float64(total))
		data["Far"], data["Away"], data["Edge"] = Count(s.Count[deviation.BeyondReach]), Count(s.Count[deviation.FacingAway]), Count(s.Count[deviation.OffEdge])
		c.add(w.say("surface.unmeasured", "{{.Out}} points ({{.OutShare}}) have no number: {{.Far}} beyond the reach of {{.Reach}}, {{.Away}} facing away, {{.Edge}} past the part's edge.", data))
	}
	if cmp.Ambiguous {
		c.add(w.say("surface.ambiguous", "The placement is ambiguous: these deviations may be of another place of the reference, and decide nothing.", nil))
	}
	const muchAway = 0.1 // returns and inner skins come to less
	if away := s.Count[deviation.FacingAway]; float64(away) > muchAway*float64(total) {
		c.add(w.say("surface.away", "So much faces away from the reference: faces of the scan or of the reference are turned over, or an inner skin was scanned.", nil))
	}
	c.add(w.say("surface.covered", "The scan covers {{.Covered}} of the reference.", data))
	w.points(&c, cmp.Points)
	for _, d := range cmp.Unacceptable(o.Inspection) {
		c.add(w.doubtful(d))
	}
	c.addAll(cmp.Field.Notes)
	decided := c.Verdict // but for points that are not on the part, which no scan decides
	if f.OK && w.astray(&c, cmp.Points) {
		decided = beside(cmp).Worst()
	}
	switch short := in.HasShare && f.ShareInTolerance >= in.Share && s.ReferenceCovered < in.Share; {
	case decided == verdict.DoesNotConform:
		c.next(w.say("surface.next.bad", "Look at the coloured places: red stands proud, blue lies low. Then measure the seams around them.", nil))
	case decided == verdict.Undecided && !f.OK:
		c.next(w.say("surface.next.nothing", "Place the scan on the reference first: a best fit needs no starting position.", nil))
	case decided == verdict.Undecided && short:
		c.next(w.say("surface.next.more", "What was scanned is within tolerance, but too little was: scan what is hatched.", nil))
	case decided == verdict.Undecided:
		c.next(w.say("surface.next.open", "Too little is certain to decide: scan what is hatched, or widen the tolerance if the job allows it.", nil))
	default:
		c.next(w.say("surface.next", "Go on to Seams.", nil))
	}
	return c
}
