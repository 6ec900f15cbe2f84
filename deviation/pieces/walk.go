package pieces

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	// weakFloor: along directions held less than this (eigenvalues as for heldFloor) a smooth skin slides
	// for centimetres without much change, and the fit may rest before it meets the edge that holds it.
	weakFloor = 2e-2
	// walkStep in mm is about half the width of what holds a skin: a gap, a hem.
	walkStep = 3.0
	// walkReach in mm is how far is walked each way: as far as pieces may lie apart.
	walkReach = roughReach
	// walkFits are the steps of the fit from each place.
	walkFits = 4
	// walkSamples of each piece serve to walk.
	walkSamples = 400
	// walkGain is the share by which the loss must fall for a place to count as better.
	walkGain = 0.03
)

// walk tries places along the weakly held directions and returns the motion of the one that fits best. The
// samples are coarse ones.
func (c *contact) walk(ctx context.Context, g geom.Rigid) (geom.Rigid, error) {
	s, _ := c.spreadOf()
	scale := max(s, spreadFloor)
	a, _, _ := c.system(scale)
	values, vectors := a.Eigen()
	if !slices.ContainsFunc(values[:], func(v float64) bool { return v >= c.held && v <= weakFloor }) {
		return g, nil
	}
	all := c.samples
	defer func() { c.samples, c.matches = all, make([]match, len(all)) }()
	c.thin(walkSamples)
	if err := c.pairUp(ctx, g, max(leastReach, reachOfSpread*scale), c.samples, c.matches); err != nil {
		return g, err
	}
	best, bestLoss := g, c.loss(scale)
	centre, lever := c.centre, c.lever
	for k := range vectors {
		if values[k] < c.held || values[k] > weakFloor {
			continue
		}
		from := best
		for step := 1; float64(step)*walkStep <= walkReach; step++ {
			for _, way := range [2]float64{1, -1} {
				x := vectors[k]
				for i := range x {
					x[i] *= way * walkStep * float64(step)
					if i >= 3 {
						x[i] /= lever
					}
				}
				at, _, ok, err := c.settle(ctx, moved(from, &x, centre), max(leastReach, reachOfSpread*scale), walkFits)
				if err != nil {
					return g, err
				}
				if loss := c.loss(scale); ok && loss < bestLoss*(1-walkGain) {
					best, bestLoss = at, loss
				}
			}
		}
	}
	return best, nil
}

// thin keeps about n samples of each piece.
func (c *contact) thin(n int) {
	onB := 0
	for onB < len(c.samples) && !c.samples[onB].onB {
		onB++
	}
	var kept []sample
	for _, part := range [2][]sample{c.samples[:onB], c.samples[onB:]} {
		m := min(n, len(part))
		for k := range m {
			kept = append(kept, part[k*len(part)/m])
		}
	}
	c.samples, c.matches = kept, make([]match, len(kept))
}

// loss returns the mean loss of the samples, 0 to 1: what is not paired, or more than six spreads away, counts fully.
func (c *contact) loss(spread float64) float64 {
	sum := 0.0
	for i := range c.matches {
		u := math.Min(math.Abs(c.matches[i].r)/(noWeight*spread), 1)
		if !c.matches[i].paired {
			u = 1
		}
		sum += float64(u * u)
	}
	return sum / float64(max(len(c.matches), 1))
}
