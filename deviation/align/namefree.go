package align

import "shutline/mesh/geom"

// NameFree describes motions that nothing holds, given as orthonormal directions in mm along the axes and, for
// turns about the centre, in mm at the lever; loosest is how far off along them things may be, mm.
func NameFree(notHeld [][6]float64, centre geom.Vec, lever, loosest float64) []FreeMotion {
	h := held{centre: centre, lever: lever}
	for _, v := range notHeld {
		h.notHeld = append(h.notHeld, vec6(v))
	}
	return h.freeMotions(min(loosest, describeReach))
}
