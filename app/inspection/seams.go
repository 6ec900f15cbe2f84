package inspection

import (
	"fmt"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

var edgeWords = []string{"round", "chamfer", "sharp"}

var pictureWords = []string{"worst", "none", "all"}

const (
	// MostAcross is the largest window, band, face distance and radius, mm: ten
	// times the default window, beyond which other parts of the body are cut and
	// the work at a station grows without end.
	MostAcross = 300.0
	// MostStations of one seam: 10 m of shut line cut every millimetre. Each takes
	// some 2 kB of results.
	MostStations = 10000
	// mostEvery is the largest distance between stations, mm: more than a vehicle is long.
	mostEvery = 10000.0
)

func (r *reader) seams(i *Inspection, list []any) {
	names := map[string]int{}
	for k, v := range list {
		path := indexed("seam", k)
		t := r.table(path, v, r.note, "name", "path", "every", "window", "band", "face", "edges", "radius",
			"master", "gap", "flush", "taper", "pictures", "trace", "find", "parallel", "step", "stretch")
		laying := r.laying(t, i.SeamLaying)
		byDefault := fmt.Sprintf("seam %d", k+1)
		if laying == Found {
			byDefault = "found"
		}
		name := r.name(t, byDefault, names, k)
		i.Seams = append(i.Seams, r.seam(t, name, laying))
		i.SeamLaying = append(i.SeamLaying, laying)
		i.SeamPictures = append(i.SeamPictures, t.choice("pictures", DefaultPictures, pictureWords...))
		if !t.has("pictures") {
			t.fallback("pictures", "%s", DefaultPictures)
		}
		if r.err != nil {
			return
		}
	}
	if i.AllTyped() {
		i.SeamLaying = nil
	}
	i.Nominals, i.Limits, i.Stretches = r.nominals, r.held, r.parts
	r.checkNominals(i)
}

// name returns the name of a seam or length, which must be its own.
func (r *reader) name(t table, byDefault string, names map[string]int, k int) string {
	name := strings.TrimSpace(t.text("name", byDefault))
	at := joined(t.path, "name")
	if !t.has("name") {
		t.fallback("name", "%s", byDefault)
	}
	if name == "" {
		r.fail(at, "must not be empty; leave it out for %q", byDefault)
	}
	if first, twice := names[name]; twice {
		kind, _, _ := strings.Cut(t.path, "[")
		r.fail(at, "%q is also the name of %s[%d]; give each its own name", name, kind, first)
	}
	names[name] = k
	return name
}

func (r *reader) seam(t table, name string, laying Laying) gapflush.Seam {
	s := gapflush.DefaultSeam(name, nil)
	if laying != Found {
		s.Path = r.path(t)
	}
	for _, x := range []struct {
		key  string
		v    *float64
		most float64
	}{{"every", &s.Every, mostEvery}, {"window", &s.Window, MostAcross}, {"band", &s.Band, MostAcross}} {
		*x.v = t.positive(x.key, *x.v, x.most, "mm")
		if !t.has(x.key) {
			t.fallback(x.key, "%s mm", number(*x.v))
		}
	}
	r.notTooMany(t, s)
	s.Face = t.rising("face", s.Face, MostAcross, "mm")
	if !t.has("face") {
		t.fallback("face", "[%s, %s] mm", number(s.Face[0]), number(s.Face[1]))
	} else if s.Face[0] < 0 {
		r.fail(joined(t.path, "face"), "distances behind the shoulder must not be negative, not %v mm", s.Face[0])
	}
	s.Edges = r.edges(t, s.Edges)
	s.Radius = t.pair("radius", s.Radius)
	if !t.has("radius") {
		if r.alone {
			t.fallback("radius", "by a first look at the scan, else 1.5 mm, with a standard uncertainty of 0.5 mm")
		} else {
			t.fallback("radius", "from the reference")
		}
	} else if !(s.Radius[0] > 0 && s.Radius[1] > 0) {
		r.fail(joined(t.path, "radius"), "radii must be more than 0 mm, not [%v, %v]; leave radius out to take them from the reference", s.Radius[0], s.Radius[1])
	}
	t.atMost("radius", max(s.Radius[0], s.Radius[1]), MostAcross, "mm")
	s.Master = r.master(t, &s)
	r.nominalFrom(t, name)
	r.limits(t, name)
	r.stretches(t, name)
	r.noChecksOfStretches(t)
	s.Gap = r.target(t, "gap", true)
	s.Flush = r.target(t, "flush", true)
	s.Taper = r.target(t, "taper", false)
	return s
}

// master reads which side stays. It is told by its letter; whoever writes a panel's name is told which letter that is.
func (r *reader) master(t table, s *gapflush.Seam) gapflush.Side {
	if !t.has("master") {
		t.fallback("master", "A")
		return gapflush.A
	}
	word := t.text("master", "A")
	at, letters := joined(t.path, "master"), [2]string{"A", "B"}
	panels, named := s.Panels()
	for k, letter := range letters {
		switch {
		case word == letter:
			return gapflush.Side(k)
		case strings.EqualFold(word, letter):
			r.fail(at, "%q is not known; write %q, as a capital", word, letter)
		case named && strings.EqualFold(strings.TrimPrefix(strings.ToLower(word), "the "), panels[k]):
			r.fail(at, "it is told by its letter, not by its name; write %q, which the seam's name says is the %s", letter, panels[k])
		}
	}
	if named {
		r.fail(at, "%q is no side of this seam; write \"A\" (its name says: the %s) or \"B\" (the %s)", word, panels[0], panels[1])
	}
	r.fail(at, "%q is no side of a seam; write \"A\" or \"B\": walking along the path with the outside up, A is on the left and B on the right", word)
	return gapflush.A
}

// noChecksOfStretches refuses checks of a whole seam beside stretches, which are measured as seams of their
// own: a step where two of them meet would be looked at by neither.
func (r *reader) noChecksOfStretches(t table) {
	if !t.has("stretch") {
		return
	}
	for _, key := range []string{"step", "parallel"} {
		if t.has(key) {
			r.fail(joined(t.path, key), "holds for a whole seam, and stretch parts it into seams of their own; write the seam once with %s and once more, under another name, with stretch", key)
		}
	}
}

// notTooMany refuses a seam that would be cut into more stations than can be measured.
func (r *reader) notTooMany(t table, s gapflush.Seam) {
	if r.err != nil {
		return
	}
	long := lengthOf(s.Path)
	if long/s.Every <= MostStations {
		return
	}
	key := "every"
	if !t.has(key) {
		key = "path"
	}
	r.fail(joined(t.path, key), "%.6g mm of path cut every %.6g mm make more than %d stations; write a larger every, or mend the path", long, s.Every, MostStations)
}

// lengthOf returns the length of a path, mm.
func lengthOf(path []geom.Vec) float64 {
	long := 0.0
	for k := 1; k < len(path); k++ {
		long += path[k].Dist(path[k-1])
	}
	return long
}

// path returns a seam's path, which needs two different points.
func (r *reader) path(t table) []geom.Vec {
	at := joined(t.path, "path")
	v, ok := t.m["path"]
	if !ok {
		r.fail(t.path, "path is missing; write path = [[x, y, z], [x, y, z], ...] in mm along the middle of the gap, two of its points and trace = true to have it followed, or find = true to have all seams found")
		return nil
	}
	a, ok := v.([]any)
	if !ok {
		r.fail(at, "must be a list of points [x, y, z], not %s", kindOf(v))
		return nil
	}
	path := make([]geom.Vec, 0, len(a))
	different := false
	for k, e := range a {
		path = append(path, r.vec(indexed(at, k), e))
		different = different || path[k] != path[0]
		if r.err != nil {
			return nil
		}
	}
	if !different {
		r.fail(at, "needs at least two different points; there %s", counted(len(path)))
	}
	return path
}

func counted(n int) string {
	switch n {
	case 0:
		return "are none"
	case 1:
		return "is one"
	}
	return fmt.Sprintf("are %d, all the same", n)
}

func (r *reader) edges(t table, byDefault [2]gapflush.EdgeKind) [2]gapflush.EdgeKind {
	at := joined(t.path, "edges")
	v, ok := t.m["edges"]
	if !ok {
		t.fallback("edges", "[\"round\", \"round\"]")
		return byDefault
	}
	a, ok := v.([]any)
	if !ok || len(a) != 2 {
		r.fail(at, "must be two words, side A and B, such as [\"round\", \"sharp\"]")
		return byDefault
	}
	var out [2]gapflush.EdgeKind
	for k, e := range a {
		s, isText := e.(string)
		if !isText || !contains(edgeWords, s) {
			r.fail(indexed(at, k), "%v is no kind of edge; write one of %s", e, quoted(edgeWords)+meant(fmt.Sprint(e), edgeWords))
			return byDefault
		}
		for kind, word := range edgeWords {
			if s == word {
				out[k] = gapflush.EdgeKind(kind)
			}
		}
	}
	return out
}

// target reads gap, flush or taper. A tolerance makes it judged; taper's nominal is 0.
func (r *reader) target(t table, key string, hasNominal bool) gapflush.Target {
	known := []string{"nominal", "tolerance", "nominal_from"}
	if !hasNominal {
		known = []string{"tolerance", "over"}
	}
	v, present := t.m[key]
	s := r.table(joined(t.path, key), v, nil, known...)
	var out gapflush.Target
	out.HasNominal = s.has("nominal")
	unit := "mm"
	if key == "taper" {
		unit = "mm per 100 mm"
	}
	out.Nominal = s.number("nominal", 0)
	s.atMost("nominal", out.Nominal, mostOff, unit)
	if s.has("tolerance") {
		x := s.rising("tolerance", [2]float64{}, mostOff, unit)
		out.Tolerance, out.Judged = verdict.Tolerance{Lo: x[0], Hi: x[1]}, true
		if out.HasNominal && (x[0] > 0 || x[1] < 0) && x[0] <= out.Nominal && out.Nominal <= x[1] {
			r.fail(joined(joined(t.path, key), "tolerance"), "is how far off the nominal of %s %s may be, and [%v, %v] leaves the nominal itself out; if these are the limits themselves write tolerance = [%s, %s]",
				number(out.Nominal), unit, x[0], x[1], number(x[0]-out.Nominal), number(x[1]-out.Nominal))
		}
	} else {
		t.fallback(key+".tolerance", "none (%s is reported, not judged)", key)
	}
	if hasNominal && !out.HasNominal && !s.has("nominal_from") {
		if r.alone {
			t.fallback(key+".nominal", "none, as there is no reference to measure it on")
		} else {
			t.fallback(key+".nominal", "measured on the reference")
		}
	}
	if present && len(s.m) == 0 {
		r.fail(joined(t.path, key), "is empty; write a tolerance or leave %s out", key)
	}
	return out
}
