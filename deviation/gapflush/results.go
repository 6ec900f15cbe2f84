package gapflush

import (
	"context"
	"fmt"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// finish turns what the scan, which c cut, shows into results and judges them.
func (j *job) finish(ctx context.Context, c *cutter, raws []raw) error {
	j.settle(raws)
	expected := j.expected(raws)
	shareCarry(raws)
	j.shareForm(raws)
	stations := make([]Station, len(raws))
	none := noneBeside(raws, j.seam.Edges, j.stride())
	var w worker
	for i := range raws {
		o := &raws[i]
		stations[i] = Station{Index: j.seam.Before + i + 1, Along: j.seam.From + o.along, P: o.frame.p, F: o.frame.f, A: o.frame.a, U: o.frame.u, State: o.state, Why: o.why}
		j.checkEnds(raws, i, expected[i], &stations[i])
		if wide, spread, change, ok := widthBeside(raws, i, j.stride()); ok {
			checkWidth(o, wide, spread, change, &stations[i])
		}
		checkLedge(raws, i, j.stride(), &stations[i])
		o.checkBeside(none[i], &stations[i])
		o.checkUntold(&stations[i])
		if st := &stations[i]; o.state == Measured && st.State != Measured {
			st.State, st.Why = c.orDoubled(&w, o, st.State, st.Why)
		}
	}
	for i, u := range unnoticed(raws, j.stride()) {
		raws[i].unnoticed = u
	}
	err := parallel.Chunks(ctx, len(raws), stationChunk, j.set.Threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			o, st := &raws[i], &stations[i]
			j.fill(o, st)
			st.Points, st.Profile = o.points, o.profile
			j.nominals(i, st)
			j.judge(st)
		}
	})
	if err != nil {
		return err
	}
	j.refuseInward(stations)
	j.refuseFolded(stations)
	j.result.Stations = stations
	j.slant()
	j.compareNominals()
	j.doubtTyped()
	j.summary()
	return nil
}

// edgeForm is the standard uncertainty, mm, of a fitted nose for what the model
// leaves out: hems that are not quite round, edges that are not straight over the
// band. Common practice, no source; on made-up hems with 0.03 mm noise and 2.4 mm
// spacing the fits' own scatter understates the error by about as much.
const edgeForm = 0.007

// notRound is the standard uncertainty, mm, of the radius of what was not seen of a roll for that of what was. A
// roll that goes on from an angle with a radius greater by d has its nose d (1 - sin) of that angle farther on, after
// a whole quarter turn d. A hem that is not quite round leaves its circle by leavesBy at most, or its points would be
// taken for a web: so d lies within it either way, all of that as likely (JCGM 100:2008, 4.3.7: a rectangle).
const notRound = leavesBy / 1.7320508075688772

// formRoom is edgeForm, or what the points of a roll that was seen past its nose leave room for,
// where that is less: the mean of so many of them as lie on a twelfth of it is known to their scatter
// over the root of their number.
func (e *edge) formRoom() float64 {
	const parts = slabCount * 3
	if e.kind != Round || e.seen < pastNose || e.n == 0 {
		return edgeForm
	}
	return min(edgeForm, e.sigma*math.Sqrt(parts/float64(e.n)))
}

func (j *job) fill(o *raw, st *Station) {
	for k := A; k <= B; k++ {
		if o.seenA[k] {
			st.Side[k] = j.sideFit(o, k)
		}
	}
	if st.State != Measured && st.State != NoseUnseen {
		return
	}
	m := j.seam.Master
	g := evaluate(&o.side, &[2][5]float64{}, m)
	lines := &g.edges
	t := lines[m].tangent
	f := feeler(&lines[m], &lines[1-m], t)
	if st.State == Measured && f.length == 0 {
		// Two sheets cannot run through one another: what was fitted is no edge.
		st.State, st.Why = Bridged, "The two fitted edges run through one another, as when the scan runs across the gap."
		return
	}
	var carriedU []BudgetLine
	for k := A; k <= B; k++ {
		dir := t
		if k != m {
			dir = Point2{-t.S, -t.H}
		}
		carriedU = append(carriedU, o.nose(k, &lines[k], dir, &st.Side[k])...)
	}
	carriedU = append(carriedU, flangesEnd(lines, m)...)
	by := movedBy(&o.side, m)
	lb, u := budget(by, func(f *figures) float64 { return f.flush }, j.further(g.flush, across(lines)))
	if u > mostFlushU {
		st.State, st.Why = NoFace, fmt.Sprintf("The points of this station hold its faces so weakly that the flush would be known to %.0f mm only.", u)
		return
	}
	st.Flush, st.FlushBudget = value(g.flush, u), lb
	_, u = budget(by, func(f *figures) float64 { return f.angle }, nil)
	st.Angle = value(g.angle, u)
	if st.State != Measured {
		return
	}
	fa, fb := o.side[A].edge.formRoom(), o.side[B].edge.formRoom()
	form := BudgetLine{"form of the edges", math.Sqrt(float64(fa*fa) + float64(fb*fb))}
	lb, u = budget(by, func(f *figures) float64 { return f.gap }, append(append(carriedU, form), j.further(g.gap, g.gap)...))
	if u > mostU {
		st.State, st.Why = NoseUnseen, fmt.Sprintf("The points of this station hold its edges so weakly that the gap would be known to %.0f mm only.", u)
		return
	}
	st.Gap, st.GapBudget = value(g.gap, u), lb
	e := f.along(&lines[m], &lines[1-m])
	for i := range carriedU {
		carriedU[i].U *= math.Abs(dot(e, t))
	}
	st.Feeler = value(f.length, feelerU(by, m, &g, &f, append(append(carriedU, form), j.further(f.length, f.length)...)))
}

// nose fills in where a side's nose lies along dir and how it was seen, and returns what is not known of it besides the scatter of its fits.
func (o *raw) nose(k Side, line *outline, dir Point2, sf *SideFit) (lines []BudgetLine) {
	e := &o.side[k].edge
	sf.Shoulder, sf.Tangent, sf.Normal = line.shoulder, line.tangent, line.normal
	if !e.found {
		sf.NoseState = Unseen
		return nil
	}
	sf.Nose = line.noseAlong(dir)
	sf.NoseState = Carried
	if e.kind == Round && e.seen < shortArc {
		// A web that moves a short arc by less than would be noticed: rectangular.
		lines = append(lines, BudgetLine{"shortness of arc " + sideName[k], o.unnoticed / math.Sqrt(3)})
	}
	if o.grazedU[k] > 0 {
		lines = append(lines, BudgetLine{"edge seen grazingly " + sideName[k], o.grazedU[k]})
	}
	if o.thinnedU > 0 {
		lines = append(lines, BudgetLine{"thinning of the scan " + sideName[k], o.thinnedU})
	}
	flange, on, whole := line.flangeBudget(k, &o.side[k].flange, dir)
	lines = append(lines, flange...)
	if on {
		sf.Flange, sf.FlangeFrom = true, along(line.flange.at, line.flange.top, line.flange.down)
		if whole {
			sf.NoseState = Seen
		}
		return lines
	}
	if line.noseAmong(e.phis, dir) {
		sf.NoseState = Seen
		return lines
	}
	// A hem that is not quite round, besides what is not known of the radius.
	sin, _ := geom.Sincos(min(e.seen, math.Pi/2))
	return append(lines, BudgetLine{"nose carried on " + sideName[k], notRound * max(1-sin, 0.02)})
}

const (
	// mostU is an expanded uncertainty, mm, as wide as gaps are: a figure known no better says nothing.
	mostU = 10.0
	// mostFlushU is the same of a flush, of which that much is a step that anybody sees.
	mostFlushU = 3.0
)

// feelerU is the expanded uncertainty of the feeler. By how much the shortest
// distance changes, the places it touches move along it; that they also move
// across it is of second order.
func feelerU(by []moved, m Side, g *figures, f *touch, more []BudgetLine) float64 {
	e := f.along(&g.edges[m], &g.edges[1-m])
	_, u := budget(by, func(g *figures) float64 {
		return dot(e, sub(g.edges[1-m].at(f.b), g.edges[m].at(f.a)))
	}, more)
	return u
}

// across is the distance between the shoulders, mm: over so much of the scan a flush is measured, however small it is.
func across(lines *[2]outline) float64 {
	return length(sub(lines[B].shoulder, lines[A].shoulder))
}

// further is what the scan and the temperature add to a figure in mm that is measured over so many mm of the scan.
func (j *job) further(figure, over float64) []BudgetLine {
	lines := []BudgetLine{{"scale of the scan", math.Abs(over) * j.set.ScalePPM * 1e-6}}
	if j.set.HasTemperature {
		// A gap between panels does not grow as one material does, so nothing is
		// corrected; the whole expansion counts as not known.
		lines = append(lines, BudgetLine{"temperature", math.Abs(figure * j.set.Expansion * (j.set.Temperature - 20))})
	}
	return lines
}

func (j *job) sideFit(o *raw, k Side) SideFit {
	s := &o.side[k]
	return SideFit{Found: true, Curvature: s.face.c, Edge: s.edge.kind, Radius: s.edge.r, SeenTo: s.edge.seen,
		FaceFrom: j.seam.Face[0], FaceTo: j.seam.Face[1], FacePoints: s.face.n, EdgePoints: s.edge.n}
}

func (j *job) nominals(i int, st *Station) {
	gap, flush := verdict.Value{}, verdict.Value{}
	if j.ref != nil {
		o := &j.ref[i]
		if o.state == Measured || o.state == NoseUnseen {
			g := evaluate(&o.side, &[2][5]float64{}, j.seam.Master)
			flush = value(g.flush, 0)
			if o.state == Measured && o.side[A].edge.toldWhole() && o.side[B].edge.toldWhole() {
				gap = value(g.gap, 0)
			}
		}
	}
	st.GapNominal, st.FlushNominal = gap, flush
	if j.seam.Gap.HasNominal {
		st.GapNominal = value(j.seam.Gap.Nominal, 0)
	}
	if j.seam.Flush.HasNominal {
		st.FlushNominal = value(j.seam.Flush.Nominal, 0)
	}
}

func (j *job) judge(st *Station) {
	one := func(v, nominal verdict.Value, t Target) verdict.Verdict {
		switch {
		case !t.Judged || !v.OK:
			return verdict.NotJudged
		case !nominal.OK:
			return verdict.Undecided
		}
		return verdict.Decide(v, verdict.Tolerance{Lo: nominal.V + t.Tolerance.Lo, Hi: nominal.V + t.Tolerance.Hi})
	}
	st.GapVerdict = one(st.Gap, st.GapNominal, j.seam.Gap)
	st.FlushVerdict = one(st.Flush, st.FlushNominal, j.seam.Flush)
}
