package align

import (
	"context"

	"shutline/mesh/parallel"
)

// pairClass tells pairs that hold the scan square to the skin from those that
// hold it along the skin.
type pairClass uint8

const (
	skinClass    pairClass = iota
	featureClass           // rollovers, wheel arches, character lines
)

const (
	// weakShare: directions with less than this share of the strongest
	// eigenvalue are weak; on a solid with faces all round none is (a cube: 0.43).
	weakShare = 0.2

	// featureLeverage: a pair is a feature when it holds the weak directions
	// this many times as well as the mean pair does.
	featureLeverage = 2.0
)

// classify tells features from skin. A large scan that has bent fits the skin's
// curvature best somewhere along the part, with its edges at the wrong place; a
// single noise scale, set by the many skin points, would then let go of every
// edge. Features therefore have a scale of their own.
func (m *matcher) classify(pairs []pair) {
	lever := m.ref.diag / 2
	sum := m.summed(len(pairs), func(lo, hi int, sum *normal) {
		for i := lo; i < hi; i++ {
			pairs[i].class = skinClass
			if pairs[i].state == paired {
				j := jacobian(pairs[i].at, pairs[i].n, m.ref.centre, lever)
				sum.a.addOuter(1, &j)
				sum.weight++
			}
		}
	})
	n := sum.weight
	values, vectors := eigen6(&sum.a)
	weak := 0
	for weak < 6 && values[weak] < weakShare*values[5] {
		weak++
	}
	if weak == 0 || n == 0 {
		return
	}
	_ = parallel.Chunks(context.Background(), len(pairs), pairRun, len(m.finders), nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if pairs[i].state != paired {
				continue
			}
			j := jacobian(pairs[i].at, pairs[i].n, m.ref.centre, lever)
			leverage := 0.0
			for k := range weak {
				if values[k] > moveFloor*n {
					d := dot6(&vectors[k], &j)
					leverage += float64(d * d * n / values[k])
				}
			}
			if leverage > featureLeverage*float64(weak) {
				pairs[i].class = featureClass
			}
		}
	})
}
