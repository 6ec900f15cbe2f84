package evidence

import (
	"strconv"
	"strings"

	"shutline/deviation/closure"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

const (
	closureHeader = "closure,x_mm,y_mm,z_mm,area_mm2,length_mm,width_mm,step_mm,step_U_mm,step_rms_mm," +
		"displacement_mm,displacement_U_mm,dx_mm,dy_mm,dz_mm,turn_deg,turn_U_deg,mm_per_m,left_mm,rigid,shape_mm,not_held,why,k"
	closureStepHeader = "closure,x_mm,y_mm,z_mm,nx,ny,nz,step_mm,step_U_mm,area_mm2,k"
)

// tellsOfClosure reports whether there is anything to tell: a place where the scan lies over itself, or that there
// is none although the path is known.
func tellsOfClosure(r *closure.Result) bool {
	return r != nil && (len(r.Closures) > 0 || r.Travelled > 0 || r.PathWhy != "")
}

type closureResult struct {
	Travelled num           `json:"travelled_mm"`
	Reach     num           `json:"reach_mm"`
	Why       string        `json:"travelled_why,omitempty"` // why the path that was stated does not count
	Closures  []closureLine `json:"closures"`
}

type closureLine struct {
	At            [3]num   `json:"at_mm"`
	Area          num      `json:"area_mm2"`
	Length        num      `json:"length_mm"`
	Width         num      `json:"width_mm"`
	Step          num      `json:"step_mm"`
	StepU         num      `json:"step_U_mm"`
	StepRMS       num      `json:"step_rms_mm"`
	Displacement  num      `json:"displacement_mm"`
	DisplacementU num      `json:"displacement_U_mm"`
	Shift         [3]num   `json:"shift_mm"`
	Turn          num      `json:"turn_deg"`
	TurnU         num      `json:"turn_U_deg"`
	PerMetre      num      `json:"mm_per_m"`
	Left          num      `json:"left_mm"`
	Rigid         *bool    `json:"rigid"` // null: there is no motion
	Shape         num      `json:"shape_mm"`
	NotHeld       []string `json:"not_held"`
	Why           string   `json:"why,omitempty"`
}

func closureOf(r *closure.Result) *closureResult {
	if !tellsOfClosure(r) {
		return nil
	}
	out := &closureResult{Travelled: num{r.Travelled, mmDecimals, r.Travelled > 0}, Reach: num{r.Reach, mmDecimals, true}, Why: r.PathWhy, Closures: []closureLine{}}
	for i := range r.Closures {
		out.Closures = append(out.Closures, closureLineOf(&r.Closures[i], r.Travelled > 0))
	}
	return out
}

func closureLineOf(c *closure.Closure, perMetre bool) closureLine {
	ok := c.Displacement.OK
	n := func(v float64) num { return num{v, mmDecimals, ok} }
	vec := func(v geom.Vec) [3]num { return [3]num{n(v.X), n(v.Y), n(v.Z)} }
	turned := verdict.Value{V: c.Turned.V * degrees, U: c.Turned.U * degrees, OK: c.Turned.OK}
	l := closureLine{
		At: mm3(c.Centre), Area: mm(c.Area), Length: mm(c.Length), Width: mm(c.Width),
		Step: val(c.Step), StepU: valU(c.Step), StepRMS: num{c.StepRMS, mmDecimals, c.Step.OK},
		Displacement: val(c.Displacement), DisplacementU: valU(c.Displacement), Shift: vec(c.Shift),
		Turn: num{turned.V, rotationDecimals, turned.OK}, TurnU: num{turned.U, rotationDecimals, turned.OK},
		PerMetre: num{c.PerMetre, mmDecimals, ok && perMetre}, Left: n(c.Left), Shape: num{c.Shape, mmDecimals, ok && !c.Rigid}, NotHeld: []string{},
	}
	switch {
	case ok:
		rigid := c.Rigid
		l.Rigid = &rigid
	case c.Misfit:
		l.Why = "no rigid motion lays the two skins on one another"
	default:
		l.Why = "too little holds the two skins against each other"
	}
	for _, f := range c.Free {
		l.NotHeld = append(l.NotHeld, f.Words)
	}
	return l
}

func closureTable(r *Record) []byte {
	t := newTable(closureHeader)
	for i, l := range closureOf(r.Closure).Closures {
		rigid := ""
		if l.Rigid != nil {
			rigid = yes(*l.Rigid)
		}
		t.row(strconv.Itoa(i+1), l.At[0].String(), l.At[1].String(), l.At[2].String(), l.Area.String(), l.Length.String(), l.Width.String(),
			l.Step.String(), l.StepU.String(), l.StepRMS.String(), l.Displacement.String(), l.DisplacementU.String(),
			l.Shift[0].String(), l.Shift[1].String(), l.Shift[2].String(), l.Turn.String(), l.TurnU.String(), l.PerMetre.String(), l.Left.String(),
			rigid, l.Shape.String(), strings.Join(l.NotHeld, "; "), l.Why, "2")
	}
	return t.bytes()
}

func closureStepTable(r *Record) []byte {
	t := newTable(closureStepHeader)
	for i := range r.Closure.Closures {
		for _, p := range r.Closure.Closures[i].Patches {
			n := func(v float64) string { return num{v, rotationDecimals, true}.String() }
			t.row(strconv.Itoa(i+1), mm(p.At.X).String(), mm(p.At.Y).String(), mm(p.At.Z).String(), n(p.N.X), n(p.N.Y), n(p.N.Z), val(p.Step).String(), valU(p.Step).String(), mm(p.Area).String(), "2")
		}
	}
	return t.bytes()
}
