package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"shutline/app"
	"shutline/mesh"
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
	unit, err := a.units()
	if err != nil {
		return err
	}
	files := meshesIn(a.files)
	var first error
	read, faulty := 0, 0
	described := []any{}
	for k, path := range files {
		d, err := c.describe(path, unit, threads, float64(k)/float64(len(files)), float64(k+1)/float64(len(files)))
		if err != nil && c.ctx.Err() != nil {
			return err
		}
		c.progress.clear()
		switch {
		case err == nil:
			read++
			if len(d.Faults) > 0 {
				faulty++
			}
			if described = append(described, d); !a.set["json"] {
				c.out.text(d.text())
			}
		default:
			described = append(described, refusal{path, message(err, app.ExitStatus(err)), app.ExitStatus(err)})
			if first == nil {
				first = err
			} else {
				fmt.Fprintln(c.stderr, message(err, app.ExitStatus(err)))
			}
		}
	}
	if a.set["json"] {
		data, err := json.MarshalIndent(described, "", "  ")
		if err != nil {
			return err
		}
		c.out.text(string(data) + "\n")
	} else if len(files) > 1 {
		c.out.text(fmt.Sprintf("%d files: %d read, %d of them with faults; %d cannot be used\n", len(files), read, faulty, len(files)-read))
	}
	return first
}

// meshesIn puts the meshes in a folder in the folder's place, by name. A folder without any stays, and is refused.
func meshesIn(paths []string) []string {
	var out []string
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil || !info.IsDir() {
			out = append(out, path)
			continue
		}
		entries, err := os.ReadDir(path) // sorted by name
		before := len(out)
		for _, e := range entries {
			if app.IsMeshName(e.Name()) && !e.IsDir() {
				out = append(out, filepath.Join(path, e.Name()))
			}
		}
		if err != nil || len(out) == before {
			out = append(out, path)
		}
	}
	return out
}

// refusal is what stands in the JSON for a file that cannot be used.
type refusal struct {
	Path   string `json:"path"`
	Error  string `json:"error"`
	Status int    `json:"status"` // the exit status that this file alone would end with
}

// description is what info says of a file. Lengths are in LengthUnit, areas in its square; null: not known.
type description struct {
	Path         string     `json:"path"`
	Format       string     `json:"format"`
	Bytes        int64      `json:"bytes"`
	SHA256       string     `json:"sha256"`
	Unit         *string    `json:"unit"`
	UnitSource   string     `json:"unit_source"`
	Readings     []reading  `json:"unit_readings,omitempty"`
	LengthUnit   string     `json:"length_unit"` // "mm", or "file" where the unit is not known
	Size         [3]float64 `json:"size"`
	Vertices     int        `json:"vertices"`
	Faces        int        `json:"faces"`
	Normals      *bool      `json:"normals"` // of a point cloud
	Spacing      *float64   `json:"spacing"` // between neighbouring points
	Area         *float64   `json:"area"`
	Components   int        `json:"components"`
	Pieces       []piece    `json:"pieces"` // the largest first; at most 20
	Closed       *bool      `json:"closed"`
	Borders      []border   `json:"borders"`
	BorderLength float64    `json:"border_length"`
	MedianEdge   *float64   `json:"median_edge"`
	FineEdge     *float64   `json:"fine_edge"` // a tenth of the edges is shorter
	ShortestEdge *float64   `json:"shortest_edge"`
	LongestEdge  *float64   `json:"longest_edge"`
	Noise        *float64   `json:"noise"`          // one standard deviation along the normals; null: too few points
	NoiseIsShape bool       `json:"noise_is_shape"` // more likely the part's shape
	Doubled      *float64   `json:"doubled_share"`  // of the area: another skin that faces the same way lies within 5 mm; null: not known without the unit
	DoubledGap   *float64   `json:"doubled_gap"`
	Notices      []string   `json:"notices"`
	Faults       []string   `json:"faults"`
	Uses         []use      `json:"uses"`
}

type reading struct {
	Unit      string     `json:"unit"`
	Size      [3]float64 `json:"size_mm"`
	Plausible bool       `json:"plausible"` // for a part of 50 mm to 8 m
}

type border struct {
	Length float64 `json:"length"`
	Edges  int     `json:"edges"`
}

type piece struct {
	Faces int        `json:"faces"`
	Area  float64    `json:"area"`
	Size  [3]float64 `json:"size"`
}

type use struct {
	As  string `json:"as"`
	OK  bool   `json:"ok"`
	Why string `json:"why,omitempty"`
}

func (c *command) describe(path string, unit meshio.Unit, threads int, lo, hi float64) (*description, error) {
	var progress mesh.Progress
	if show := c.progress.part(lo, hi); show != nil {
		progress = func(share float64) { show("reading "+path, share) }
	}
	if err := app.NeedRoom(path); err != nil {
		return nil, err
	}
	options := meshio.Options{Unit: unit, Threads: threads, Progress: progress.Part(0, 0.6)}
	l, err := meshio.Read(c.ctx, path, options)
	var open *meshio.UnitError
	if errors.As(err, &open) {
		options.Unit = meshio.Millimetre // lengths then stay as they stand in the file
		l, err = meshio.Read(c.ctx, path, options)
	}
	if err != nil {
		return nil, err
	}
	units := []meshio.Unit{meshio.Millimetre} // of the mesh as read
	if open != nil && open.Plausible {
		units = units[:0]
		for _, r := range open.Readings {
			units = append(units, r.Unit)
		}
	}
	e, err := quality.Examine(c.ctx, l.Mesh, nil, units, threads, progress.Part(0.6, 1))
	if err != nil {
		return nil, err
	}
	return describe(l, e, open != nil), nil
}

// mostPieces are listed.
const mostPieces = 20

func describe(l *meshio.Loaded, e *quality.Examination, open bool) *description {
	h := &e.Health
	size := h.Box.Size()
	d := &description{
		Path: l.Path, Format: l.Format, Bytes: l.Bytes, SHA256: l.SHA256, UnitSource: l.UnitSource, LengthUnit: "mm",
		Size: [3]float64{size.X, size.Y, size.Z}, Vertices: h.Vertices, Faces: h.Faces,
		Components: h.Components, BorderLength: h.BorderLength, Borders: []border{}, Pieces: []piece{},
		Notices: append([]string{}, l.Notices()...), Faults: append([]string{}, e.Faults()...),
	}
	mm := 1.0
	if open {
		mm, d.UnitSource, d.LengthUnit = 0, "unknown", "file"
	} else {
		u := string(l.Unit)
		d.Unit = &u
	}
	for _, u := range meshio.Units() {
		in := u.MM()
		if !open {
			in /= l.Unit.MM() // the mesh is in mm already
		}
		s := size.Scale(in)
		d.Readings = append(d.Readings, reading{string(u), [3]float64{s.X, s.Y, s.Z}, meshio.IsPartSize(s)})
	}
	if e.Spacing > 0 {
		d.Spacing = &e.Spacing
	}
	for _, u := range e.Uses(mm) {
		d.Uses = append(d.Uses, use{u.As, u.OK, u.Why})
	}
	if h.Faces == 0 {
		d.Normals = &e.HasNormals
		return d
	}
	d.Area, d.Closed, d.MedianEdge, d.FineEdge, d.ShortestEdge, d.LongestEdge = &h.Area, &h.Closed, &h.MedianEdge, &h.FineEdge, &h.ShortestEdge, &h.LongestEdge
	for _, b := range h.BorderLoops {
		d.Borders = append(d.Borders, border{b.Length, b.Edges})
	}
	for _, p := range h.Pieces[:min(len(h.Pieces), mostPieces)] {
		s := p.Box.Size()
		d.Pieces = append(d.Pieces, piece{p.Faces, p.Area, [3]float64{s.X, s.Y, s.Z}})
	}
	if e.HasNoise {
		d.Noise, d.NoiseIsShape = &e.Noise, e.NoiseIsShape()
	}
	if len(e.Doubled) == 1 && !open {
		r := &e.Doubled[0]
		if d.Doubled = &r.Share; r.Share > 0 {
			d.DoubledGap = &r.Gap
		}
	}
	return d
}
