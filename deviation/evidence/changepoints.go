package evidence

import (
	"shutline/deviation"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// PointChange is how a named point differs between two results: the second's deviation less the
// first's, mm, positive where it stands prouder. Why says why it was not compared.
type PointChange struct {
	Name                         string
	At                           geom.Vec // mm, reference frame
	Why                          string
	Before, After, Change        verdict.Value // mm, U with k = 2
	Decision                     deviation.Decision
	StateBefore, StateAfterwards string
}

const pointChangeHeader = "name,x_mm,y_mm,z_mm,first_mm,first_U_mm,second_mm,second_U_mm,change_mm,U_mm,change,state_first,state_second,why_not_compared,k"

// pointChangeResult is a named point of a comparison: a row of point-changes.csv.
type pointChangeResult struct {
	Name     string `json:"name"`
	At       [3]num `json:"at_mm"`
	First    num    `json:"first_mm"`
	FirstU   num    `json:"first_U_mm"`
	Second   num    `json:"second_mm"`
	SecondU  num    `json:"second_U_mm"`
	Change   num    `json:"change_mm"`
	U        num    `json:"U_mm"`
	Decision string `json:"change"`
	Why      string `json:"why_not_compared,omitempty"`
}

func pointChangeOf(p *PointChange) pointChangeResult {
	out := pointChangeResult{p.Name, mm3(p.At), val(p.Before), valU(p.Before), val(p.After), valU(p.After), val(p.Change), valU(p.Change), p.Decision.String(), p.Why}
	if p.Why != "" {
		out.Decision = deviation.NotCompared.String()
	}
	return out
}

func pointChangeTable(c *Change) []byte {
	t := newTable(pointChangeHeader)
	for k := range c.Points {
		p := pointChangeOf(&c.Points[k])
		t.row(guarded(p.Name), p.At[0].String(), p.At[1].String(), p.At[2].String(), p.First.String(), p.FirstU.String(), p.Second.String(), p.SecondU.String(),
			p.Change.String(), p.U.String(), p.Decision, c.Points[k].StateBefore, c.Points[k].StateAfterwards, guarded(p.Why), "2")
	}
	return t.bytes()
}
