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

// regions are the pairs of each class gathered by place and side.
type regions struct {
	place []int32     // of every pair, -1: in none
	class []pairClass // of every region
	first []int32     // of every region, its first place among the gathered pairs, and the end of the last
}

func regionsOf(pairs []pair, cell float64) regions {
	type key struct {
		regionKey
		class pairClass
	}
	out := regions{place: make([]int32, len(pairs))}
	index := map[key]int32{}
	var count []int32
	for i := range pairs {
		out.place[i] = -1
		if pairs[i].state != paired {
			continue
		}
		at := key{regionOf(pairs[i].at, pairs[i].n, cell), pairs[i].class}
		k, ok := index[at]
		if !ok {
			k = int32(len(count))
			index[at] = k
			count, out.class = append(count, 0), append(out.class, pairs[i].class)
		}
		count[k]++
		out.place[i] = k
	}
	out.first = make([]int32, len(count)+1)
	for k, n := range count {
		out.first[k+1] = out.first[k] + n
	}
	return out
}

// offsets returns the distances of every region's pairs from the skin, mm.
func (g *regions) offsets(pairs []pair) [][]float64 {
	n := len(g.class)
	all := make([]float64, g.first[n])
	next := append([]int32(nil), g.first...)
	for i, k := range g.place {
		if k >= 0 {
			all[next[k]] = pairs[i].r
			next[k]++
		}
	}
	out := make([][]float64, n)
	for k := range out {
		out[k] = all[g.first[k]:g.first[k+1]]
	}
	return out
}

// trust sets the trust of every pair of a class: how far the region around it agrees
// with the reference as the other regions do. A point of a bent panel may lie on
// the reference by chance, where the bend crosses it, and would then pull the
// pose towards the bend; its region tells. The median offset of a region, over
// what noise and the spread of all regions' offsets explain, goes through
// Tukey's biweight beyond what is usual. It returns the spread of the offsets that noise does not
// explain, in mm: what scan and reference differ by in shape where they agree.
func (g *regions) trust(pairs []pair, class pairClass, noise float64) (systematic float64) {
	offsets := g.offsets(pairs)
	median := make([]float64, len(offsets))
	var size, explained []float64
	for k, o := range offsets {
		if g.class[k] != class || len(o) < regionLeast {
			continue
		}
		median[k] = quantile(o, 0.5)
		size = append(size, math.Abs(median[k]))
		explained = append(explained, medianVariance*noise*noise/float64(len(o)))
	}
	spread := spreadOf(size)
	systematic = math.Sqrt(max(float64(spread*spread)-quantile(explained, 0.5), regionFloor*regionFloor))
	trusts, falls := make([]float64, len(offsets)), make([]float64, len(offsets))
	for k, o := range offsets {
		trusts[k] = 1
		if len(o) >= regionLeast {
			sd := math.Sqrt(float64(systematic*systematic) + medianVariance*noise*noise/float64(len(o)))
			beyond, scale := max(math.Abs(median[k])-float64(regionUsual*sd), 0), (tukeyTuning-regionUsual)*sd
			trusts[k] = tukeyWeight(beyond, scale)
			falls[k] = tukeySlope(beyond, scale) * math.Abs(median[k])
		}
	}
	for i := range pairs {
		if pairs[i].class != class {
			continue
		}
		pairs[i].trust, pairs[i].fall = 1, 0
		if k := g.place[i]; k >= 0 {
			pairs[i].trust, pairs[i].fall = trusts[k], falls[k]
		}
	}
	return systematic
}
