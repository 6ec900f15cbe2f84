package align

import (
	"math"

	"shutline/mesh/geom"
)

// misfit is what scan and reference differ by in shape where they agree, beyond
// what noise explains: drift, a bend, facets.
type misfit struct {
	size  float64 // mm, standard deviation
	patch float64 // mm, side of a square that differs as one
}

const (
	// misfitRegions is the fewest regions whose offsets are compared with their neighbours'.
	misfitRegions = 6

	// A correlation that falls to a half at a distance l counts as much as squares
	// that differ as one, of side 2.1 l where it is exp(-d²/L²) and 3.6 l where it
	// is exp(-d/L): the integrals over the plane are πL² and 2πL².
	patchOfHalf = 2.5

	// misfitCell in mm: the least size of regions. Scanners' noise hangs together
	// over 4 to 8 mm; neighbouring regions of this size share little of it.
	misfitCell = 20.0

	// chanceOf standard deviations of a covariance are put down to chance.
	chanceOf = 2

	// shapeMost of the diagonal: of a bend over the whole part the fit leaves what
	// changes sign twice along it.
	shapeMost = 0.5
)

// shapes are the misfits by class and by the axis that the skin faces: a bend
// moves a skin along its normal and leaves edges that face along it where they were.
type shapes [2][3]misfit

// shapesOf returns the misfits of the pairs used.
func shapesOf(used []pair, diag float64) shapes {
	var out shapes
	cell := max(regionCell*diag, misfitCell)
	for class := range out {
		for axis := range out[class] {
			out[class][axis] = misfitOf(used, pairClass(class), int8(axis), cell, diag)
		}
	}
	return out
}

// misfitOf compares the mean offsets of regions with those of the regions beside
// them. Noise, also the noise that a scanner's neighbouring points share, is
// independent from region to region; a difference in shape is not. How far it
// reaches is where the covariance has fallen to a half.
//
// It is a variogram (Matheron 1963) of the regions.
func misfitOf(used []pair, class pairClass, axis int8, cell, diag float64) misfit {
	index := map[regionKey]int{}
	var at, normal []geom.Vec
	var offset, count []float64
	for i := range used {
		p := &used[i]
		if p.class != class {
			continue
		}
		key := regionOf(p.at, p.n, cell)
		if key.side%3 != axis {
			continue
		}
		k, ok := index[key]
		if !ok {
			k = len(at)
			index[key] = k
			at, normal = append(at, geom.Vec{}), append(normal, geom.Vec{})
			offset, count = append(offset, 0), append(count, 0)
		}
		at[k], normal[k] = at[k].Add(p.at), normal[k].Add(p.n)
		offset[k] += p.r
		count[k]++
	}
	n := 0
	variance := 0.0
	for k := range at {
		if count[k] < regionLeast {
			continue
		}
		at[n], normal[n], offset[n] = at[k].Scale(1/count[k]), normal[k].Unit(), offset[k]/count[k]
		variance += float64(offset[n] * offset[n])
		n++
	}
	if n < misfitRegions {
		return misfit{}
	}
	variance /= float64(n)
	bins := int(shapeMost*diag/cell) + 1
	sum, pairs := make([]float64, bins+2), make([]float64, bins+2)
	reach2 := float64((float64(bins) + 0.5) * cell * ((float64(bins) + 0.5) * cell))
	for k := range n {
		for l := range k {
			d2 := at[k].Sub(at[l]).Norm2()
			if d2 > reach2 || normal[k].Dot(normal[l]) < cosPair {
				continue
			}
			b := int(math.Sqrt(d2)/cell + 0.5)
			sum[b] += float64(offset[k] * offset[l])
			pairs[b]++
		}
	}
	if pairs[1] == 0 {
		return misfit{}
	}
	beside := sum[1]/pairs[1] - float64(chanceOf*variance)/math.Sqrt(pairs[1])
	// Regions that touch share some noise across their border; what reaches the next but one is shape.
	if pairs[2] == 0 {
		return misfit{}
	}
	beside = min(beside, 2*(sum[2]/pairs[2]-float64(chanceOf*variance)/math.Sqrt(pairs[2])))
	if !(beside > 0) {
		return misfit{}
	}
	half := 2
	for half < bins+1 && (pairs[half] == 0 || sum[half] > beside/2*pairs[half]) {
		half++
	}
	reach := float64(half)
	if pairs[half] > 0 && pairs[half-1] > 0 {
		before, after := sum[half-1]/pairs[half-1], sum[half]/pairs[half]
		if before > after {
			reach -= min(max((float64(beside/2)-after)/(before-after), 0), 1)
		}
	}
	return misfit{size: math.Sqrt(beside), patch: min(max(patchOfHalf*reach, 1)*cell, shapeMost*diag)}
}
