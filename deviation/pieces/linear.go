package pieces

import "shutline/mesh/geom"

// vec6 and mat6 are over the six motions, in the order tx, ty, tz, rx, ry, rz.
type (
	vec6 = geom.Vec6
	mat6 = geom.Mat6
)
