package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// The van's side.
const (
	vanLength  = 2400.0 // mm
	vanTop     = 900.0
	archRadius = 300.0
	archDepth  = 90.0 // mm, of the wheel's centre below the sill
	frontArchX = 330.0
	rearArchX  = 2060.0

	wingDoorX    = 760.0
	doorQuarterX = 1620.0
)

// The panels, and the edges at their shut lines.
const (
	Wing = iota
	Door
	Quarter
	panelCount
)

const (
	wingRear = iota
	doorFront
	doorRear
	quarterFront
	edgeCount
)

var (
	wingDoorLine    = shutLine{wingDoorX, 0.04, 4000}
	doorQuarterLine = shutLine{doorQuarterX, -0.03, 5000}
)

// side is the whole left side of the van, by formula.
type side struct {
	skins [panelCount]skin
	edges [edgeCount]edge
}

// wingFault says how a replacement wing differs from the drawing; the zero value is a perfect wing.
type wingFault struct {
	twist  float64 // radians from end to end
	longer float64 // mm at the upper rear corner
	dent   float64 // mm deep
}

// newSide returns the side with a wing of that fault.
func newSide(fault wingFault) *side {
	v := &side{}
	w := &v.skins[Wing]
	if fault.twist != 0 {
		s, c := geom.Sincos(fault.twist)
		// The height changes by tan(twist) over z, half of it at either end of the wing.
		w.twist = s / c / wingDoorX
	}
	w.twistX, w.twistZ = wingDoorX/2, 450
	w.dentDepth, w.dentRadius, w.dentX, w.dentZ = fault.dent, 70, 560, 380
	nominal := &skin{}
	v.edges = [edgeCount]edge{
		{skin: w, nominal: nominal, line: wingDoorLine, side: +1, longer: fault.longer, fromZ: 350, longZ: vanTop},
		{skin: &v.skins[Door], nominal: nominal, line: wingDoorLine, side: -1},
		{skin: &v.skins[Door], nominal: nominal, line: doorQuarterLine, side: +1},
		{skin: &v.skins[Quarter], nominal: nominal, line: doorQuarterLine, side: -1},
	}
	return v
}

// panelEdges gives the edge at the front and at the rear of a panel, -1: a plain border.
var panelEdges = [panelCount][2]int{{-1, wingRear}, {doorFront, doorRear}, {quarterFront, -1}}

// border returns x of the front (end 0) or rear (end 1) end of a panel's face at height z.
func (v *side) border(panel, end int, z float64) float64 {
	if e := panelEdges[panel][end]; e >= 0 {
		return v.edges[e].shoulderX(z)
	}
	if end == 1 {
		return vanLength
	}
	u := (z - 450) / 450
	return float64(40 * float64(u*u))
}

// lowerBorder returns z of the sill or the wheel arch at x.
func lowerBorder(x float64) float64 {
	for _, centre := range [2]float64{frontArchX, rearArchX} {
		d := x - centre
		if q := archRadius*archRadius - float64(d*d); q > archDepth*archDepth {
			return math.Sqrt(q) - archDepth
		}
	}
	return 0
}
