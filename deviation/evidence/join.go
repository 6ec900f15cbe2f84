package evidence

import (
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"shutline/deviation/pieces"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Joined is what joining pieces found, as it is written. Joined may be nil: then no mesh was made.
type Joined struct {
	Version string
	Inputs  []Input // in the order of the result's names
	Result  *pieces.Result
	Joined  *pieces.Joined
	Notes   []string
}

const (
	overlapHeader = "piece_a,piece_b,area_mm2,points,rms_loaded_mm,rms_alone_mm,rms_joined_mm,noise_mm,F,F_critical,shape," +
		"most_mm,most_U_mm,x_mm,y_mm,z_mm,U_tx_mm,U_ty_mm,U_tz_mm,U_rx_deg,U_ry_deg,U_rz_deg,free," +
		"seam_mm,step_median_mm,step_95_mm,step_most_mm,step_left_mm,open_mm,k"
	pieceHeader = "piece,faces,area_mm2,m00,m01,m02,m03,m10,m11,m12,m13,m20,m21,m22,m23,m30,m31,m32,m33," +
		"moved_mm,U_tx_mm,U_ty_mm,U_tz_mm,U_rx_deg,U_ry_deg,U_rz_deg,x_mm,y_mm,z_mm,U_far_mm,stays,scale_ppm,scale_U_ppm,k,sha256"
	cycleHeader  = "round,gap_mm,U_mm,turn_deg,x_mm,y_mm,z_mm,chi2,dof,p,closes,k"
	markerHeader = "marker,x_mm,y_mm,z_mm,most_left_mm,sightings"
)

const degrees = 180 / math.Pi

// sixU returns the expanded uncertainties of six motions; those that are free have none.
func sixU(sigma [6]float64, free [6]bool, known bool) (cells [6]num) {
	for k, s := range sigma {
		cells[k] = num{2 * s, mmDecimals, known && !free[k]}
		if k >= 3 {
			cells[k] = num{2 * s * degrees, rotationDecimals, known && !free[k]}
		}
	}
	return cells
}

// texts returns the cells of numbers.
func texts(numbers ...num) (out []string) {
	for _, n := range numbers {
		out = append(out, n.String())
	}
	return out
}

func at3(p geom.Vec, ok bool) []string {
	return texts(num{p.X, mmDecimals, ok}, num{p.Y, mmDecimals, ok}, num{p.Z, mmDecimals, ok})
}

// overlapTable writes overlaps.csv.
func (j *Joined) overlapTable() []byte {
	t := newTable(overlapHeader)
	r := j.Result
	for i := range r.Overlaps {
		o := &r.Overlaps[i]
		told := o.Shape != pieces.Untold
		row := []string{guarded(r.Names[o.A]), guarded(r.Names[o.B]), num{o.Area, 1, true}.String(), strconv.Itoa(o.Points)}
		row = append(row, texts(num{o.Before, mmDecimals, o.HasBefore}, mm(o.Alone), mm(o.After), num{o.Noise.Sigma, mmDecimals, o.Noise.Looks > 0},
			num{o.F, ratioDecimals, told}, num{o.FCritical, ratioDecimals, told})...)
		has := len(o.Patches) > 0
		row = append(row, o.Shape.String(), num{o.Most.Offset, mmDecimals, has}.String(), num{o.Most.U, mmDecimals, has}.String())
		row = append(row, at3(o.Most.At, has)...)
		u := sixU(o.Sigma, o.Loose, true)
		row = append(append(row, texts(u[:]...)...), guarded(strings.Join(o.Free, "; ")))
		row = append(append(row, j.seamCells(o)...), "2")
		t.row(row...)
	}
	return t.bytes()
}

// ratioDecimals of F, chi-square and chances.
const ratioDecimals = 4

// seamOf is the seam between an overlap's pieces, nil where there is none.
func (j *Joined) seamOf(o *pieces.Overlap) *pieces.Seam {
	if j.Joined == nil {
		return nil
	}
	for k := range j.Joined.Seams {
		if s := &j.Joined.Seams[k]; s.A == min(o.A, o.B) && s.B == max(o.A, o.B) {
			return s
		}
	}
	return nil
}

// seamCells are the figures of the seam between an overlap's pieces, empty where there is none.
func (j *Joined) seamCells(o *pieces.Overlap) []string {
	if s := j.seamOf(o); s != nil {
		return texts(mm(s.Length), mm(s.StepMedian), mm(s.Step95), mm(s.StepMost), mm(s.Left), mm(s.Open))
	}
	return make([]string, 6)
}

// pieceTable writes pieces.csv.
func (j *Joined) pieceTable() []byte {
	t := newTable(pieceHeader)
	for k, p := range j.Result.Pieces {
		row := []string{guarded(p.Name), strconv.Itoa(p.Faces), num{p.Area, 1, true}.String()}
		row = append(append(row, texts(matrixOf(p.JoinedFromPiece)...)...), mm(p.Moved).String())
		u := sixU(p.Sigma, p.Free, !p.Stays)
		row = append(append(row, texts(u[:]...)...), at3(p.Centre, true)...)
		stays := ""
		if p.Stays {
			stays = "stays"
		}
		row = append(row, num{p.UFar, mmDecimals, !p.Stays && p.Free == [6]bool{}}.String(), stays,
			num{p.ScalePPM, ppmDecimals, p.HasScale}.String(), num{p.ScalePPMU, ppmDecimals, p.HasScale}.String(), "2", j.Inputs[k].SHA256)
		t.row(row...)
	}
	return t.bytes()
}

// cycleTable writes cycles.csv.
func (j *Joined) cycleTable() []byte {
	t := newTable(cycleHeader)
	for _, c := range j.Result.Cycles {
		closes := "no"
		if c.Closes {
			closes = "yes"
		}
		row := append([]string{guarded(j.round(&c)), mm(c.Gap).String(), mm(c.U).String(), num{c.Turn * degrees, rotationDecimals, true}.String()}, at3(c.Centre, true)...)
		t.row(append(row, num{c.Chi2, ratioDecimals, true}.String(), strconv.Itoa(c.DoF), num{c.P, ratioDecimals, true}.String(), closes, "2")...)
	}
	return t.bytes()
}

// round names the pieces of a round.
func (j *Joined) round(c *pieces.Cycle) string {
	var names []string
	for _, n := range append(append([]int{}, c.Nodes...), c.Nodes[0]) {
		names = append(names, j.Result.Names[n])
	}
	return strings.Join(names, " - ")
}

// markerTable writes markers.csv.
func (j *Joined) markerTable() []byte {
	t := newTable(markerHeader)
	for _, m := range j.Result.Markers {
		most := 0.0
		for _, l := range m.Left {
			most = max(most, l)
		}
		t.row(append(append([]string{guarded(m.Name)}, at3(m.At, true)...), mm(most).String(), strconv.Itoa(len(m.Left)))...)
	}
	return t.bytes()
}

// tables are those written beside a joined mesh.
func (j *Joined) tables() []joinedTable {
	out := []joinedTable{{"overlaps.csv", j.overlapTable}, {"pieces.csv", j.pieceTable}}
	if len(j.Result.Cycles) > 0 {
		out = append(out, joinedTable{"cycles.csv", j.cycleTable})
	}
	if len(j.Result.Markers) > 0 {
		out = append(out, joinedTable{"markers.csv", j.markerTable})
	}
	return out
}

// The tables of a scan that was joined from pieces.
func joinedOverlaps(r *Record) []byte { return r.Joined.overlapTable() }
func joinedPieces(r *Record) []byte   { return r.Joined.pieceTable() }
func joinedCycles(r *Record) []byte   { return r.Joined.cycleTable() }
func joinedMarkers(r *Record) []byte  { return r.Joined.markerTable() }

type joinedTable struct {
	name string
	data func() []byte
}

// CheckJoined says, before the long work, whether a joined mesh may be written to a path with its tables beside it. The
// error is a *WriteError. None of inputs is ever written over.
func CheckJoined(path string, replace bool, inputs ...string) error {
	dir := filepath.Dir(path)
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return &WriteError{Path: dir, Problem: "is a file; name a folder for the joined mesh"}
	}
	for _, name := range []string{filepath.Base(path), "overlaps.csv", "pieces.csv", "cycles.csv", "markers.csv"} {
		at := filepath.Join(dir, name)
		info, err := os.Lstat(at)
		switch {
		case err != nil:
			continue
		case info.IsDir():
			return &WriteError{Path: at, Problem: "is a folder; name a file for the joined mesh"}
		case isOneOf(at, inputs):
			return &WriteError{Path: at, Problem: "is one of the files that are joined, and is not written over; name another folder"}
		case !replace:
			return &WriteError{Path: at, Problem: "is there already; name another folder, or allow it with --replace"}
		}
	}
	return writable(dir)
}

// isOneOf reports whether a path leads to one of the files.
func isOneOf(path string, files []string) bool {
	at, err := os.Stat(path)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(files, func(f string) bool {
		other, err := os.Stat(f)
		return err == nil && os.SameFile(at, other)
	})
}

// WriteJoined writes the joined mesh to a path, by write, with its tables beside it: all or none. The error is a *WriteError or ctx's.
func WriteJoined(ctx context.Context, j *Joined, path string, write func(io.Writer, *mesh.Mesh) error, o Options) (files []string, err error) {
	if err := CheckJoined(path, o.Replace); err != nil {
		return nil, err
	}
	dir := filepath.Dir(path)
	partial, err := partialFolder(dir)
	if err != nil {
		return nil, err
	}
	defer func() {
		if left := os.RemoveAll(partial); err == nil && left != nil {
			err = cannot(partial, "cannot be removed", left)
		}
	}()
	w := &writer{ctx: ctx, dir: partial, to: dir, o: o}
	if err := w.file(filepath.Base(path), func(out io.Writer) error { return write(out, j.Joined.Mesh) }); err != nil {
		return nil, err
	}
	for _, t := range j.tables() {
		if err := w.put(t.name, t.data()); err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, cannot(dir, "cannot be made", err)
	}
	for _, name := range w.files {
		if err := os.Rename(filepath.Join(partial, name), filepath.Join(dir, name)); err != nil {
			return nil, cannot(filepath.Join(dir, name), "cannot be put in place", err)
		}
	}
	return w.files, nil
}

type joinedResult struct {
	Format   int             `json:"format"`
	Tool     string          `json:"tool"`
	Version  string          `json:"version"`
	Onto     bool            `json:"onto_reference"`
	Inputs   []joinedInput   `json:"inputs"`
	Pieces   []joinedPiece   `json:"pieces"`
	Overlaps []joinedOverlap `json:"overlaps"`
	Cycles   []joinedCycle   `json:"cycles"`
	Chi2     num             `json:"chi2"`
	DoF      int             `json:"degrees_of_freedom"`
	Widened  num             `json:"uncertainties_widened_by"`
	Faces    *int            `json:"faces,omitempty"`
	Area     *num            `json:"area_mm2,omitempty"`
	Notes    []string        `json:"notes"`
}

type joinedInput struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Unit   string `json:"unit"`
	Source string `json:"unit_source"`
	Faces  int    `json:"faces"`
}

type joinedPiece struct {
	Name   string `json:"name"`
	Matrix []num  `json:"joined_from_piece"`
	Moved  num    `json:"moved_mm"`
	U      [6]num `json:"U_mm_deg"`
	UFar   num    `json:"U_far_mm"`
	Stays  bool   `json:"stays"`
}

type joinedOverlap struct {
	A        string   `json:"a"`
	B        string   `json:"b"`
	Area     num      `json:"area_mm2"`
	Loaded   num      `json:"rms_loaded_mm"`
	Alone    num      `json:"rms_alone_mm"`
	Joined   num      `json:"rms_joined_mm"`
	Noise    num      `json:"noise_mm"`
	F        num      `json:"F"`
	Critical num      `json:"F_critical"`
	Shape    string   `json:"shape"`
	Why      string   `json:"why,omitempty"`
	Most     num      `json:"most_mm"`
	At       [3]num   `json:"at"`
	Free     []string `json:"free"`
	StepMost num      `json:"step_most_mm"`
	StepLeft num      `json:"step_left_mm"`
	Open     num      `json:"open_mm"`
}

type joinedCycle struct {
	Round  string `json:"round"`
	Gap    num    `json:"gap_mm"`
	U      num    `json:"U_mm"`
	P      num    `json:"p"`
	Closes bool   `json:"closes"`
}

// JoinedJSON is the summary of a join as JSON.
func JoinedJSON(j *Joined) ([]byte, error) { return marshal(joinedOf(j)) }

// joinedOf is a join as results hold it, nil where there is none.
func joinedOf(j *Joined) *joinedResult {
	if j == nil {
		return nil
	}
	r := j.Result
	out := &joinedResult{Format: Format, Tool: toolName, Version: j.Version, Onto: r.Onto, Chi2: num{r.Chi2, ratioDecimals, true}, DoF: r.DoF,
		Widened: num{r.Unit, ratioDecimals, true}, Cycles: []joinedCycle{}, Notes: append([]string{}, j.Notes...)}
	for k, in := range j.Inputs {
		out.Inputs = append(out.Inputs, joinedInput{r.Names[k], in.SHA256, in.Unit, in.UnitSource, in.Faces})
	}
	for _, p := range r.Pieces {
		out.Pieces = append(out.Pieces, joinedPiece{p.Name, matrixOf(p.JoinedFromPiece), mm(p.Moved), sixU(p.Sigma, p.Free, !p.Stays),
			num{p.UFar, mmDecimals, !p.Stays && p.Free == [6]bool{}}, p.Stays})
	}
	for i := range r.Overlaps {
		o := &r.Overlaps[i]
		told, has := o.Shape != pieces.Untold, len(o.Patches) > 0
		e := joinedOverlap{A: r.Names[o.A], B: r.Names[o.B], Area: num{o.Area, 1, true}, Loaded: num{o.Before, mmDecimals, o.HasBefore}, Alone: mm(o.Alone), Joined: mm(o.After),
			Noise: num{o.Noise.Sigma, mmDecimals, o.Noise.Looks > 0}, F: num{o.F, ratioDecimals, told}, Critical: num{o.FCritical, ratioDecimals, told},
			Shape: o.Shape.String(), Why: o.Why, Most: num{o.Most.Offset, mmDecimals, has}, Free: append([]string{}, o.Free...)}
		for axis := range 3 {
			e.At[axis] = num{o.Most.At.At(axis), mmDecimals, has}
		}
		if s := j.seamOf(o); s != nil {
			e.StepMost, e.StepLeft, e.Open = mm(s.StepMost), mm(s.Left), mm(s.Open)
		}
		out.Overlaps = append(out.Overlaps, e)
	}
	for _, c := range r.Cycles {
		out.Cycles = append(out.Cycles, joinedCycle{j.round(&c), mm(c.Gap), mm(c.U), num{c.P, ratioDecimals, true}, c.Closes})
	}
	if j.Joined != nil {
		n, area := len(j.Joined.Mesh.Faces), num{j.Joined.Area, 1, true}
		out.Faces, out.Area = &n, &area
	}
	return out
}
