package app

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"shutline/deviation/pieces"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// The columns of a table of markers; the last may be left out.
var markerColumns = []string{"marker", "piece", "x_mm", "y_mm", "z_mm", "U_mm"}

// mostMarkers bounds a table of markers: bodies carry some hundred.
const mostMarkers = 10000

// referenceName is what a table of markers calls the reference.
const referenceName = "reference"

// ReadMarkers reads a table of markers: one row for each marker on each piece, with the columns marker, piece (the file's name, with or
// without its ending, or "reference"), x_mm, y_mm, z_mm and, where known, U_mm, the expanded uncertainty (k = 2) of a
// coordinate. names are those of the pieces and files their paths.
//
// Errors: a [meshio.OpenError], or an [InputError] with the line.
func ReadMarkers(path string, names, files []string, reference bool) ([]pieces.Marker, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &meshio.OpenError{Path: path, Err: err}
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	r.Comment = '#'
	bad := func(line int, format string, args ...any) error {
		return &InputError{Path: path, Problem: fmt.Sprintf("line %d: ", line) + fmt.Sprintf(format, args...)}
	}
	index := map[string]int{}
	var out []pieces.Marker
	for first := true; ; first = false {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		line, _ := r.FieldPos(0)
		if err != nil {
			return nil, &InputError{Path: path, Problem: "the table of markers cannot be read: " + err.Error()}
		}
		for k := range row {
			row[k] = strings.TrimSpace(row[k])
		}
		if first {
			if len(row) < 5 || !slices.Equal(row[:5], markerColumns[:5]) || len(row) > 6 || len(row) == 6 && row[5] != markerColumns[5] {
				return nil, bad(line, "the first line must name the columns %s (U_mm may be left out)", strings.Join(markerColumns, ","))
			}
			continue
		}
		if len(row) < 5 || len(row) > 6 {
			return nil, bad(line, "it has %d cells; write %s", len(row), strings.Join(markerColumns, ","))
		}
		if row[0] == "" {
			return nil, bad(line, "the marker has no name")
		}
		piece, ok := pieceNamed(row[1], names, files)
		switch {
		case row[1] == referenceName && reference:
			piece, ok = len(names), true
		case row[1] == referenceName:
			return nil, bad(line, "marker %q is on the reference, and none is named; add --reference, or take the line out", row[0])
		}
		if !ok {
			return nil, bad(line, "marker %q is on %q, which is none of the pieces (%s)", row[0], row[1], strings.Join(names, ", "))
		}
		var v [4]float64
		for k := range row[2:] {
			if k == 3 && row[5] == "" {
				continue
			}
			n, err := strconv.ParseFloat(row[2+k], 64)
			if err != nil || math.IsNaN(n) || math.Abs(n) > 1e6 || k == 3 && !(n > 0) {
				return nil, bad(line, "%s of marker %q is %q; write a number of mm", markerColumns[2+k], row[0], row[2+k])
			}
			v[k] = n
		}
		k, known := index[row[0]]
		if !known {
			if len(out) == mostMarkers {
				return nil, bad(line, "there are more than %d markers", mostMarkers)
			}
			k = len(out)
			index[row[0]] = k
			out = append(out, pieces.Marker{Name: row[0]})
		}
		out[k].Seen = append(out[k].Seen, pieces.Sighting{Piece: piece, At: geom.Vec{X: v[0], Y: v[1], Z: v[2]}})
		out[k].Sigma = max(out[k].Sigma, v[3]/2)
	}
	if len(out) == 0 {
		return nil, &InputError{Path: path, Problem: "it holds no markers; write one line for each marker on each piece: " + strings.Join(markerColumns, ",")}
	}
	return out, nil
}

// pieceNamed returns the piece that a table means.
func pieceNamed(name string, names, files []string) (int, bool) {
	for k := range names {
		base := filepath.Base(files[k])
		if name == names[k] || name == files[k] || name == base {
			return k, true
		}
	}
	found := -1
	for k := range files {
		base := filepath.Base(files[k])
		if name == strings.TrimSuffix(base, filepath.Ext(base)) {
			if found >= 0 {
				return 0, false
			}
			found = k
		}
	}
	return found, found >= 0
}
