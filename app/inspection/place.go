package inspection

import (
	"slices"
	"strings"

	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// mostRegions and mostPairs: more are no longer placed by hand.
const (
	mostRegions = 100
	mostPairs   = 1000
)

// MirrorFind and MirrorGiven are the words for a plane that is to be found and for
// the one that mirror_plane gives, beside "none" and the axes.
const (
	MirrorFind  = "find"
	MirrorGiven = "plane"
)

// mirror reads the two keys that mirror the reference.
func (r *reader) mirror(t table, ref *Reference) {
	ref.Mirror = t.choice("mirror", None, None, "x", "y", "z", MirrorFind)
	v, given := t.m["mirror_plane"]
	switch {
	case given && t.has("mirror"):
		r.fail(joined(t.path, "mirror_plane"), "stands beside mirror = %q; leave one of the two out", ref.Mirror)
	case given:
		path := joined(t.path, "mirror_plane")
		p := r.table(path, v, nil, "point", "normal")
		ref.Mirror, ref.MirrorPlane = MirrorGiven, align.MirrorPlane{Point: p.point("point"), Normal: r.direction(p, "normal")}
	case !t.has("mirror"):
		t.fallback("mirror", "none")
	}
}

// direction reads a vector that must have a length; it need not be 1.
func (r *reader) direction(t table, key string) geom.Vec {
	n := t.point(key)
	if r.err == nil && n.Unit() == (geom.Vec{}) {
		r.fail(joined(t.path, key), "[0, 0, 0] is no direction; write the outward normal, such as [0, 0, 1]")
	}
	return n
}

func (r *reader) place(v any, reference bool) Place {
	t := r.table("place", v, r.note, "method", "datums", "pairs", "matrix", "region")
	byDefault := None
	if reference {
		byDefault = BestFit
	}
	p := Place{Method: t.choice("method", byDefault, BestFit, Datums, Pairs, Given, None), Given: geom.Identity(), HasMatrix: t.has("matrix")}
	if !t.has("method") {
		t.fallback("method", "%s", byDefault)
	}
	r.datums(t, &p)
	r.pairs(t, &p)
	r.regions(t, &p)
	if p.HasMatrix {
		p.Given = r.rigid(joined(t.path, "matrix"), t.m["matrix"])
	}
	for _, need := range []struct {
		method, say string
		has         bool
	}{
		{Given, "matrix = [16 numbers, row by row]", p.HasMatrix},
		{Datums, "datums = [ { point = [x, y, z], normal = [x, y, z] }, ... ], six on the reference: three for the plane, two for the line, one for the point", p.Datums != nil},
		{Pairs, "pairs = [ { scan = [x, y, z], reference = [x, y, z] }, ... ], three or more", p.Pairs != nil},
	} {
		if p.Method == need.method && !need.has {
			at := t.path
			if t.has("method") {
				at = joined(t.path, "method")
			}
			r.fail(at, "%q needs %s", need.method, need.say)
		}
	}
	return p
}

// entries returns the tables of a list of inline tables; nil without the key.
func (r *reader) entries(t table, key, form string) []any {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	a, ok := v.([]any)
	if !ok {
		r.fail(joined(t.path, key), "must be a list, %s = [ %s, ... ], not %s", key, form, kindOf(v))
	}
	return a
}

func (r *reader) datums(t table, p *Place) {
	const form = "{ point = [x, y, z], normal = [x, y, z] }"
	list := r.entries(t, "datums", form)
	path := joined(t.path, "datums")
	for k, v := range list {
		d := r.table(indexed(path, k), v, nil, "point", "normal")
		p.Datums = append(p.Datums, align.Datum{Point: d.point("point"), Normal: r.direction(d, "normal")})
		if r.err != nil {
			return
		}
	}
	if n := len(p.Datums); t.has("datums") && n != align.DatumCount {
		r.fail(path, "must be six datums (three for the plane, two for the line, one for the point), each %s; there are %d. More would over-determine the part: to place by more, use pairs or region", form, n)
	}
}

func (r *reader) pairs(t table, p *Place) {
	const least = 3
	const form = "{ scan = [x, y, z], reference = [x, y, z] }"
	list := r.entries(t, "pairs", form)
	path := joined(t.path, "pairs")
	if n := len(list); t.has("pairs") && (n < least || n > mostPairs) {
		r.fail(path, "must be three pairs or more (at most %d), each %s; there are %d", mostPairs, form, n)
		return
	}
	for k, v := range list {
		e := r.table(indexed(path, k), v, nil, "scan", "reference")
		pair := align.Pair{Scan: e.point("scan"), Reference: e.point("reference")}
		if twice := slices.Index(p.Pairs, pair); twice >= 0 {
			r.fail(indexed(path, k), "is pair %d written again, which would count for knowing it better; leave it out", twice+1)
		}
		p.Pairs = append(p.Pairs, pair)
		if r.err != nil {
			return
		}
	}
}

func (r *reader) regions(t table, p *Place) {
	const form = "{ centre = [x, y, z], radius = 200 }"
	list := r.entries(t, "region", form)
	path := joined(t.path, "region")
	if n := len(list); t.has("region") && (n == 0 || n > mostRegions) {
		r.fail(path, "must be one region or more (at most %d), each %s; there are %d. For a best fit on the whole part leave region out", mostRegions, form, n)
		return
	}
	for k, v := range list {
		e := r.table(indexed(path, k), v, nil, "centre", "radius")
		if r.err == nil && !e.has("radius") {
			r.fail(indexed(path, k), "radius is missing; write radius = 200, in mm")
		}
		p.Regions = append(p.Regions, align.Region{Centre: e.point("centre"), Radius: e.positive("radius", 0, farthest, "mm")})
		if r.err != nil {
			return
		}
	}
}

func (e *encoder) mirror(ref *Reference) {
	if ref.Mirror == MirrorGiven {
		e.line("mirror_plane = { point = %s, normal = %s }", point(ref.MirrorPlane.Point), point(ref.MirrorPlane.Normal))
		return
	}
	e.line("mirror = %s", quote(ref.Mirror))
}

func (e *encoder) place(p Place) {
	e.line("\n[place]\nmethod = %s", quote(p.Method))
	if p.HasMatrix || p.Method == Given {
		e.matrix(p.Given)
	}
	var rows []string
	for _, d := range p.Datums {
		rows = append(rows, "{ point = "+point(d.Point)+", normal = "+point(d.Normal)+" }")
	}
	e.rows("datums", rows)
	rows = nil
	for _, q := range p.Pairs {
		rows = append(rows, "{ scan = "+point(q.Scan)+", reference = "+point(q.Reference)+" }")
	}
	e.rows("pairs", rows)
	rows = nil
	for _, g := range p.Regions {
		rows = append(rows, "{ centre = "+point(g.Centre)+", radius = "+number(g.Radius)+" }")
	}
	e.rows("region", rows)
}

// rows writes a list of inline tables, one a line.
func (e *encoder) rows(key string, rows []string) {
	if len(rows) > 0 {
		e.line("%s = [\n  %s,\n]", key, strings.Join(rows, ",\n  "))
	}
}
