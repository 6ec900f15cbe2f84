package gapflush

import (
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// outward is the direction in which the faces look where the path is so many mm along; hint is that on the reference, zero where there is none.
func (c *cutter) outward(w *worker, s float64, hint geom.Vec) (dir geom.Vec, st State, why string) {
	p, f := c.path.at(s), c.path.tangent(s)
	if c.walked.against(s) {
		return dir, OffPath, with("The path has turned back along the gap it came by, so sides A and B are swapped here.", doOneWay)
	}
	if c.walked.again(s) {
		return dir, OffPath, with("The path comes along this stretch a second time.", doEndBefore)
	}
	dir, share := c.patch.outward(p, w)
	if share >= 0 && share < outwardShare {
		if both, ok := c.patch.bothWays(p, f, hint, w); ok {
			dir, share = both, outwardShare
		}
	}
	if share < 0 {
		return dir, OffPath, "No surface lies within 20 mm of the path and 6 mm of its height."
	}
	if share < outwardShare {
		return dir, TwoSkins, "Faces look both ways here, so the outer skin cannot be told."
	}
	if hint != (geom.Vec{}) && dir.Dot(hint) < 0 {
		// Under a panel the nearest face may be its inside, in one of the two meshes.
		if !c.patch.touches(p, outwardHeight, w) {
			return dir, OffPath, "No surface lies within 6 mm of the path."
		}
		return dir, TwoSkins, with("The faces look inward here compared with the reference.", doTurnFaces)
	}
	if dir.AddScaled(-dir.Dot(f), f).Norm() < 0.5 {
		return dir, OffPath, with("The path runs into the surface instead of along it.", doAlong)
	}
	return dir, "", ""
}

// tooSparse says that a scan's points, so many mm apart, are too few for a face zone, or that they lie at another height than the path.
func (c *cutter) tooSparse(w *worker, spread float64) (State, string) {
	widest := c.widest()
	if c.reference || spread <= widest || math.IsInf(spread, 1) {
		return "", ""
	}
	for k := A; k <= B; k++ {
		if why := w.offHeight(k); why != "" {
			return OffPath, why
		}
	}
	return TooCoarse, with(fmt.Sprintf("Points lie %.1f mm apart; a face zone %.1f mm wide (face) in a band of ±%.3g mm (band) needs them within %.2f mm of one another.",
		spread, c.seam.Face[1]-c.seam.Face[0], c.seam.Band, widest), doPoints)
}
