package app

import (
	"context"
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// mirroredWithin is how far a mirrored path may lie from the other side's, mm, and
	// be its picture: vehicles are symmetric to some mm, placements in a scan's own frame to some more.
	mirroredWithin = 40.0
	// lengthsWithin is the share by which paths compared by their lengths may differ.
	lengthsWithin = 0.05
)

// TakeNominals returns the results with those nominals that come from other seams, and
// judges anew what hangs on them. A nominal that was measured has an uncertainty,
// which counts with the value's own. The station across from a place is found on the
// mirrored path (in the plane y = 0), or, where the two paths are not each other's
// picture there, at the same length from the same end or from the other one, see [pair]. Stretches of a seam
// are one seam there.
// The error is an [InputError].
func TakeNominals(i *inspection.Inspection, results []*gapflush.Result) ([]*gapflush.Result, error) {
	if len(i.Nominals) == 0 {
		return results, nil
	}
	held := results
	results = make([]*gapflush.Result, len(held))
	for k, r := range held { // what they are held to besides is judged anew, too
		results[k] = r.Bare()
	}
	t := taking{inspection: i, results: results, all: wholesOf(results), byName: map[string]int{}}
	for k, r := range results {
		t.byName[r.Seam.Name] = k
	}
	t.out = append([]*gapflush.Result{}, results...)
	for _, n := range i.Nominals {
		k, known := t.byName[n.Seam]
		if !known || results[k].Unlaid != "" || n.Flush && results[k].Seam.Flush.HasNominal || !n.Flush && results[k].Seam.Gap.HasNominal {
			continue // gone, or a stretch with a nominal of its own
		}
		if err := t.take(k, n); err != nil {
			return nil, err
		}
	}
	for k := range t.out {
		if t.out[k] != results[k] {
			rejudge(t.out[k])
		}
	}
	return t.out, nil
}

// taking is the work of taking nominals from other seams.
type taking struct {
	inspection *inspection.Inspection
	results    []*gapflush.Result
	all        wholes
	byName     map[string]int // of results; a seam with stretches has no result of its own
	out        []*gapflush.Result
}

// take gives a result its nominals; where none can be had they are noted to lack or, where they were asked of this seam by name, are an error.
func (t *taking) take(k int, n inspection.NominalFrom) error {
	own, first := t.all.of(k)
	from, lacks, err := t.source(own, n)
	if err != nil {
		return err
	}
	if lacks != "" {
		t.unmatched(k, n.Flush, lacks)
		return nil
	}
	p := pair(own, from)
	if why := p.refused(own, from, n.Flush); why != "" {
		if !n.Loose {
			return t.bad(n, "%s", why)
		}
		t.unmatched(k, n.Flush, why)
		return nil
	}
	r := *t.out[k]
	r.Stations = append([]gapflush.Station{}, r.Stations...)
	without, most := 0, 0.0
	for s := range r.Stations {
		v := valueAt(from, p.at[first+s], n.Flush)
		if !v.OK {
			without++
		}
		most = max(most, v.U)
		if n.Flush {
			r.Stations[s].FlushNominal = v
		} else {
			r.Stations[s].GapNominal = v
		}
	}
	if !n.Flush { // that the reference gives none there matters no more
		r.TakenElsewhere()
	}
	note := fmt.Sprintf("The nominal %s is that of seam %q; its U, up to %.2f mm, counts with the value's own.", figureName(n.Flush), from.Seam.Name, most)
	note += " " + p.told()
	if without > 0 {
		note += fmt.Sprintf(" At %d of %d stations the other seam has none.", without, len(r.Stations))
	}
	r.NoteNominal(n.Flush, note)
	t.out[k] = &r
	return nil
}

// source is the seam that nominals are taken from, or why there is none.
func (t *taking) source(own *gapflush.Result, n inspection.NominalFrom) (from *gapflush.Result, lacks string, err error) {
	if n.From == inspection.OtherSide {
		from = acrossFrom(t.all, own)
		if name, lost := unlaidOf(t.results); from == nil && lost {
			return nil, fmt.Sprintf("no seam that was measured lies within %.0f mm of this one mirrored in the plane y = 0, and seam %q could not be laid", mirroredWithin, name), nil
		}
		if from == nil && n.Loose {
			return nil, fmt.Sprintf("no seam lies within %.0f mm of this one mirrored in the plane y = 0", mirroredWithin), nil
		} else if from == nil {
			return nil, "", t.bad(n, "no seam lies within %.0f mm of this one mirrored in the plane y = 0; write the name of the other seam in its place, as the middle of this body is not y = 0; or give a reference whose middle is", mirroredWithin)
		}
	} else if from = t.all.named(n.From); from == nil {
		return nil, "", t.bad(n, "there is no seam %q; write the name of another one", n.From)
	}
	if from == own && n.Loose {
		return nil, "it is the seam that the others have theirs from", nil
	}
	if from == own {
		return nil, "", t.bad(n, "a seam is no nominal for itself; name another seam, or %q", inspection.OtherSide)
	}
	if from.Unlaid != "" {
		return nil, fmt.Sprintf("seam %q was not measured, as it could not be laid", from.Seam.Name), nil
	}
	return from, "", nil
}

// unmatched notes that a seam which was found by itself has no partner: the others are judged all the same.
func (t *taking) unmatched(k int, flush bool, why string) {
	r := *t.out[k]
	lacks := false
	for s := range r.Stations {
		lacks = lacks || !flush && !r.Stations[s].GapNominal.OK || flush && !r.Stations[s].FlushNominal.OK
	}
	if lacks {
		r.NoteNominal(flush, fmt.Sprintf("Its %s has no nominal from another seam: %s.", figureName(flush), why))
	} else {
		r.NoteNominal(flush, fmt.Sprintf("Its %s has no nominal from another seam, so that of the reference holds: %s.", figureName(flush), why))
	}
	t.out[k] = &r
}

// bad is an error about a seam's nominal_from, with its line where there is one.
func (t *taking) bad(n inspection.NominalFrom, format string, args ...any) error {
	i, what := t.inspection, figureName(n.Flush)
	e := &InputError{Path: i.Path, Problem: fmt.Sprintf("seam %q: nominal_from of its %s: ", n.Seam, what) + fmt.Sprintf(format, args...)}
	for s := range i.Seams {
		if line := inspection.Line(i.Path, fmt.Sprintf("seam[%d].%s.nominal_from", s, what)); i.Path != "" && i.Laid == nil && i.Seams[s].Name == n.Seam && line > 0 {
			e.Problem = fmt.Sprintf("line %d: ", line) + e.Problem
		}
	}
	return e
}

// figureName is what is asked for of a seam.
func figureName(flush bool) string {
	if flush {
		return "flush"
	}
	return "gap"
}

// scannedNominals measures a seam on a reference that is itself a scan, so that
// nominals which come from it have the uncertainty of a measurement, and judges anew.
// The error is the context's.
func scannedNominals(ctx context.Context, r *gapflush.Result, ref *mesh.Mesh, s Settings) error {
	if r.Seam.Gap.HasNominal && r.Seam.Flush.HasNominal {
		return nil
	}
	good, err := gapflush.Measure(ctx, ref, nil, r.Seam, gapflush.Settings{Threads: s.Threads}, nil)
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return fmt.Errorf("app: seam %q on the reference: %w", r.Seam.Name, err)
	}
	most := 0.0
	for k := range r.Stations {
		st := &r.Stations[k]
		if !r.Seam.Gap.HasNominal {
			st.GapNominal = good.Stations[k].Gap
			most = max(most, st.GapNominal.U)
		}
		if !r.Seam.Flush.HasNominal {
			st.FlushNominal = good.Stations[k].Flush
			most = max(most, st.FlushNominal.U)
		}
	}
	r.Notes = append(r.Notes, fmt.Sprintf("The reference is a scan: nominals measured on it have a U of up to %.2f mm, which counts with the values' own.", most))
	rejudge(r)
	return nil
}

// mirrored reflects a point in the plane y = 0.
func mirrored(p geom.Vec) geom.Vec { return geom.Vec{X: p.X, Y: -p.Y, Z: p.Z} }

// wholes are results by whole seams: the stretches of one are joined again.
type wholes []whole

type whole struct {
	*gapflush.Result
	first map[int]int // of each result that it is made of, by index: how many stations stand before those
}

// wholesOf joins stretches, which stand in order along their path.
func wholesOf(results []*gapflush.Result) wholes {
	var all wholes
	at := map[string]int{}
	for k, r := range results {
		name := r.Seam.Whole
		w, there := at[name]
		switch {
		case name == "":
			all = append(all, whole{r, map[int]int{k: 0}})
			continue
		case !there:
			at[name] = len(all)
			joined := &gapflush.Result{Seam: r.Seam}
			joined.Seam.Name, joined.Seam.Whole, joined.Seam.Path = name, "", nil
			joined.Seam.From, joined.Seam.Before = 0, 0
			all = append(all, whole{joined, map[int]int{}})
			w = at[name]
		}
		joined := all[w].Result
		joined.Seam.Path = append(joined.Seam.Path, r.Seam.Path...)
		passed := lengthOf(joined.Seam.Path) - lengthOf(r.Seam.Path)
		all[w].first[k] = len(joined.Stations)
		for _, s := range r.Stations {
			s.Along += passed - r.Seam.From
			joined.Stations = append(joined.Stations, s)
		}
	}
	return all
}

// of returns the whole seam that result k is of, and how many of its stations stand before those of k.
func (all wholes) of(k int) (*gapflush.Result, int) {
	for _, w := range all {
		if first, ok := w.first[k]; ok {
			return w.Result, first
		}
	}
	return nil, 0
}

// named returns the seam of a name, or nil.
func (all wholes) named(name string) *gapflush.Result {
	for _, w := range all {
		if w.Seam.Name == name {
			return w.Result
		}
	}
	return nil
}

// acrossFrom returns the seam whose path is own's mirror picture, or nil.
func acrossFrom(all wholes, own *gapflush.Result) (across *gapflush.Result) {
	best := mirroredWithin
	for _, w := range all {
		if w.Result == own || w.Unlaid != "" {
			continue
		}
		far := 0.0
		for _, s := range own.Stations {
			_, d := geom.NearestOnPath(mirrored(s.P), w.Seam.Path)
			far = max(far, d)
		}
		if far <= best {
			best, across = far, w.Result
		}
	}
	return across
}

// unlaidOf returns the first seam that could not be laid.
func unlaidOf(results []*gapflush.Result) (name string, ok bool) {
	for _, r := range results {
		if r.Unlaid != "" {
			return r.Seam.Name, true
		}
	}
	return "", false
}

// valueAt returns a seam's gap or flush at a length along its path, between the two
// stations beside it, with the larger U of both; beyond the outermost station by up to half a
// step its own; no value where a station beside it has none.
func valueAt(r *gapflush.Result, at float64, flush bool) verdict.Value {
	pick := func(k int) verdict.Value {
		if flush {
			return r.Stations[k].Flush
		}
		return r.Stations[k].Gap
	}
	n := len(r.Stations)
	const slack = 1.0 // mm: mirrored paths are not of one length to the last bit
	for k := range r.Stations {
		b := r.Stations[k].Along
		if at > b && k+1 < n {
			continue
		}
		switch {
		case k == 0 && at <= b || at > b:
			if math.Abs(at-b) <= float64(r.Seam.Every/2)+slack {
				return pick(k)
			}
			return verdict.Value{}
		default:
			a := r.Stations[k-1].Along
			lo, hi := pick(k-1), pick(k)
			t := (at - a) / (b - a)
			if !lo.OK || !hi.OK {
				return verdict.Value{}
			}
			return verdict.Value{V: lo.V + float64(t*(hi.V-lo.V)), U: max(lo.U, hi.U), OK: true}
		}
	}
	return verdict.Value{}
}

// rejudge decides a seam whose nominals have changed, as it was decided at first.
func rejudge(r *gapflush.Result) {
	one := func(v, nominal verdict.Value, t gapflush.Target) verdict.Verdict {
		switch {
		case !t.Judged || !v.OK:
			return verdict.NotJudged
		case !nominal.OK:
			return verdict.Undecided
		}
		u := math.Sqrt(float64(v.U*v.U) + float64(nominal.U*nominal.U))
		return verdict.Decide(verdict.Value{V: v.V, U: u, OK: true}, verdict.Tolerance{Lo: nominal.V + t.Tolerance.Lo, Hi: nominal.V + t.Tolerance.Hi})
	}
	worst := r.TaperVerdict
	none := true
	for k := range r.Stations {
		s := &r.Stations[k]
		s.GapVerdict = one(s.Gap, s.GapNominal, r.Seam.Gap)
		s.FlushVerdict = one(s.Flush, s.FlushNominal, r.Seam.Flush)
		worst = verdict.Worst(worst, s.GapVerdict, s.FlushVerdict)
		none = none && s.State != gapflush.Measured && !s.Flush.OK
	}
	judged := r.Seam.Gap.Judged || r.Seam.Flush.Judged || r.Seam.Taper.Judged
	if _, tooMany := r.Missing(); tooMany || judged && none {
		worst = verdict.Worst(worst, verdict.Undecided)
	}
	r.Verdict = worst
	r.DoubtTolerances()
	if r.Open {
		r.LeaveOpen()
	}
}
