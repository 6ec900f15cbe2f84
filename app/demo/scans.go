package demo

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/scanpath"
)

// TruthScansFile holds what is wrong with each of the whole van's scans.
const TruthScansFile = "truth-scans.json"

// Scans of the whole van, each with an inspection file NAME.toml.
const (
	GoodScan   = "good"        // a good scanner, once round the van
	ClosedScan = "good-closed" // the same scan, the closing error spread along the path
	PoorScan   = "poor"        // a poor scanner
	EndScan    = "end"         // the good scanner, in pieces, each begun at its end
	MiddleScan = "middle"      // in pieces, each begun in its middle and scanned each way
)

// ScanNames lists them in the order they are written.
func ScanNames() []string { return []string{GoodScan, ClosedScan, PoorScan, EndScan, MiddleScan} }

const (
	scanPieces   = 6
	scanNoise    = 0.03 // mm, independent
	sharedNoise  = 0.02 // mm, shared by neighbours
	pieceOverlap = 400.0
	// firstSeed: of the demo's first scan, which comes back some 9 mm off, as a good scanner mostly does.
	firstSeed = 1
)

// vanScan is one scan of the whole van.
type vanScan struct {
	name, title string
	scan        *scanpath.Scan
}

// WriteScans writes the whole van as drawn and five scans of it into dir, each with an inspection file, and the truth
// beside them. Options.Size is the triangles of each scan. Errors are as Write's.
func WriteScans(ctx context.Context, dir string, o Options, progress mesh.Progress) error {
	if err := free(dir, o.Replace); err != nil {
		return err
	}
	size := o.Size
	if size == 0 {
		size = scanpath.DefaultTriangles
	}
	reference, _, err := scanpath.Reference(ctx, size, o.Threads)
	if err != nil {
		return err
	}
	base := scanpath.Options{
		Triangles: size, Seed: o.Seed + firstSeed, Noise: scanNoise, SharedNoise: sharedNoise, Overlap: pieceOverlap,
		Drift: scanpath.GoodScanner(), Threads: o.Threads,
	}
	list := []vanScan{
		{name: GoodScan, title: "Parcel van, a good scanner, once round"},
		{name: ClosedScan, title: "Parcel van, a good scanner, once round, loop closed"},
		{name: PoorScan, title: "Parcel van, a poor scanner, once round"},
		{name: EndScan, title: "Parcel van, a good scanner, six pieces from their ends"},
		{name: MiddleScan, title: "Parcel van, a good scanner, six pieces from their middles"},
	}
	for i := range list {
		s := base
		switch list[i].name {
		case ClosedScan:
			s.LoopClosed = true
		case PoorScan:
			s.Drift = scanpath.PoorScanner()
		case EndScan:
			s.Pieces, s.Still = scanPieces, true // as pieces of one session lie: where they were scanned, but for the drift
		case MiddleScan:
			s.Pieces, s.FromMiddle, s.Still = scanPieces, true, true
		}
		if list[i].scan, err = scanpath.New(ctx, s, progress.Part(float64(i)/float64(2*len(list)), float64(i+1)/float64(2*len(list)))); err != nil {
			return err
		}
	}
	_, missing := os.Stat(dir)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("demo: %s: %w: %w", dir, ErrWrite, err)
	}
	if missing != nil {
		defer os.Remove(dir) // runs after discard, and only an empty folder goes
	}
	var out staged
	defer out.discard()
	stl := func(name string, m *mesh.Mesh) error {
		return out.write(ctx, dir, name, func(w io.Writer) error { return meshio.WriteSTL(w, m) })
	}
	if err := stl(ReferenceFile, reference); err != nil {
		return err
	}
	for i, s := range list {
		for k := range s.scan.Pieces {
			if err := stl(s.file(k), s.scan.Pieces[k].Mesh); err != nil {
				return err
			}
		}
		if err := out.write(ctx, dir, s.name+".toml", s.inspection); err != nil {
			return err
		}
		progress.Report(0.5 + 0.5*float64(i+1)/float64(len(list)))
	}
	if err := out.write(ctx, dir, TruthScansFile, func(w io.Writer) error { return writeScanTruth(w, list) }); err != nil {
		return err
	}
	return out.publish()
}

// file returns the name of a piece's mesh.
func (s *vanScan) file(piece int) string {
	if len(s.scan.Pieces) == 1 {
		return s.name + ".stl"
	}
	return fmt.Sprintf("%s-%d.stl", s.name, piece+1)
}

// span is a known length across the van: two places that face away from one another.
type span struct {
	name     string
	from, to scanpath.Place
}

// spans returns the van's known lengths, clear of where a scan lies over its start.
func spans() []span {
	return []span{
		{"overall length", scanpath.Place{Sheet: scanpath.Wall, U: 400, V: 700}, scanpath.Place{Sheet: scanpath.Wall, U: scanpath.Round/2 - 400, V: 700}},
		{"width behind the doors", scanpath.Place{Sheet: scanpath.Wall, U: 3700, V: 500}, scanpath.Place{Sheet: scanpath.Wall, U: scanpath.Round - 3700, V: 500}},
	}
}

// travelled returns the length of the scanner's path over all pieces, mm.
func (s *vanScan) travelled() float64 {
	sum := 0.0
	for i := range s.scan.Pieces {
		sum += s.scan.Pieces[i].Path.Length
	}
	return math.Round(sum)
}

func (s *vanScan) inspection(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# A made-up parcel van, scanned whole; truth-scans.json says what is wrong with the scan.\ntitle = %q\n", s.title)
	if len(s.scan.Pieces) == 1 {
		fmt.Fprintf(&b, "\n[scan]\nfile = %q\nunits = \"mm\"\ntravelled = %.0f      # mm, the whole way of the scanner\n", s.file(0), s.travelled())
	} else {
		for k := range s.scan.Pieces {
			fmt.Fprintf(&b, "\n[[piece]]\nfile = %q\nunits = \"mm\"\n", s.file(k))
		}
	}
	fmt.Fprintf(&b, `
[reference]
file = %q
units = "mm"

%s
[surface]
reach = 30.0
tolerance = [-2.0, 2.0]  # mm
views = ["left", "three-quarter"]

[plan]
wanted = 1.0             # mm, over the length of the van
path = %.0f
`, ReferenceFile, s.place(), s.travelled())
	for _, l := range spans() {
		p, _ := s.scan.Drawn.At(l.from)
		q, _ := s.scan.Drawn.At(l.to)
		fmt.Fprintf(&b, `
[[length]]
name = %q
from = %s
to = %s
known = %.2f
known_uncertainty = 0.1
allowed = { a = 0.5, per_metre = 0.1 }
`, l.name, point(p), point(q), p.Dist(q))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// place words where the scan lies: for one in one go, where it began, as a best fit would spread the drift over the whole body.
func (s *vanScan) place() string {
	if len(s.scan.Pieces) > 1 {
		return "[place]\nmethod = \"best-fit\"\n"
	}
	g := s.scan.Pieces[0].PieceFromReference.Inverse()
	var b strings.Builder
	b.WriteString("[place]\nmethod = \"given\"         # where the scanner began: a best fit spreads the drift over the whole body\nmatrix = [\n")
	for i, t := range [3]float64{g.T.X, g.T.Y, g.T.Z} {
		fmt.Fprintf(&b, "    %.15g, %.15g, %.15g, %.9f,\n", g.R[i][0], g.R[i][1], g.R[i][2], t)
	}
	b.WriteString("    0, 0, 0, 1,\n]\n")
	return b.String()
}

// scanTruth is what is wrong with a scan.
type scanTruth struct {
	Scan      string         `json:"scan"`
	Title     string         `json:"title"`
	Files     []string       `json:"files"`
	Travelled float64        `json:"travelled_mm"`
	Lengths   []lengthTruth  `json:"lengths,omitempty"`
	Closings  []closingTruth `json:"closures,omitempty"`
	Overlaps  []overlapTruth `json:"overlaps,omitempty"`
}

type lengthTruth struct {
	Name  string  `json:"name"`
	True  float64 `json:"true_mm"`
	Error float64 `json:"error_mm"` // of the scan, without noise
}

type closingTruth struct {
	Centre    [3]float64 `json:"centre_mm"` // in the scan's frame
	Shift     [3]float64 `json:"shift_mm"`  // from the end onto the start
	Size      float64    `json:"displacement_mm"`
	Turn      float64    `json:"turn_deg"`
	Left      float64    `json:"shape_rms_mm"` // that no rigid motion takes away
	Travelled float64    `json:"travelled_between_mm"`
}

type overlapTruth struct {
	A    string  `json:"a"`
	B    string  `json:"b"`
	RMS  float64 `json:"shape_rms_mm"`
	Most float64 `json:"shape_most_mm"`
}

func writeScanTruth(w io.Writer, list []vanScan) error {
	three := func(v geom.Vec) [3]float64 { return [3]float64{v.X, v.Y, v.Z} }
	var out []scanTruth
	for i := range list {
		s := &list[i]
		t := scanTruth{Scan: s.name, Title: s.title, Travelled: s.travelled()}
		for k := range s.scan.Pieces {
			t.Files = append(t.Files, s.file(k))
		}
		if len(s.scan.Pieces) == 1 {
			for _, l := range spans() {
				p, _ := s.scan.Drawn.At(l.from)
				q, _ := s.scan.Drawn.At(l.to)
				a, _ := s.scan.Carried(0, l.from)
				b, _ := s.scan.Carried(0, l.to)
				t.Lengths = append(t.Lengths, lengthTruth{l.name, p.Dist(q), a.Dist(b) - p.Dist(q)})
			}
		}
		for _, c := range s.scan.Closings() {
			t.Closings = append(t.Closings, closingTruth{
				three(c.Centre), three(c.Shift), c.Shift.Norm(), c.Turn.Norm() * 180 / math.Pi, c.RMS, c.Travel,
			})
		}
		for _, o := range s.scan.Overlaps() {
			t.Overlaps = append(t.Overlaps, overlapTruth{s.file(o.A), s.file(o.B), o.RMS, o.Worst})
		}
		out = append(out, t)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(out)
}
