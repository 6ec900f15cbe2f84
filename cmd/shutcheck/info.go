package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"shutline/app"
	"shutline/app/words"
	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/meshio"
	"shutline/mesh/quality"
)

// info says what mesh files hold. Every file is looked at; the first error decides the exit status.
func (c *command) info(a *arguments) error {
	if len(a.files) == 0 {
		return usage("name a mesh file: shutcheck info MESH...")
	}
	threads, err := a.threads()
	if err != nil {
		return err
	}
	var first error
	described := []description{}
	for k, path := range a.files {
		d, err := c.describe(path, threads, float64(k)/float64(len(a.files)), float64(k+1)/float64(len(a.files)))
		switch {
		case err == nil && a.set["json"]:
			described = append(described, d)
		case err == nil:
			c.progress.clear()
			c.out.text(d.text())
		case c.ctx.Err() != nil:
			return err
		case first == nil:
			first = err
		default:
			c.progress.clear()
			fmt.Fprintln(c.stderr, message(err, app.ExitStatus(err)))
		}
	}
	if a.set["json"] {
		data, err := json.MarshalIndent(described, "", "  ")
		if err != nil {
			return err
		}
		c.out.text(string(data) + "\n")
	}
	return first
}

// description is what info says of a file. Lengths are mm, or in the file's own
// unit where that is not known.
type description struct {
	Path         string     `json:"path"`
	Format       string     `json:"format"`
	Bytes        int64      `json:"bytes"`
	SHA256       string     `json:"sha256"`
	Unit         *string    `json:"unit"`
	UnitSource   string     `json:"unit_source"`
	Readings     []reading  `json:"unit_readings,omitempty"`
	Size         [3]float64 `json:"size"`
	Vertices     int        `json:"vertices"`
	Faces        int        `json:"faces"`
	Area         float64    `json:"area"`
	Components   int        `json:"components"`
	Closed       bool       `json:"closed"`
	Borders      []border   `json:"borders"`
	BorderLength float64    `json:"border_length"`
	MedianEdge   float64    `json:"median_edge"`
	ShortestEdge float64    `json:"shortest_edge"`
	LongestEdge  float64    `json:"longest_edge"`
	Noise        *float64   `json:"noise"`         // one standard deviation along the normals; null: too few points
	Doubled      float64    `json:"doubled_share"` // of the area: another skin that faces the same way lies within 5 mm
	DoubledGap   *float64   `json:"doubled_gap"`
	Notices      []string   `json:"notices"`
	Faults       []string   `json:"faults"`
}

type reading struct {
	Unit string     `json:"unit"`
	Size [3]float64 `json:"size_mm"`
}

type border struct {
	Length float64 `json:"length"`
	Edges  int     `json:"edges"`
}

func (c *command) describe(path string, threads int, lo, hi float64) (description, error) {
	var progress mesh.Progress
	if show := c.progress.part(lo, hi); show != nil {
		progress = func(share float64) { show("reading "+path, 0.6*share) }
	}
	options := meshio.Options{Threads: threads, Progress: progress}
	l, err := meshio.Read(c.ctx, path, options)
	var unit *meshio.UnitError
	if errors.As(err, &unit) {
		options.Unit = meshio.Millimetre // lengths then stay as they stand in the file
		l, err = meshio.Read(c.ctx, path, options)
	}
	if err != nil {
		return description{}, err
	}
	health, err := mesh.Health(c.ctx, l.Mesh)
	if err != nil {
		return description{}, err
	}
	d := describe(l, &health, unit)
	if unit == nil && len(l.Mesh.Faces) > 0 {
		err = d.judge(c.ctx, l.Mesh, threads)
	}
	return d, err
}

// doubledFault is the share of the area under a second skin from which on it is a fault:
// webs across gaps and folds at borders come to less.
const doubledFault = 0.01

// judge looks at what the mesh was made from; lengths must be in mm.
func (d *description) judge(ctx context.Context, m *mesh.Mesh, threads int) error {
	normals := m.VertexNormals()
	noise, ok := quality.Noise(m, normals)
	if ok {
		d.Noise = &noise
	}
	tree, err := bvh.Build(ctx, m, threads, nil)
	if err != nil {
		return err
	}
	skins, err := quality.Doubled(ctx, m, normals, noise, tree, threads, nil)
	if err != nil || skins.Share == 0 {
		return err
	}
	d.Doubled, d.DoubledGap = skins.Share, &skins.Gap
	if skins.Share >= doubledFault {
		d.Faults = append(d.Faults, fmt.Sprintf(
			"%.0f %% of the area has another skin facing the same way beside it, %.2g mm apart at the median, for instance at (%.0f, %.0f, %.0f) mm: passes that do not match were joined; deviations and edges jump from skin to skin there; join the passes again or cut one away",
			100*skins.Share, skins.Gap, skins.At.X, skins.At.Y, skins.At.Z))
	}
	return nil
}

func describe(l *meshio.Loaded, h *mesh.Report, unit *meshio.UnitError) description {
	size := h.Box.Size()
	d := description{
		Path: l.Path, Format: l.Format, Bytes: l.Bytes, SHA256: l.SHA256, UnitSource: l.UnitSource,
		Size: [3]float64{size.X, size.Y, size.Z}, Vertices: h.Vertices, Faces: h.Faces, Area: h.Area,
		Components: h.Components, Closed: h.Closed, BorderLength: h.BorderLength, Borders: []border{},
		MedianEdge: h.MedianEdge, ShortestEdge: h.ShortestEdge, LongestEdge: h.LongestEdge,
		Notices: append([]string{}, l.Notices()...), Faults: append([]string{}, h.Faults()...),
	}
	for _, b := range h.BorderLoops {
		d.Borders = append(d.Borders, border{b.Length, b.Edges})
	}
	if unit == nil {
		u := string(l.Unit)
		d.Unit = &u
		return d
	}
	d.UnitSource = "unknown"
	for _, r := range unit.Readings {
		d.Readings = append(d.Readings, reading{string(r.Unit), [3]float64{r.Size.X, r.Size.Y, r.Size.Z}})
	}
	return d
}

// text is the table a person reads.
func (d *description) text() string {
	var t text
	t.raw(d.Path)
	row := func(label, value string) {
		t.indented(fmt.Sprintf("  %-12s", label), strings.Repeat(" ", 14), value)
	}
	u, after := " mm", ""
	if d.Unit == nil {
		u, after = "", ", in the file's unit"
	}
	row("format", d.Format+", "+words.Bytes(d.Bytes))
	row("unit", d.unitText())
	row("size", fmt.Sprintf("%.4g × %.4g × %.4g%s%s", d.Size[0], d.Size[1], d.Size[2], u, after))
	row("points", words.Count(d.Vertices))
	row("triangles", words.Count(d.Faces))
	if d.Faces > 0 {
		row("pieces", words.Count(d.Components))
		row("borders", d.borderText(u, after))
		row("edges", fmt.Sprintf("median %.3g%s (%.3g to %.3g)%s", d.MedianEdge, u, d.ShortestEdge, d.LongestEdge, after))
		if d.Noise != nil {
			noise := fmt.Sprintf("%.2g mm", *d.Noise)
			if *d.Noise < 0.001 {
				noise = "under 0.001 mm"
			}
			row("noise", noise+", one standard deviation, of what neighbouring points do not share")
		}
	}
	for _, n := range d.Notices {
		if strings.HasPrefix(n, "the unit was judged") {
			continue // the row of the unit says so
		}
		row("note", n)
	}
	for _, f := range d.Faults {
		row("fault", f)
	}
	if len(d.Faults) == 0 {
		row("faults", "none found")
	}
	row("sha256", d.SHA256)
	t.line("")
	return t.b.String()
}

func (d *description) unitText() string {
	if d.Unit == nil {
		var parts []string
		for _, r := range d.Readings {
			parts = append(parts, fmt.Sprintf("%s (%.4g × %.4g × %.4g mm)", r.Unit, r.Size[0], r.Size[1], r.Size[2]))
		}
		return "cannot be told from the size: " + strings.Join(parts, ", ") +
			"; state it as units in the inspection file (beside a reference of a known size, inspect can tell it)"
	}
	how := map[string]string{"judged": "judged from the size; check it", "format": "as the format says", "stated": "as stated"}
	return *d.Unit + ", " + how[d.UnitSource]
}

// borderText lists the longest borders.
func (d *description) borderText(unit, after string) string {
	const most = 5
	if len(d.Borders) == 0 {
		return "none: the surface is closed"
	}
	var parts []string
	for _, b := range d.Borders[:min(most, len(d.Borders))] {
		parts = append(parts, length(b.Length, d.Unit != nil))
	}
	s := fmt.Sprintf("%d, %s%s in all; longest %s", len(d.Borders), length(d.BorderLength, d.Unit != nil), unit, strings.Join(parts, ", "))
	if len(d.Borders) > most {
		s += ", …"
	}
	return s + after
}

// length writes mm with one decimal, and a length in an unknown unit with three digits.
func length(x float64, mm bool) string {
	if mm {
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.3g", x)
}
