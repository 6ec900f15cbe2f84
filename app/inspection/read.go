package inspection

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"shutline/deviation/length"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/meshio"
)

// mostBytes is the largest inspection file that is read: a seam of 100,000
// points is some 4 MB, so a larger file is something else.
const mostBytes = 16 << 20

// Read reads and checks an inspection file. The error is an [OpenError] when the
// file cannot be read, else an [Error] with line, column and key.
func Read(path string) (*Inspection, error) {
	data, err := load(path)
	if err != nil {
		return nil, err
	}
	i, err := Decode(data, path)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	i.SHA256 = hex.EncodeToString(sum[:])
	return i, nil
}

func load(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, &OpenError{path, err}
	}
	if info.IsDir() {
		return nil, &OpenError{path, errFolder}
	}
	if !info.Mode().IsRegular() { // a pipe could keep the reader waiting for ever
		return nil, &OpenError{path, errDevice}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, &OpenError{path, err}
	}
	defer f.Close()
	if ext := strings.ToLower(filepath.Ext(path)); contains(meshEndings, ext) {
		return nil, &Error{Path: path, Problem: fmt.Sprintf(
			"this is a mesh (%s), not an inspection file; name the .toml file that says what to measure, or look into the mesh with `shutcheck info %s`", ext, filepath.Base(path))}
	}
	data, err := io.ReadAll(io.LimitReader(f, mostBytes+1))
	if err != nil {
		return nil, &OpenError{path, err}
	}
	if len(data) > mostBytes {
		return nil, &Error{Path: path, Problem: fmt.Sprintf("larger than %d MiB, which no inspection file is; name the .toml file", mostBytes>>20)}
	}
	return data, nil
}

// meshEndings are the files that are named in place of an inspection file by mistake.
var meshEndings = []string{".stl", ".ply", ".obj", ".glb"}

// Line returns the line of an inspection file, from 1, on which the value of a
// key such as "scan.file" stands; 0 when there is none or the file cannot be read.
func Line(path, key string) int {
	data, err := load(path)
	if err != nil {
		return 0
	}
	d, err := parse(path, data)
	if err != nil {
		return 0
	}
	line, _ := d.at(key)
	return line
}

// Decode checks the bytes of an inspection file. path serves for messages and
// as what the files in it are relative to. The error is an [Error].
func Decode(data []byte, path string) (*Inspection, error) {
	d, err := parse(path, data)
	if err != nil {
		return nil, err
	}
	r := &reader{document: d, dir: filepath.Dir(path)}
	i := r.inspection()
	if d.err != nil {
		return nil, d.err
	}
	i.Path = path
	i.Defaulted = r.defaulted
	return i, nil
}

// reader turns a document into an inspection.
type reader struct {
	*document
	dir       string
	defaulted []string
	nominals  []NominalFrom
	held      []SeamLimits
	parts     []Stretch
	alone     bool // there is no reference
}

func (r *reader) note(key, text string) {
	r.defaulted = append(r.defaulted, key+" = "+text)
}

func (r *reader) inspection() *Inspection {
	t := r.table("", r.root, r.note, "title", "scan", "piece", "marker", "reference", "place", "surface", "seam", "length", "point", "section", "plan")
	scan, reference := t.m["scan"], t.m["reference"]
	i := Default("", "")
	i.Title = t.text("title", "")
	r.pieces(i, t.list("piece"), t.list("marker"), reference != nil)
	i.Scan = r.scan(scan, i.Pieces)
	if reference != nil {
		i.Reference = r.reference(reference)
	} else {
		t.fallback("reference", "none (seams and lengths only)")
	}
	r.alone = i.Reference == nil
	if r.alone {
		r.needsReference(t.m)
	}
	i.Place = r.place(t.m["place"], i.Reference != nil)
	i.Surface = r.surface(t.m["surface"], i.Reference != nil)
	r.seams(i, t.list("seam"))
	r.lengths(i, t.list("length"))
	r.points(i, t.list("point"))
	r.sections(i, t.list("section"))
	i.Plan = r.plan(t.m["plan"])
	return i
}

// needsReference refuses, all at once, the keys that only mean something beside a
// reference, so that whoever takes [reference] out knows every line that goes with it.
func (r *reader) needsReference(m map[string]any) {
	has := func(table, key string) any {
		t, _ := m[table].(map[string]any)
		return t[key]
	}
	var at, lines []string
	if m := has("place", "method"); m == BestFit || m == Datums {
		at = append(at, "place.method")
	}
	for _, key := range []string{"datums", "region"} {
		if has("place", key) != nil {
			at = append(at, "place."+key)
		}
	}
	for _, key := range []string{"share", "drift_taken_out"} {
		if has("surface", key) != nil {
			at = append(at, "surface."+key)
		}
	}
	for _, path := range at {
		line, _ := r.at(path)
		table, key, _ := strings.Cut(path, ".")
		lines = append(lines, fmt.Sprintf("line %d (%s in [%s])", line, key, table))
	}
	if len(at) > 0 {
		r.fail(at[0], "there is no [reference] to place the scan on or to judge its surface beside; take out %s, or add a [reference]", strings.Join(lines, " and "))
	}
}

func (r *reader) scan(v any, pieces []PieceFile) Scan {
	t := r.table("scan", v, r.note, "file", "sha256", "units", "noise", "travelled", "temperature", "expansion")
	s := Scan{File: r.scanFile(t, pieces), SHA256: r.sha256(t), HasTemperature: t.has("temperature")}
	if len(pieces) == 0 {
		s.Units = r.units(t)
	}
	s.Noise = t.notNegative("noise", 0, mostNoise, "mm")
	if !t.has("noise") {
		t.fallback("noise", "estimated from the scan")
	}
	s.Travelled = t.positive("travelled", 0, longestPath, "mm")
	s.Temperature = r.temperature(t)
	s.Expansion = r.expansion(t)
	return s
}

func (r *reader) reference(v any) *Reference {
	t := r.table("reference", v, r.note, "file", "sha256", "units", "mirror", "mirror_plane", "scanned", "axes")
	ref := &Reference{File: r.file(t), SHA256: r.sha256(t), Units: r.units(t)}
	r.mirror(t, ref)
	ref.Scanned = t.flag("scanned")
	ref.Axes = t.choice("axes", "", AxesVehicle, AxesOwn)
	return ref
}

// file returns the table's file, relative ones joined to the inspection's folder.
func (r *reader) file(t table) string {
	path := joined(t.path, "file")
	name := t.text("file", "")
	if r.err != nil {
		return ""
	}
	if strings.TrimSpace(name) == "" {
		r.fail(path, "is missing; write file = \"NAME.stl\" in [%s]", t.path)
		return ""
	}
	name = filepath.FromSlash(name)
	if !filepath.IsAbs(name) {
		name = filepath.Join(r.dir, name)
	}
	return filepath.Clean(name)
}

// sha256 returns the hash of a mesh's bytes in lower case, "" where none is given.
func (r *reader) sha256(t table) string {
	s := strings.ToLower(t.text("sha256", ""))
	if !t.has("sha256") || r.err != nil {
		return ""
	}
	if raw, err := hex.DecodeString(s); err != nil || len(raw) != sha256.Size {
		r.fail(joined(t.path, "sha256"), "must be the 64 hexadecimal digits of the file's SHA-256; leave it out where the mesh may be any")
		return ""
	}
	return s
}

func (r *reader) units(t table) meshio.Unit {
	u := t.choice("units", "", "mm", "cm", "m", "in")
	switch {
	case t.has("units"):
	case strings.EqualFold(filepath.Ext(t.text("file", "")), ".glb"):
		t.fallback("units", "m, as GLB says")
	default:
		t.fallback("units", "judged from the size")
	}
	return meshio.Unit(u)
}

const (
	// leastTemperature and mostTemperature, °C: what bodywork is scanned at, and what leaves it as it was.
	leastTemperature = length.Coldest
	mostTemperature  = length.Hottest
)

func (r *reader) temperature(t table) float64 {
	x := t.number("temperature", 0)
	if t.has("temperature") && r.err == nil && (x < leastTemperature || x > mostTemperature) {
		r.fail(joined(t.path, "temperature"), "must be %g to %g °C, not %v: no part is scanned at another temperature; write degrees Celsius", leastTemperature, mostTemperature, x)
	}
	return x
}

func (r *reader) expansion(t table) float64 {
	// Bodywork expands by 10e-6 to 200e-6 per kelvin; more is a slip of the exponent.
	const most = 1e-3
	x := t.notNegative("expansion", DefaultExpansion, most, "per kelvin (steel is 11.5e-6)")
	if t.has("temperature") && !t.has("expansion") {
		t.fallback("expansion", "%s per kelvin (steel)", number(DefaultExpansion))
	}
	return x
}

func (r *reader) surface(v any, reference bool) Surface {
	def := r.note
	if !reference {
		def = nil // nothing to compare with: what is left out does not matter
	}
	t := r.table("surface", v, def, "reach", "tolerance", "share", "views", "drift_taken_out")
	s := Surface{Reach: t.positive("reach", DefaultReach, mostOff, "mm"), HasShare: t.has("share")}
	if !t.has("reach") {
		t.fallback("reach", "%s mm", number(DefaultReach))
	}
	tol := t.rising("tolerance", [2]float64{-DefaultTolerance, DefaultTolerance}, mostOff, "mm")
	s.Tolerance = verdict.Tolerance{Lo: tol[0], Hi: tol[1]}
	if !t.has("tolerance") {
		t.fallback("tolerance", "[%s, %s] mm", number(-DefaultTolerance), number(DefaultTolerance))
	}
	if far := max(math.Abs(s.Tolerance.Lo), math.Abs(s.Tolerance.Hi)); s.Reach <= far {
		r.fail(joined(t.path, "reach"), "is %s mm, no more than the tolerance of %s mm: what lies farther off gets no number, so nothing could be out of tolerance; write more than %s", number(s.Reach), number(far), number(far))
	}
	s.Share = t.number("share", 0)
	switch {
	case !s.HasShare:
		t.fallback("share", "none (the surface is reported, not judged)")
	case s.Share <= 0 || s.Share > 1:
		r.fail(joined(t.path, "share"), "must be over 0 and at most 1, not %v; 0.95 means 95 %%", s.Share)
	}
	s.Views = r.views(t)
	s.DriftTakenOut = t.flag("drift_taken_out")
	return s
}

func (r *reader) views(t table) []string {
	path := joined(t.path, "views")
	v, ok := t.m["views"]
	if !ok {
		t.fallback("views", "[%s]", quoted(DefaultViews()))
		return DefaultViews()
	}
	a, ok := v.([]any)
	if !ok {
		r.fail(path, "must be a list of views, such as [\"left\"], not %s", kindOf(v))
	}
	known := shade.ViewNames()
	var views []string
	for k, e := range a {
		at := indexed(path, k)
		s, ok := e.(string)
		switch {
		case !ok:
			r.fail(at, "must be text in quotes, not %s", kindOf(e))
		case !contains(known, s):
			r.fail(at, "there is no view %q; write one of %s", s, quoted(known)+meant(s, known))
		case contains(views, s):
			r.fail(at, "the view %q is named twice; leave one out", s)
		}
		views = append(views, s)
	}
	return views
}

// number writes a float the way TOML needs it: always with a point or an exponent.
func number(x float64) string {
	if x == 0 {
		return "0.0"
	}
	s := strconv.FormatFloat(x, 'g', -1, 64)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}
