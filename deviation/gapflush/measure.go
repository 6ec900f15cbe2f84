package gapflush

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// ErrNoFaces is returned for a scan that is only points.
var ErrNoFaces = errors.New("the scan has no faces; gap and flush need a mesh")

const (
	inspectionRadiusU = 0.1  // mm, definitions.md
	referenceRadiusU  = 0.2  // mm, definitions.md
	assumedNoise      = 0.03 // mm, for the first look, before the scan has told its own
	stationChunk      = 4
)

// Measure measures a seam on a scan that has been carried into the reference's
// frame. ref may be nil: then nominals that were not given are missing. It
// returns an error that wraps ErrPath for a path that cannot be walked,
// ErrNoFaces for a scan without faces, or ctx's.
func Measure(ctx context.Context, placed, ref *mesh.Mesh, seam Seam, s Settings, progress mesh.Progress) (*Result, error) {
	path, err := newPolyline(seam.Path)
	if err != nil {
		return nil, fmt.Errorf("gapflush: seam %q: %w", seam.Name, err)
	}
	seam = withDefaults(seam)
	if len(placed.Faces) == 0 {
		return nil, fmt.Errorf("gapflush: seam %q: %w", seam.Name, ErrNoFaces)
	}
	j := &job{seam: seam, set: s, path: path, at: path.stations(seam.Every), result: &Result{Seam: seam}}
	reach := math.Sqrt(2*seam.Window*seam.Window + reachAlong*reachAlong)
	if ref != nil && len(ref.Faces) > 0 {
		if err := j.reference(ctx, ref, reach, progress.Part(0, 0.4)); err != nil {
			return nil, err
		}
	}
	p, err := extract(ctx, placed, path, reach, s.Threads)
	if err != nil {
		return nil, err
	}
	c := &cutter{patch: p, path: path, seam: &j.seam}
	kn := j.before()
	first, err := j.run(ctx, c, kn, nil, progress.Part(0.4, 0.7))
	if err != nil {
		return nil, err
	}
	j.pool(first, kn)
	j.poolRadius(first, kn)
	pitches(first, kn)
	raws, err := j.run(ctx, c, kn, first, progress.Part(0.7, 0.95))
	if err != nil {
		return nil, err
	}
	j.finish(c, raws)
	progress.Report(1)
	return j.result, nil
}

func withDefaults(s Seam) Seam {
	d := DefaultSeam(s.Name, s.Path)
	if !(s.Every > 0) {
		s.Every = d.Every
	}
	if !(s.Window > 0) {
		s.Window = d.Window
	}
	if !(s.Band > 0) {
		s.Band = d.Band
	}
	s.Band = min(s.Band, reachAlong-2)
	if !(s.Face[1] > s.Face[0]) {
		s.Face = d.Face
	}
	return s
}

// job is one seam being measured.
type job struct {
	seam   Seam
	set    Settings
	path   *polyline
	at     []float64
	ref    []raw // nil without a reference
	noise  float64
	result *Result
}

func (j *job) note(format string, args ...any) {
	j.result.Notes = append(j.result.Notes, fmt.Sprintf(format, args...))
}

func (j *job) run(ctx context.Context, c *cutter, kn []known, before []raw, progress mesh.Progress) ([]raw, error) {
	out := make([]raw, len(j.at))
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, len(j.at), stationChunk, j.set.Threads, progress, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			hint := geom.Vec{}
			if j.ref != nil && !c.reference && j.ref[i].outU {
				hint = j.ref[i].frame.u
			}
			var prev *raw
			if before != nil {
				prev = &before[i]
			}
			out[i] = c.measure(&workers[w], j.at[i], kn[i], hint, prev)
		}
	})
	return out, err
}

// reference measures the stations on the reference: for nominals, radii and curvatures.
func (j *job) reference(ctx context.Context, ref *mesh.Mesh, reach float64, progress mesh.Progress) error {
	p, err := extract(ctx, ref, j.path, reach, j.set.Threads)
	if err != nil {
		return err
	}
	c := &cutter{patch: p, path: j.path, seam: &j.seam, reference: true}
	kn := make([]known, len(j.at))
	for i := range kn {
		for k := A; k <= B; k++ {
			kn[i].radius[k], kn[i].radiusU[k] = defaultRadius, 5
			if j.seam.Radius[k] > 0 {
				kn[i].radius[k] = j.seam.Radius[k]
			}
		}
		kn[i].noise = 0.002 // mm, chords of a usual reference
	}
	raws, err := j.run(ctx, c, kn, nil, progress.Part(0, 0.6))
	if err != nil {
		return err
	}
	for i := range raws {
		for k := A; k <= B; k++ {
			if raws[i].seenA[k] {
				kn[i].curvature[k] = raws[i].side[k].face.quad
			}
			if raws[i].side[k].edge.found {
				kn[i].radius[k] = raws[i].side[k].edge.r
			}
		}
	}
	j.ref, err = j.run(ctx, c, kn, raws, progress.Part(0.6, 1))
	return err
}

// before returns what is known of every station before the scan is looked at.
func (j *job) before() []known {
	kn := make([]known, len(j.at))
	var pooled [2]float64
	for k := A; k <= B; k++ {
		var r []float64
		for i := range j.ref {
			if j.ref[i].side[k].edge.found {
				r = append(r, j.ref[i].side[k].edge.r)
			}
		}
		if pooled[k] = median(r); j.seam.Radius[k] == 0 && len(r) == 0 && j.seam.Edges[k] == Round {
			j.note("The radius of side %s's edge was not given and no reference shows it; %.1f mm with a standard uncertainty of %.1f mm was assumed.", sideName[k], defaultRadius, defaultRadiusU)
		}
	}
	for i := range kn {
		kn[i].noise = assumedNoise
		if j.set.Noise > 0 {
			kn[i].noise = j.set.Noise
		}
		for k := A; k <= B; k++ {
			switch {
			case j.seam.Radius[k] > 0:
				kn[i].radius[k], kn[i].radiusU[k] = j.seam.Radius[k], inspectionRadiusU
			case j.ref != nil && j.ref[i].side[k].edge.found:
				kn[i].radius[k], kn[i].radiusU[k] = j.ref[i].side[k].edge.r, referenceRadiusU
			case pooled[k] > 0:
				kn[i].radius[k], kn[i].radiusU[k] = pooled[k], referenceRadiusU
			default:
				kn[i].radius[k], kn[i].radiusU[k] = defaultRadius, defaultRadiusU
			}
			if j.ref != nil && j.ref[i].seenA[k] {
				kn[i].curvature[k] = j.ref[i].side[k].face.quad
			}
		}
	}
	return kn
}

// pool takes the noise and the curvatures from the whole seam. A reference's
// curvature stays where the scan's own zones agree with it.
func (j *job) pool(first []raw, kn []known) {
	var sigmas []float64
	for i := range first {
		for k := A; k <= B; k++ {
			if first[i].seenA[k] {
				sigmas = append(sigmas, first[i].side[k].face.sigma)
			}
		}
	}
	j.noise = j.set.Noise
	if j.noise <= 0 {
		j.noise = max(median(sigmas), 0.0005)
	}
	for k := A; k <= B; k++ {
		mean, u := pooledCurvature(first, k)
		for i := range kn {
			kn[i].noise = j.noise
			f := &first[i].side[k].face
			fromRef := j.ref != nil && j.ref[i].seenA[k]
			c := kn[i].curvature[k]
			// A tenth of the curvature, and the 2 % of 1/m two panels of one shape differ by.
			uc := math.Abs(c)/10 + 2e-5
			if fromRef && first[i].seenA[k] && f.quadU > 0 && math.Abs(f.quad-c) > 4*math.Sqrt(f.quadU*f.quadU+uc*uc) {
				fromRef = false
			}
			if !fromRef {
				c, uc = mean, u
			}
			if first[i].seenA[k] && f.quadU > 0 {
				// What even the chosen curvature does not explain counts as not known.
				if d := math.Abs(f.quad - c); d > 4*math.Sqrt(f.quadU*f.quadU+uc*uc) {
					uc = max(uc, d/2)
				}
			}
			kn[i].curvature[k], kn[i].curvatureU[k] = c, uc
		}
	}
}

// poolRadius takes the radius of an edge that nothing told from the stations that
// saw it well round: a hem is made with one tool along its length.
func (j *job) poolRadius(first []raw, kn []known) {
	const wellRound, few = 70 * math.Pi / 180, 3
	for k := A; k <= B; k++ {
		var r []float64
		for i := range first {
			if e := &first[i].side[k].edge; e.found && e.seen >= wellRound {
				r = append(r, e.r)
			}
		}
		if len(r) < few {
			continue
		}
		mean := median(r)
		for i := range r {
			r[i] = math.Abs(r[i] - mean)
		}
		// A tenth of a millimetre is what an inspection's radius is taken to be known to.
		u := max(robustSigma(r, 1), inspectionRadiusU)
		for i := range kn {
			if kn[i].radiusU[k] > u && kn[i].radiusU[k] >= defaultRadiusU {
				kn[i].radius[k], kn[i].radiusU[k] = mean, u
			}
		}
	}
}

// pitches gives every station the spacing of points on the edges hereabouts: the
// median over the stations beside it, for one station's few points scatter. Where
// no edge was found at all it is the spacing on the faces.
func pitches(first []raw, kn []known) {
	const beside = 4 // stations either way
	for i := range kn {
		for k := A; k <= B; k++ {
			var near []float64
			for d := max(i-beside, 0); d <= min(i+beside, len(first)-1); d++ {
				if p := first[d].side[k].pitch; p > 0 {
					near = append(near, p)
				}
			}
			if kn[i].pitch[k] = median(near); len(near) == 0 && !math.IsInf(first[i].spread, 1) {
				kn[i].pitch[k] = first[i].spread
			}
		}
	}
}

// pooledCurvature is the robust mean of what the stations' zones show, and how
// far a station may lie from it: the scatter their own noise does not explain.
func pooledCurvature(first []raw, k Side) (mean, u float64) {
	var q, uu []float64
	for i := range first {
		if f := &first[i].side[k].face; first[i].seenA[k] && f.quadU > 0 {
			q, uu = append(q, f.quad), append(uu, f.quadU)
		}
	}
	if len(q) == 0 {
		return 0, 5e-4 // a radius of 2 m either way
	}
	n := float64(len(q))
	typical := median(uu)
	middle := median(slices.Clone(q))
	off := make([]float64, len(q))
	for i := range q {
		off[i] = math.Abs(q[i] - middle)
	}
	spread := robustSigma(off, 1)
	sum, weights := 0.0, 0.0
	for _, c := range q {
		w := tukey(c-middle, max(spread, typical))
		sum += float64(w * (c - middle))
		weights += w
	}
	mean = middle + sum/weights
	between := math.Sqrt(max(spread*spread-typical*typical, 0))
	// One step of the biweight from the median is about 95 % efficient.
	return mean, math.Sqrt(max(spread*spread, typical*typical)/(0.95*n)+between*between) + 2e-5
}

func (j *job) further(gap float64) []BudgetLine {
	lines := []BudgetLine{{"scale of the scan", math.Abs(gap) * j.set.ScalePPM * 1e-6}}
	if j.set.HasTemperature {
		// A gap between panels does not grow as one material does, so nothing is
		// corrected; the whole expansion counts as not known.
		lines = append(lines, BudgetLine{"temperature", math.Abs(gap * j.set.Expansion * (j.set.Temperature - 20))})
	}
	return lines
}

// finish turns what the scan shows into results and judges them.
func (j *job) finish(c *cutter, raws []raw) {
	w := &worker{}
	expected := j.expected(raws)
	for i := range raws {
		o := &raws[i]
		st := Station{Index: i + 1, Along: o.along, P: o.frame.p, F: o.frame.f, A: o.frame.a, U: o.frame.u, State: o.state, Why: o.why}
		j.checkEnds(o, expected[i], &st)
		if w, spread, ok := widthBeside(raws, i); ok {
			checkWidth(o, w, spread, &st)
		}
		j.fill(o, &st)
		if o.outU {
			c.picture(w, o, &st)
		}
		j.nominals(i, &st)
		j.judge(&st)
		j.result.Stations = append(j.result.Stations, st)
	}
	j.compareNominals()
	j.summary()
}

// expected returns where each side's shoulder should be: as the stations on
// either side with a found edge say, mm from the path toward the gap.
func (j *job) expected(raws []raw) [][2]float64 {
	out := make([][2]float64, len(raws))
	for i := range raws {
		for k := A; k <= B; k++ {
			out[i][k] = math.NaN()
			var near []float64
			for d := max(i-4, 0); d <= min(i+4, len(raws)-1); d++ {
				if d != i && raws[d].side[k].edge.found {
					near = append(near, raws[d].side[k].edge.s)
				}
			}
			if len(near) >= 2 {
				out[i][k] = median(near)
			} else if j.ref != nil && j.ref[i].side[k].edge.found {
				out[i][k] = j.ref[i].side[k].edge.s
			}
		}
	}
	return out
}

// checkEnds refuses a face that stops short of where the edge must be: what
// was taken for the shoulder is the border of a hole.
func (j *job) checkEnds(o *raw, expected [2]float64, st *Station) {
	const short = 3.0 // mm; misfit moves both edges of a gap by less between stations
	for k := A; k <= B; k++ {
		if st.State != NoseUnseen || o.side[k].edge.found {
			continue
		}
		if d := expected[k] - o.side[k].edge.s; d > short {
			st.State = NoFace
			st.Why = fmt.Sprintf("The face of side %s stops %.0f mm before its edge.", sideName[k], d)
		}
	}
}

// width is the distance of a station's shoulders; it does not hang on how
// straight the path was drawn.
func (o *raw) width() (w float64, ok bool) {
	return -o.side[A].edge.s - o.side[B].edge.s, o.state == Measured
}

const (
	// shortArc is less of a roll than tells it from a web by its shape alone: over 50°
	// a web that is straight leaves a roll of 1 mm by 0.1 mm.
	shortArc = 50 * math.Pi / 180
	wave     = 0.2 // mm, that real gaps change by between stations besides their scatter
)

// widthBeside is the median width of the stations on either side and how it scatters.
func widthBeside(raws []raw, i int) (w, spread float64, ok bool) {
	const beside, few = 4, 3
	var near []float64
	for d := max(i-beside, 0); d <= min(i+beside, len(raws)-1); d++ {
		if v, ok := raws[d].width(); ok && d != i && raws[d].side[A].edge.seen >= shortArc && raws[d].side[B].edge.seen >= shortArc {
			near = append(near, v)
		}
	}
	if len(near) < few {
		return 0, 0, false
	}
	w = median(near)
	for k := range near {
		near[k] = math.Abs(near[k] - w)
	}
	return w, robustSigma(near, 1), true
}

// checkWidth refuses a station with a short arc whose shoulders stand closer than
// those on either side: a web that goes on along the face before it dips looks
// like a panel that is longer there.
func checkWidth(o *raw, w, spread float64, st *Station) {
	if st.State != Measured {
		return
	}
	v := float64(spread * spread)
	worst := Side(-1)
	for k := A; k <= B; k++ {
		e := &o.side[k].edge
		v += e.data[0][0] + float64(e.prior[0]*e.prior[0])
		if e.kind == Round && e.seen < shortArc && (worst < 0 || e.seen < o.side[worst].edge.seen) {
			worst = k
		}
	}
	if got, _ := o.width(); worst >= 0 && w-got > wave+3*math.Sqrt(v) {
		st.State = NoseUnseen
		st.Why = fmt.Sprintf("The edges stand %.1f mm closer than on either side, and too little of side %s's edge was seen to tell it from a web.", w-got, sideName[worst])
		o.side[worst].edge.found = false
	}
}

// edgeForm is the standard uncertainty, mm, of a fitted nose for what the model
// leaves out: hems that are not quite round, edges that are not straight over the
// band. Common practice, no source; on made-up hems with 0.03 mm noise and 2.4 mm
// spacing the fits' own scatter understates the error by about as much.
const edgeForm = 0.007

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
		sf, e := &st.Side[k], &o.side[k].edge
		phi := math.Atan2(dot(dir, lines[k].tangent), dot(dir, lines[k].normal))
		sf.Shoulder, sf.Tangent, sf.Normal = lines[k].shoulder, lines[k].tangent, lines[k].normal
		if !e.found {
			sf.NoseState = Unseen
			continue
		}
		sf.Nose = lines[k].noseAlong(dir)
		sf.NoseState = Carried
		if e.kind == Round && e.seen < shortArc {
			// A web that moves a short arc by less than checkWidth notices: rectangular.
			carriedU = append(carriedU, BudgetLine{"shortness of arc " + sideName[k], wave / math.Sqrt(3)})
		}
		near := 0
		for _, p := range e.phis {
			if math.Abs(p-phi) <= 10*math.Pi/180 || e.kind != Round {
				near++
			}
		}
		if near >= 2 {
			sf.NoseState = Seen
			continue
		}
		// A hem that is not quite round: a tenth of what is carried on.
		carriedU = append(carriedU, BudgetLine{"nose carried on " + sideName[k], 0.1 * e.r * max(1-math.Sin(min(e.seen, math.Pi/2)), 0.02)})
	}
	lb, u := budget(&o.side, m, func(f *figures) float64 { return f.flush }, j.further(g.flush))
	st.Flush, st.FlushBudget = value(g.flush, u), lb
	_, u = budget(&o.side, m, func(f *figures) float64 { return f.angle }, nil)
	st.Angle = value(g.angle, u)
	if st.State != Measured {
		return
	}
	form := BudgetLine{"form of the edges", edgeForm * math.Sqrt2}
	lb, u = budget(&o.side, m, func(f *figures) float64 { return f.gap }, append(append(carriedU, form), j.further(g.gap)...))
	st.Gap, st.GapBudget = value(g.gap, u), lb
	e := f.along(&lines[m], &lines[1-m])
	for i := range carriedU {
		carriedU[i].U *= math.Abs(dot(e, t))
	}
	st.Feeler = value(f.length, feelerU(&o.side, m, &g, &f, append(append(carriedU, form), j.further(f.length)...)))
}

// feelerU is the expanded uncertainty of the feeler. By how much the shortest
// distance changes, the places it touches move along it; that they also move
// across it is of second order.
func feelerU(s *[2]sideState, m Side, g *figures, f *touch, more []BudgetLine) float64 {
	e := f.along(&g.edges[m], &g.edges[1-m])
	_, u := budget(s, m, func(g *figures) float64 {
		return dot(e, sub(g.edges[1-m].at(f.b), g.edges[m].at(f.a)))
	}, more)
	return u
}

func (j *job) sideFit(o *raw, k Side) SideFit {
	s := &o.side[k]
	return SideFit{Found: true, Curvature: s.face.c, Radius: s.edge.r, SeenTo: s.edge.seen,
		FaceFrom: j.seam.Face[0], FaceTo: j.seam.Face[1], FacePoints: s.face.n, EdgePoints: s.edge.n}
}

func (j *job) nominals(i int, st *Station) {
	gap, flush := verdict.Value{}, verdict.Value{}
	if j.ref != nil {
		o := &j.ref[i]
		if o.state == Measured || o.state == NoseUnseen {
			g := evaluate(&o.side, &[2][5]float64{}, j.seam.Master)
			flush = value(g.flush, 0)
			if o.state == Measured {
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
