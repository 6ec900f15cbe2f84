package inspection

import (
	"fmt"
	"path/filepath"
	"strings"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// PieceFile is one of several overlapping scans that are joined to the scan.
type PieceFile struct {
	File   string // absolute, or relative to the working directory
	SHA256 string // as the scan's
	Units  meshio.Unit
}

// Marker is a named point that pieces share.
type Marker struct {
	Name string
	U    float64 // mm, expanded (k = 2), of each coordinate; 0: as targets are usually read
	At   []MarkerAt
}

// MarkerAt is where a piece has a marker.
type MarkerAt struct {
	Piece int      // by number from 0; the number of pieces for the reference
	Point geom.Vec // mm, in the piece's own coordinates
}

// onReference is what a marker's piece is called that is the reference.
const onReference = "reference"

// mostPieces is more than a body is scanned in.
const mostPieces = 100

// pieces reads [[piece]] and [[marker]]. It must run before the scan is read, whose units are those of pieces that say none.
func (r *reader) pieces(i *Inspection, pieces, markers []any, reference bool) {
	if len(pieces) == 1 || len(pieces) > mostPieces {
		r.fail(indexed("piece", 0), "%d given; write two [[piece]] or more, and at most %d, or the one scan as file in [scan]", len(pieces), mostPieces)
	}
	names := map[string]int{}
	for k, v := range pieces {
		t := r.table(indexed("piece", k), v, r.note, "file", "sha256", "units")
		p := PieceFile{File: r.file(t), SHA256: r.sha256(t), Units: r.units(t)}
		base := filepath.Base(p.File)
		if first, twice := names[base]; twice {
			r.fail(joined(t.path, "file"), "%q is also the file of piece %d; give each piece a file of its own name", base, first+1)
		}
		names[base] = k
		i.Pieces = append(i.Pieces, p)
		if r.err != nil {
			return
		}
	}
	if len(markers) > 0 && len(pieces) == 0 {
		r.fail(indexed("marker", 0), "markers tie pieces together, and there are none; write [[piece]], or take the markers out")
	}
	named := map[string]int{}
	for k, v := range markers {
		t := r.table(indexed("marker", k), v, r.note, "name", "uncertainty", "at")
		m := Marker{Name: r.name(t, fmt.Sprintf("marker %d", k+1), named, k), U: t.positive("uncertainty", 0, mostOff, "mm")}
		list, ok := t.m["at"].([]any)
		if !ok || len(list) < 2 {
			r.fail(joined(t.path, "at"), "must list where two pieces or more have the marker: at = [ { piece = \"left.stl\", point = [x, y, z] }, ... ]")
		}
		for n, e := range list {
			path := indexed(joined(t.path, "at"), n)
			s := r.table(path, e, nil, "piece", "point")
			at := MarkerAt{Point: s.point("point")}
			name := strings.TrimSpace(s.text("piece", ""))
			piece, known := names[name]
			switch {
			case known:
				at.Piece = piece
			case name == onReference && reference:
				at.Piece = len(pieces)
			case name == onReference:
				r.fail(joined(path, "piece"), "there is no [reference] to have the marker; name a piece, or add a [reference]")
			default:
				r.fail(joined(path, "piece"), "%q is none of the pieces; write the name of a piece's file, or %q", name, onReference)
			}
			m.At = append(m.At, at)
		}
		i.Markers = append(i.Markers, m)
		if r.err != nil {
			return
		}
	}
}

// scanFile returns the scan's file; of a scan in pieces it is the first piece's.
func (r *reader) scanFile(t table, pieces []PieceFile) string {
	if len(pieces) == 0 {
		return r.file(t)
	}
	for _, key := range []string{"file", "sha256", "units"} {
		if t.has(key) {
			r.fail(joined(t.path, key), "the scan is joined from [[piece]], which say their own %s; leave it out, or take the pieces out", key)
		}
	}
	return pieces[0].File
}

// pieces writes [[piece]] and [[marker]].
func (e *encoder) pieces(i *Inspection) {
	for _, p := range i.Pieces {
		e.line("\n[[piece]]\nfile = %s", quote(e.relative(p.File)))
		e.sha256(p.SHA256)
		e.unit(string(p.Units))
	}
	for _, m := range i.Markers {
		e.line("\n[[marker]]\nname = %s", quote(m.Name))
		if m.U > 0 {
			e.line("uncertainty = %s", number(m.U))
		}
		e.line("at = [")
		for _, at := range m.At {
			name := onReference
			if at.Piece < len(i.Pieces) {
				name = filepath.Base(i.Pieces[at.Piece].File)
			}
			e.line("  { piece = %s, point = [%s, %s, %s] },", quote(name), number(at.Point.X), number(at.Point.Y), number(at.Point.Z))
		}
		e.line("]")
	}
}
