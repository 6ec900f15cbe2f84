package pieces

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	// roughReach in mm is how far apart pieces that share a frame may lie as loaded: centimetres.
	roughReach = 30.0
	// leastReach in mm is how far is looked at the end at least, so that what is let go of can come back.
	leastReach = 2.0
	// reachOfSpread: at the end it is looked so many times the spread far.
	reachOfSpread = 10.0
	// fullWeight and noWeight in spreads: residuals under the first count fully, beyond the
	// second not at all, with a smooth fall between (the shape of Hampel's function, 1974). Shape
	// that both pieces follow stays under the first, so that the fit is plain least squares on it.
	fullWeight, noWeight = 3.0, 6.0
	// spreadFloor in mm keeps a fit without noise from shrinking to nothing.
	spreadFloor = 0.002
	// heldFloor: directions (eigenvalues of the mean J Jᵀ, turns at the lever) below it are not held.
	// What is left of the normals' noise after averaging feigns 1e-5 and less where scans are good, see heldOf; a
	// door-like skin has 2e-3 along its length, and held parts have more.
	heldFloor = 1e-4
	// rested in mm at the lever.
	rested    = 2e-4
	mostSteps = 80
)

// heldOf returns the eigenvalue below which two pieces do not hold each other along a direction, since the noise of their normals feigns as much.
func heldOf(a, b *body) float64 {
	return max(heldFloor, feignedMargin*(a.feigned+b.feigned)/2)
}

// floorOf returns the eigenvalue under which a direction is not held where so much is left, mm: what is left of a shape
// that differs pushes along it by as much over its root, and beyond looseSigma that is no knowledge.
func (c *contact) floorOf(spread float64) float64 {
	return max(c.held, float64(spread*spread)/(shapePatches*looseSigma*looseSigma))
}

// weightAt returns the weight of a residual, both in mm.
func weightAt(r, spread float64) float64 {
	u := math.Abs(r) / spread
	switch {
	case u <= fullWeight:
		return 1
	case u >= noWeight:
		return 0
	}
	s := (u - fullWeight) / (noWeight - fullWeight)
	w := 1 - float64(s*s)
	return float64(w * w)
}

// system returns the mean J Jᵀ and the mean J r, with turns at the lever, and the sum of weights.
func (c *contact) system(spread float64) (a mat6, b vec6, weight float64) {
	for i := range c.matches {
		m := &c.matches[i]
		if !m.paired {
			continue
		}
		w := weightAt(m.r, spread)
		if w == 0 {
			continue
		}
		j := row(m.at, m.n, c.centre)
		for k := 3; k < 6; k++ {
			j[k] /= c.lever
		}
		a.AddOuter(w, &j, &j)
		for k := range 6 {
			b[k] += float64(float64(w*m.r) * j[k])
		}
		weight += w
	}
	if weight > 0 {
		a = a.Scaled(1 / weight)
		for k := range 6 {
			b[k] /= weight
		}
	}
	return a, b, weight
}

// settle brings the pair together from a start, looking first as far as reach, mm. The spread at
// the end is in mm. It reports false when the two do not touch.
func (c *contact) settle(ctx context.Context, bFromA geom.Rigid, reach float64, steps int) (out geom.Rigid, spread float64, ok bool, err error) {
	g := bFromA
	for range steps {
		if err := c.pairUp(ctx, g, reach, c.samples, c.matches); err != nil {
			return g, 0, false, err
		}
		s, n := c.spreadOf()
		if n < leastPaired || !c.frame() {
			return g, 0, false, nil
		}
		spread = max(s, spreadFloor)
		a, b, weight := c.system(spread)
		if !(weight > 0) {
			return g, spread, false, nil
		}
		values, vectors := a.Eigen()
		var x vec6
		for k, v := range vectors {
			if values[k] < c.floor {
				continue
			}
			s := -v.Dot(&b) / values[k]
			for i := range 6 {
				x[i] += float64(s * v[i])
			}
		}
		size := math.Sqrt(x.Dot(&x))
		if size > reach { // farther than was looked is no better known
			for k := range x {
				x[k] *= reach / size
			}
		}
		for k := 3; k < 6; k++ {
			x[k] /= c.lever
		}
		g = moved(g, &x, c.centre)
		next := min(reach, max(leastReach, reachOfSpread*spread))
		if size < rested && next >= reach*0.999 {
			break
		}
		reach = next
	}
	if err := c.pairUp(ctx, g, reach, c.samples, c.matches); err != nil {
		return g, 0, false, err
	}
	return g, spread, c.frame(), nil
}

// rein takes back what a fit moved along directions that it turns out not to hold, and fits again without them. spread is that of
// the fit, mm.
func (c *contact) rein(ctx context.Context, g, start geom.Rigid, spread, reach float64) (geom.Rigid, float64, error) {
	mean, _, _ := c.system(spread)
	values, vectors := mean.Eigen()
	floor := c.floorOf(spread)
	if values[5] < floor || !slices.ContainsFunc(values[:], func(v float64) bool { return v >= c.held && v < floor }) {
		return g, spread, nil
	}
	x := twistOf(start.After(g.Inverse()), c.centre) // the way back
	for k := 3; k < 6; k++ {
		x[k] *= c.lever
	}
	var back vec6
	for k := range vectors {
		if values[k] < floor {
			s := vectors[k].Dot(&x)
			for i := range 6 {
				back[i] += float64(s * vectors[k][i])
			}
		}
	}
	for k := 3; k < 6; k++ {
		back[k] /= c.lever
	}
	c.floor = floor
	defer func() { c.floor = c.held }()
	out, spread, ok, err := c.settle(ctx, moved(g, &back, c.centre), reach, mostSteps)
	if err != nil || !ok {
		return g, spread, err
	}
	return out, spread, nil
}

// leastPaired is the fewest samples on which two pieces are fitted.
const leastPaired = 50
