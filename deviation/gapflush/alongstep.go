package gapflush

import "math"

const (
	// voidBins are the stretches, along the seam, a face zone is divided into to see whether it ends and begins again.
	voidBins = 16
	// leastStep is a step, mm, from which on two surfaces are two panels: a flush between two would lie between theirs.
	leastStep = 0.06
	// surelyStep is how many of its standard uncertainties a step is off nothing.
	surelyStep = 5.0
	// leastBeside are the points on either side of a void that tell a step.
	leastBeside = 8
)

// steps reports whether a face zone's points part along the seam, with a void between, into two surfaces one of which
// stands higher: of two panels, as where one ends at a corner. start is the skin's line, spread the spacing of points, mm.
func steps(in []zonePoint, cv *curve, start line, noise, band, spread float64) bool {
	var count [voidBins]int
	bin := func(x float64) int {
		return min(max(int((x+band)/(2*band)*voidBins), 0), voidBins-1)
	}
	for i := range in {
		count[bin(in[i].x)]++
	}
	need := max(int(math.Ceil(1.5*spread/(2*band/voidBins))), 1)
	from, void := -1, 0
	for i, run := 0, 0; i < voidBins; i++ {
		if count[i] > 0 {
			run = 0
			continue
		}
		if run++; run > void && i+1 < voidBins && i-run >= 0 {
			from, void = i-run+1, run
		}
	}
	if void < need {
		return false
	}
	q := normalEq{n: 4}
	var n [2]int
	for i := range in {
		p := &in[i]
		beyond := 0.0
		if bin(p.x) > from {
			beyond = 1
		}
		n[int(beyond)]++
		q.add(&row{1, p.x / band, beyond, p.y / 10}, p.h-start.at(0, p.y)-(cv.h(p.x)-cv.h0), 1)
	}
	if n[0] < leastBeside || n[1] < leastBeside {
		return false
	}
	inv, ok := q.inverse()
	if !ok {
		return false
	}
	step := math.Abs(q.apply(&inv)[2])
	return step > leastStep && step > surelyStep*noise*math.Sqrt(inv[2][2])
}
