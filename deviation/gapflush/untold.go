package gapflush

import (
	"fmt"
	"math"
)

// checkUntold refuses a station with an edge of which less than a nose takes may have been seen: how many degrees a stretch of a roll
// is hangs on its radius, and where nobody stated that and the points do not tell it, it may be as large as twice its uncertainty allows.
func (o *raw) checkUntold(st *Station) {
	for k := A; k <= B; k++ {
		e := &o.side[k].edge
		if st.State != Measured || o.wellKnown[k] || e.kind != Round {
			continue
		}
		u := math.Sqrt(e.data[1][1] + float64(e.prior[1]*e.prior[1]))
		if float64(e.seen*e.r) < minArc*(e.r+float64(2*u)) {
			st.State = NoseUnseen
			st.Why = with(fmt.Sprintf("Side %s's edge was seen for %.1f mm beyond its face: of a radius of %.1f mm, which nobody stated and its points allow, that is too little to say where its nose is.", sideName[k], e.seen*e.r, e.r+float64(2*u)), doGiveRadius)
		}
	}
}

// hemsDiffer is how far hems that nobody stated a radius of lie from the one that is assumed, mm, one standard deviation: they have 0.5 to 5 mm. It
// is assumed more firmly than that, so that webs and seals do not rule it.
const hemsDiffer = 1.0

// assumedMore is by how many times what is not known of a radius is more than the fit was told: of one that the points of the whole seam told
// a part, that part is not.
func (kn *known) assumedMore(k Side) float64 {
	given := kn.givenU[k]
	if given != defaultRadiusU {
		return 1
	}
	share := min(float64(kn.radiusU[k]*kn.radiusU[k])/float64(given*given), 1)
	return math.Sqrt(1 + float64((hemsDiffer*hemsDiffer/(given*given)-1)*share))
}
