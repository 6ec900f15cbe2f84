package evidence

import (
	"math"
	"strconv"

	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// Placements sets the placement used beside those of the other methods that the
// inspection holds what it needs for.
type Placements struct {
	Chosen string // the name of the method used
	Others []OtherPlacement
}

// OtherPlacement is a placement by another method and its difference from the one used.
type OtherPlacement struct {
	Method    string // "best-fit", "best-fit on regions", "datums", "pairs", "given"
	Placement align.Placement
	Why       string // there is no such placement: why; the rest is empty then

	// By the other method each point of the reference would lie elsewhere on the
	// scan: Greatest mm at most over the reference's box; Shift in mm at the
	// box's middle and Turn in radians (a rotation vector), in the reference's frame.
	Greatest    float64
	Shift, Turn geom.Vec
}

// Mirror is the plane that the reference was mirrored in.
type Mirror struct {
	How string // as the inspection says: "x", "y", "z", "find" or "plane"
	Fit align.MirrorFit
}

// placementsHeader heads placements.csv: a row for the method used and one for each
// other. A difference is that of the other method from the one used.
const placementsHeader = "method,chosen,greatest_displacement_mm,translation_mm,rotation_deg,rms_mm,share_used," +
	"dx_mm,dy_mm,dz_mm,rx_deg,ry_deg,rz_deg,why"

type placementRow struct {
	Method      string `json:"method"`
	Chosen      bool   `json:"chosen"`
	Greatest    num    `json:"greatest_displacement_mm"`
	Translation num    `json:"translation_mm"`
	Rotation    num    `json:"rotation_deg"`
	RMS         num    `json:"rms_mm"`
	ShareUsed   num    `json:"share_used"`
	Shift       [3]num `json:"translation_xyz_mm"`
	Turn        [3]num `json:"rotation_xyz_deg"`
	Matrix      []num  `json:"matrix"`
	Why         string `json:"why,omitempty"`
}

func placementRows(r *Record) []placementRow {
	if r.Placements == nil || r.Placement == nil {
		return nil
	}
	rows := []placementRow{rowOf(OtherPlacement{Method: r.Placements.Chosen, Placement: *r.Placement})}
	rows[0].Chosen = true
	for _, o := range r.Placements.Others {
		rows = append(rows, rowOf(o))
	}
	return rows
}

func rowOf(o OtherPlacement) placementRow {
	ok, seen := o.Why == "", o.Why == "" && o.Placement.RMSKnown
	deg := func(v float64) num { return num{v * 180 / math.Pi, rotationDecimals, ok} }
	of := func(v float64) num { return num{v, mmDecimals, ok} }
	row := placementRow{
		Method: o.Method, Why: o.Why, Greatest: of(o.Greatest), Translation: of(o.Shift.Norm()), Rotation: deg(o.Turn.Norm()),
		RMS: num{o.Placement.RMS, mmDecimals, seen}, ShareUsed: num{o.Placement.ShareUsed, mmDecimals, seen},
		Shift: [3]num{of(o.Shift.X), of(o.Shift.Y), of(o.Shift.Z)}, Turn: [3]num{deg(o.Turn.X), deg(o.Turn.Y), deg(o.Turn.Z)},
		Matrix: []num{},
	}
	if ok {
		row.Matrix = matrixOf(o.Placement.ReferenceFromScan)
	}
	return row
}

// matrixOf returns a motion row by row.
func matrixOf(g geom.Rigid) []num {
	var out []num
	t := [3]float64{g.T.X, g.T.Y, g.T.Z}
	for row := range 3 {
		for col := range 3 {
			out = append(out, exact(g.R[row][col]))
		}
		out = append(out, exact(t[row]))
	}
	return append(out, exact(0), exact(0), exact(0), exact(1))
}

func placementsTable(r *Record) []byte {
	t := newTable(placementsHeader)
	for _, p := range placementRows(r) {
		row := []string{p.Method, strconv.FormatBool(p.Chosen), p.Greatest.String(), p.Translation.String(), p.Rotation.String(), p.RMS.String(), p.ShareUsed.String()}
		for _, v := range append(p.Shift[:], p.Turn[:]...) {
			row = append(row, v.String())
		}
		t.row(append(row, guarded(p.Why))...)
	}
	return t.bytes()
}

type datumsResult struct {
	Rounds   int           `json:"rounds"`
	LastStep num           `json:"last_step_mm"`
	Gain     num           `json:"gain"`
	Met      []datumResult `json:"met"`
}

type datumResult struct {
	Point   [3]num `json:"point_mm"`
	Normal  [3]num `json:"normal"`
	Start   num    `json:"in_best_fit_mm"`
	Left    num    `json:"left_mm"`
	U       num    `json:"u_mm"`
	Scatter num    `json:"scatter_mm"`
	Points  int    `json:"points"`
	Radius  num    `json:"radius_mm"`
	Off     num    `json:"off_reference_mm"`
	Slant   num    `json:"slant_deg"`
}

func datumsOf(d *align.DatumFit) *datumsResult {
	if d == nil {
		return nil
	}
	out := &datumsResult{Rounds: d.Rounds, LastStep: mm(d.LastStep), Gain: num{d.Gain, 3, true}, Met: []datumResult{}}
	for _, m := range d.Met {
		out.Met = append(out.Met, datumResult{
			Point: mm3(m.Point), Normal: mm3(m.Normal), Start: mm(m.Start), Left: mm(m.Left), U: mm(m.Sigma), Scatter: mm(m.Scatter),
			Points: m.Points, Radius: mm(m.Radius), Off: mm(m.Off), Slant: num{m.Slant * 180 / math.Pi, degDecimals, true},
		})
	}
	return out
}

type pairsResult struct {
	RMS        num          `json:"rms_mm"`
	Wrong      *int         `json:"does_not_fit"` // counted from 1
	Scale      num          `json:"scale"`
	ScaleSigma num          `json:"u_scale"`
	FLE        num          `json:"pair_error_mm"`
	Farthest   num          `json:"greatest_target_error_mm"`
	Left       []pairResult `json:"left"`
}

type pairResult struct {
	Scan      [3]num `json:"scan_mm"`
	Reference [3]num `json:"reference_mm"`
	Left      num    `json:"left_mm"`
	Out       num    `json:"left_out_mm"`
	Usual     num    `json:"usual_mm"`
}

// scaleDecimals resolve a thousandth of a ppm.
const scaleDecimals = 9

func pairsOf(p *align.PairFit) *pairsResult {
	if p == nil {
		return nil
	}
	known := p.FLE > 0
	out := &pairsResult{
		RMS: mm(p.RMS), Scale: num{p.Scale, scaleDecimals, true}, ScaleSigma: num{p.ScaleSigma, scaleDecimals, known},
		FLE: num{p.FLE, mmDecimals, known}, Farthest: num{p.Farthest, mmDecimals, known && p.Farthest > 0}, Left: []pairResult{},
	}
	if p.Wrong >= 0 {
		k := p.Wrong + 1
		out.Wrong = &k
	}
	for _, l := range p.Left {
		out.Left = append(out.Left, pairResult{mm3(l.Scan), mm3(l.Reference), mm(l.Left), num{l.Out, mmDecimals, l.Usual > 0}, num{l.Usual, mmDecimals, l.Usual > 0}})
	}
	return out
}

type regionResult struct {
	Centre [3]num `json:"centre_mm"`
	Radius num    `json:"radius_mm"`
	Points int    `json:"points"`
}

func regionsOf(r *align.RegionFit) []regionResult {
	if r == nil {
		return nil
	}
	var out []regionResult
	for _, u := range r.Used {
		out = append(out, regionResult{mm3(u.Centre), mm(u.Radius), u.Points})
	}
	return out
}

type mirrorResult struct {
	How    string `json:"how"`
	Point  [3]num `json:"point_mm"`
	Normal [3]num `json:"normal"`
	Offset num    `json:"u_offset_mm"`
	Tilt   num    `json:"u_tilt_deg"`
	Within num    `json:"halves_within_mm"`
	Share  num    `json:"halves_share"`
	RMS    num    `json:"halves_rms_mm"`
}

func mirrorOf(m *Mirror) *mirrorResult {
	if m == nil {
		return nil
	}
	f := m.Fit
	n := [3]num{}
	for k := range n {
		n[k] = num{f.Plane.Normal.At(k), rotationDecimals, true}
	}
	return &mirrorResult{
		How: m.How, Point: mm3(f.Plane.Point), Normal: n,
		Offset: num{f.Offset, mmDecimals, f.Found}, Tilt: num{f.Tilt * 180 / math.Pi, rotationDecimals, f.Found},
		Within: mm(align.MirrorWithin), Share: num{f.Share, mmDecimals, f.Halves}, RMS: num{f.RMS, mmDecimals, f.Halves},
	}
}

// covarianceOf returns the covariance of the six motions in their order, mm and
// degrees; rows and columns of motions that are free, or all without uncertainties, are empty.
func covarianceOf(p *align.Placement) [][]num {
	var out [][]num
	for i := range 6 {
		var row []num
		for k := range 6 {
			v := p.Covariance[i][k]
			for _, motion := range [2]int{i, k} {
				if motion >= 3 {
					v *= 180 / math.Pi
				}
			}
			row = append(row, num{v, covarianceDecimals, !p.Free[i] && !p.Free[k] && p.NoSigma == ""})
		}
		out = append(out, row)
	}
	return out
}

// covarianceDecimals hold the square of a nanometre and of a billionth of a degree.
const covarianceDecimals = 18
