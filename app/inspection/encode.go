package inspection

import (
	"fmt"
	"path/filepath"
	"strings"

	"shutline/deviation/gapflush"
	"shutline/deviation/length"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Encode returns the inspection as TOML, with file paths relative to dir and
// every setting written out. Reading it back gives an equal inspection, apart
// from Path, SHA256 and Defaulted. It returns an error when a value could not
// be read back, such as a number that is not finite.
func (i *Inspection) Encode(dir string) ([]byte, error) {
	e := &encoder{dir: dir}
	if i.Title != "" {
		e.line("title = %s", quote(i.Title))
	}
	e.scan(i.Scan, len(i.Pieces) > 0)
	e.pieces(i)
	if i.Reference != nil {
		e.line("\n[reference]\nfile = %s", quote(e.relative(i.Reference.File)))
		e.sha256(i.Reference.SHA256)
		e.unit(string(i.Reference.Units))
		e.mirror(i.Reference)
		if i.Reference.Scanned {
			e.line("scanned = true")
		}
		if i.Reference.Axes != "" {
			e.line("axes = %s", quote(i.Reference.Axes))
		}
	}
	e.place(i.Place)
	e.surface(i.Surface)
	for k, s := range i.Seams {
		limits := i.limitsOf(s.Name)
		e.seam(s, i.LayingOf(k), i.nominalOf(s.Name, false), i.nominalOf(s.Name, true), limits.TaperOver)
		e.limits(limits)
		e.stretches(i.StretchesOf(s.Name))
		if k < len(i.SeamPictures) {
			e.line("pictures = %s", quote(i.SeamPictures[k]))
		}
	}
	for _, l := range i.Lengths {
		e.length(l)
	}
	for _, p := range i.Points {
		e.point(p)
	}
	for _, x := range i.Sections {
		e.section(x)
	}
	e.plan(i.Plan)
	out := []byte(strings.TrimPrefix(e.b.String(), "\n"))
	if _, err := Decode(out, filepath.Join(dir, "inspection.toml")); err != nil {
		return nil, fmt.Errorf("inspection: cannot be written as it stands: %w", err)
	}
	return out, nil
}

type encoder struct {
	b   strings.Builder
	dir string
}

func (e *encoder) line(format string, args ...any) { fmt.Fprintf(&e.b, format+"\n", args...) }

// relative returns the path as seen from the folder, with forward slashes, or
// the path itself where there is no way from one to the other.
func (e *encoder) relative(file string) string {
	dir, errDir := filepath.Abs(e.dir)
	abs, errFile := filepath.Abs(file)
	if errDir == nil && errFile == nil {
		if rel, err := filepath.Rel(dir, abs); err == nil {
			return filepath.ToSlash(rel)
		}
	}
	return filepath.ToSlash(file)
}

func (e *encoder) unit(u string) {
	if u != "" {
		e.line("units = %s", quote(u))
	}
}

func (e *encoder) sha256(s string) {
	if s != "" {
		e.line("sha256 = %s", quote(s))
	}
}

func (e *encoder) warmth(has bool, temperature, expansion float64) {
	if has {
		e.line("temperature = %s", number(temperature))
	}
	if has || expansion != DefaultExpansion {
		e.line("expansion = %s", number(expansion))
	}
}

func (e *encoder) scan(s Scan, inPieces bool) {
	e.line("\n[scan]")
	if !inPieces {
		e.line("file = %s", quote(e.relative(s.File)))
		e.sha256(s.SHA256)
		e.unit(string(s.Units))
	}
	if s.Noise != 0 {
		e.line("noise = %s", number(s.Noise))
	}
	if s.Travelled > 0 {
		e.line("travelled = %s", number(s.Travelled))
	}
	e.warmth(s.HasTemperature, s.Temperature, s.Expansion)
}

func (e *encoder) matrix(g geom.Rigid) {
	e.line("matrix = [")
	t := [3]float64{g.T.X, g.T.Y, g.T.Z}
	for row := range 3 {
		e.line("  %s, %s, %s, %s,", number(g.R[row][0]), number(g.R[row][1]), number(g.R[row][2]), number(t[row]))
	}
	e.line("  0.0, 0.0, 0.0, 1.0,\n]")
}

func (e *encoder) surface(s Surface) {
	e.line("\n[surface]\nreach = %s\ntolerance = %s", number(s.Reach), interval(s.Tolerance))
	if s.HasShare {
		e.line("share = %s", number(s.Share))
	}
	views := make([]string, len(s.Views))
	for k, v := range s.Views {
		views[k] = quote(v)
	}
	e.line("views = [%s]", strings.Join(views, ", "))
	if s.DriftTakenOut {
		e.line("drift_taken_out = true")
	}
}

func (e *encoder) seam(s gapflush.Seam, laying Laying, gapFrom, flushFrom string, taperOver float64) {
	e.line("\n[[seam]]\nname = %s", quote(s.Name))
	switch laying {
	case Found:
		e.line("find = true")
	case Traced:
		e.line("trace = true")
		fallthrough
	default:
		e.path(s.Path)
	}
	e.line("every = %s\nwindow = %s\nband = %s", number(s.Every), number(s.Window), number(s.Band))
	e.line("face = %s", interval(verdict.Tolerance{Lo: s.Face[0], Hi: s.Face[1]}))
	e.line("edges = [%s, %s]", quote(edgeWord(s.Edges[0])), quote(edgeWord(s.Edges[1])))
	if s.Radius != [2]float64{} {
		e.line("radius = %s", interval(verdict.Tolerance{Lo: s.Radius[0], Hi: s.Radius[1]}))
	}
	e.line("master = %s", quote([...]string{"A", "B"}[s.Master]))
	e.target("gap", s.Gap, gapFrom, 0)
	e.target("flush", s.Flush, flushFrom, 0)
	e.target("taper", s.Taper, "", taperOver)
}

func (e *encoder) path(path []geom.Vec) {
	e.line("path = [")
	for _, p := range path {
		e.line("  %s,", point(p))
	}
	e.line("]")
}

func edgeWord(k gapflush.EdgeKind) string {
	if int(k) < len(edgeWords) {
		return edgeWords[k]
	}
	return "unknown"
}

func (e *encoder) target(key string, t gapflush.Target, from string, over float64) {
	var parts []string
	if from != "" {
		parts = append(parts, "nominal_from = "+quote(from))
	}
	if t.HasNominal {
		parts = append(parts, "nominal = "+number(t.Nominal))
	}
	if t.Judged {
		parts = append(parts, "tolerance = "+interval(t.Tolerance))
		if over > 0 {
			parts = append(parts, "over = "+number(over))
		}
	}
	if parts != nil {
		e.line("%s = { %s }", key, strings.Join(parts, ", "))
	}
}

func (e *encoder) length(l Length) {
	e.line("\n[[length]]\nname = %s", quote(l.Name))
	switch {
	case l.Extremes != "":
		e.line("extremes = %s", quote(l.Extremes))
	case l.Ends != nil:
		e.line("from = %s\nto = %s", form(l.Ends[0]), form(l.Ends[1]))
	default:
		e.line("from = %s\nto = %s", point(l.From), point(l.To))
	}
	if l.HasKnown {
		e.line("known = %s\nknown_uncertainty = %s", number(l.Known), number(l.KnownU))
	}
	e.warmth(l.HasTemperature, l.Temperature, l.Expansion)
	if l.HasAllowed {
		e.line("allowed = { a = %s, per_metre = %s }", number(l.AllowedA), number(l.AllowedPerMetre))
	}
}

// form writes an end that is fitted.
func form(f length.End) string {
	axis := ""
	if f.Axis != (geom.Vec{}) {
		axis = ", axis = " + point(f.Axis)
	}
	return fmt.Sprintf("{ %s = %s, radius = %s%s }", f.Kind, point(f.At), number(f.Radius), axis)
}

func (e *encoder) point(p Point) {
	e.line("\n[[point]]\nname = %s\nat = %s", quote(p.Name), point(p.At))
	if p.Radius != 0 {
		e.line("radius = %s", number(p.Radius))
	}
	if p.HasTolerance {
		e.line("tolerance = %s", interval(p.Tolerance))
	}
}

func point(p geom.Vec) string {
	return "[" + number(p.X) + ", " + number(p.Y) + ", " + number(p.Z) + "]"
}

func interval(t verdict.Tolerance) string { return "[" + number(t.Lo) + ", " + number(t.Hi) + "]" }

// quote writes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
