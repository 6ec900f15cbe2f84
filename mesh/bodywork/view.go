package bodywork

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// stretch is a length of an edge that was seen round to some arc.
type stretch struct {
	edge     int
	from, to float64 // z, mm
	degrees  float64
}

// hole is a place the scanner did not reach.
type hole struct {
	panel  int
	x, z   float64 // mm
	radius float64
}

// view is what the scanner saw.
type view struct {
	whole     bool
	base      [edgeCount]float64 // degrees of arc seen where no stretch says otherwise
	stretches []stretch
	holes     []hole
	web       [2]float64 // z, from where to where the door-quarter gap is webbed over
}

func demoView(whole bool) view {
	v := view{whole: whole, base: [edgeCount]float64{112, 118, 108, 122}}
	if whole {
		return v
	}
	v.stretches = []stretch{
		{wingRear, 150, 290, 60}, {wingRear, 640, 740, 40},
		{doorFront, 380, 480, 60}, {doorFront, 790, 840, 18},
		{doorRear, 130, 230, 40}, {quarterFront, 600, 720, 60}, {quarterFront, 760, 860, 180},
	}
	v.web = [2]float64{330, 400}
	v.holes = []hole{
		{Wing, 560, 700, 28}, {Door, 1100, 300, 40}, {Door, 1330, 760, 22}, {Quarter, 2050, 600, 35},
		{Quarter, doorQuarterX + 8, 480, 24}, // takes a whole side of some stations away
		{Door, 784, 510, 16.2},               // takes the face zone of one station away, but not its hem
	}
	return v
}

// arc returns how far round an edge was seen at height z, in radians.
func (v *view) arc(edge int, z float64) float64 {
	if (edge == doorRear || edge == quarterFront) && z > v.web[0] && z < v.web[1] {
		return 0
	}
	for _, s := range v.stretches {
		if s.edge == edge && z >= s.from && z <= s.to {
			return s.degrees * (math.Pi / 180)
		}
	}
	return v.base[edge] * (math.Pi / 180)
}

// sees reports whether a sample at p was seen.
func (v *view) sees(o Origin, p geom.Vec) bool {
	if v.whole && o.Part != Face {
		return o.Part == Roll
	}
	switch o.Part {
	case Roll:
		if float64(o.Arc) > v.arc(int(o.Edge), p.Z) {
			return false
		}
	case Return:
		if v.arc(int(o.Edge), p.Z) < math.Pi {
			return false
		}
	}
	for _, h := range v.holes {
		dx, dz := p.X-h.x, p.Z-h.z
		if int(o.Panel) == h.panel && float64(dx*dx)+float64(dz*dz) < h.radius*h.radius {
			return false
		}
	}
	return true
}

// defects says in words what is wrong with the wing and the scan.
func defects(o Options) []string {
	var d []string
	if !o.Perfect {
		d = append(d, "the wing's upper rear corner is 1.2 mm too long",
			"the wing is twisted by 0.4 degrees from front to rear",
			"the wing has a dent 2.5 mm deep and 140 mm across")
	}
	if !o.Whole {
		d = append(d, "the scan has holes and sees hems only part of the way round in places",
			fmt.Sprintf("the scan's hole filling webs over the gap behind the door between z = %g and %g mm", demoView(false).web[0], demoView(false).web[1]),
			"the scan holds a bit of floor, a stand, a seal flange and some of the wing's inside")
	}
	return d
}
