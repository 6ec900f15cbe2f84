package evidence

import "strconv"

const pointHeader = "name,x_mm,y_mm,z_mm,deviation_mm,U_mm,tolerance_lo_mm,tolerance_hi_mm,verdict,state,radius_mm,points,k"

// pointResult is a named point: a row of points.csv.
type pointResult struct {
	Name      string  `json:"name"`
	At        [3]num  `json:"at_mm"`
	Foot      [3]num  `json:"on_reference_mm"`
	Deviation num     `json:"deviation_mm"`
	U         num     `json:"U_mm"`
	Tolerance [2]num  `json:"tolerance_mm"`
	Verdict   *string `json:"verdict"`
	State     string  `json:"state"`
	Radius    num     `json:"radius_mm"`
	Points    int     `json:"points"`
	Why       string  `json:"why,omitempty"`
}

func pointOf(p Point) pointResult {
	limit := func(v float64) num { return num{v, mmDecimals, p.HasTolerance} }
	foot := func(v float64) num { return num{v, mmDecimals, p.Spot.State.Found()} }
	f := p.Spot.Foot
	return pointResult{
		p.Name, mm3(p.At), [3]num{foot(f.X), foot(f.Y), foot(f.Z)}, val(p.Spot.Value), valU(p.Spot.Value),
		[2]num{limit(p.Tolerance.Lo), limit(p.Tolerance.Hi)}, present(p.Verdict), p.Spot.State.String(), mm(p.Radius), p.Spot.Points, p.Spot.Why,
	}
}

func pointTable(r *Record) []byte {
	t := newTable(pointHeader)
	for _, point := range r.Points {
		p := pointOf(point)
		t.row(guarded(p.Name), p.At[0].String(), p.At[1].String(), p.At[2].String(), p.Deviation.String(), p.U.String(),
			p.Tolerance[0].String(), p.Tolerance[1].String(), point.Verdict.String(), p.State, p.Radius.String(), strconv.Itoa(p.Points), "2")
	}
	return t.bytes()
}
