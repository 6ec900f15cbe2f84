package align

import (
	"math"

	"shutline/mesh/geom"
)

const (
	// regionCell in diagonals: regions of some 60 mm on a body side, small
	// beside a panel and large enough to hold dozens of points.
	regionCell = 1.0 / 50

	// regionLeast is the fewest points of a region that judge it by themselves.
	regionLeast = 5

	// regionFloor in mm: systematic offsets of a region under this are never
	// held against it; a tenth of the placement error aimed for.
	regionFloor = 0.002

	// regionUsual standard deviations are usual for a region's offset: nothing is held against it. Were the trust to fall from
	// 0 on, noise that a region's points share would draw the pose less than it draws the scan, and no
	// residual would tell how much less.
	regionUsual = 2

	// medianVariance is the variance of a median over that of a mean (pi/2).
	medianVariance = math.Pi / 2
)

// regionKey tells regions apart by place and by the side they face, so that a
// rollover is judged apart from the face beside it.
type regionKey struct {
	cell [3]int32
	side int8
}

func regionOf(p, n geom.Vec, cell float64) regionKey {
	side := int8(0)
	big := math.Abs(n.X)
	if a := math.Abs(n.Y); a > big {
		side, big = 1, a
	}
	if a := math.Abs(n.Z); a > big {
		side = 2
	}
	if n.At(int(side)) < 0 {
		side += 3
	}
	return regionKey{cellOf(p, cell), side}
}

// cellOf returns which cube of the given side, mm, a point lies in.
func cellOf(p geom.Vec, side float64) [3]int32 {
	p = p.Scale(1 / side)
	return [3]int32{int32(math.Floor(p.X)), int32(math.Floor(p.Y)), int32(math.Floor(p.Z))}
}

// trustRegions sets the trust of every pair of a class: how far the region around it agrees
// with the reference as the other regions do. A point of a bent panel may lie on
// the reference by chance, where the bend crosses it, and would then pull the
// pose towards the bend; its region tells. The median offset of a region, over
// what noise and the spread of all regions' offsets explain, goes through
// Tukey's biweight beyond what is usual. It returns the spread of the offsets that noise does not
// explain, in mm: what scan and reference differ by in shape where they agree.
func trustRegions(pairs []pair, class pairClass, noise, cell float64) (systematic float64) {
	index := map[regionKey]int{}
	var offsets [][]float64
	place := make([]int, len(pairs))
	for i := range pairs {
		place[i] = -1
		if pairs[i].state != paired || pairs[i].class != class {
			continue
		}
		key := regionOf(pairs[i].at, pairs[i].n, cell)
		k, ok := index[key]
		if !ok {
			k = len(offsets)
			index[key] = k
			offsets = append(offsets, nil)
		}
		offsets[k] = append(offsets[k], pairs[i].r)
		place[i] = k
	}
	median := make([]float64, len(offsets))
	var size, explained []float64
	for k, o := range offsets {
		median[k] = quantile(o, 0.5)
		if len(o) >= regionLeast {
			size = append(size, math.Abs(median[k]))
			explained = append(explained, medianVariance*noise*noise/float64(len(o)))
		}
	}
	spread := spreadOf(size)
	systematic = math.Sqrt(max(float64(spread*spread)-quantile(explained, 0.5), regionFloor*regionFloor))
	for i := range pairs {
		if pairs[i].class == class {
			pairs[i].trust = 1
		}
		if k := place[i]; k >= 0 && len(offsets[k]) >= regionLeast {
			sd := math.Sqrt(float64(systematic*systematic) + medianVariance*noise*noise/float64(len(offsets[k])))
			pairs[i].trust = tukeyWeight(max(math.Abs(median[k])-float64(regionUsual*sd), 0), (tukeyTuning-regionUsual)*sd)
		}
	}
	return systematic
}
