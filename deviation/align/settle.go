package align

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	settleMost = 12
	// settled in mm at half a diagonal: a million points of a scanner's noise hold a body side's firmest motions to 0.0002 mm.
	settled = 0.0001
	// pairsHold in mm at half a diagonal: pairs are kept while the pose moves less than this. Along the skin a foot moves as
	// far; over a radius of 1 mm the skin then lies 0.0002 mm beside the plane that stands for it.
	pairsHold = 0.02
)

// rest is a pose that comes to rest, with the pairs there.
type rest struct {
	g          geom.Rigid
	pairs      []pair
	regions    regions
	moved      float64    // mm at half a diagonal, since the pairs were sought
	least      float64    // mm, pairs are sought at least so far
	scales     [2]float64 // mm, of the weights, by class
	systematic [2]float64 // mm, by class, see trustRegions
	heldTo     float64    // mm, what the surface knows no better counts as not held; 0: heldSigma
	// borders returns the covariance that the part's borders give motions which the surface does not hold; nil for none.
	borders func(h *held) [][]float64
}

// newRest returns a pose whose pairs are still to be sought.
func newRest(g geom.Rigid, points []point, scale float64) rest {
	return rest{g: g, scales: [2]float64{scale, scale}, pairs: make([]pair, len(points)), moved: math.Inf(1), least: reachLeast}
}

// settle goes on from a scale in mm, at the scale that the noise calls for, until the pose rests.
func (m *matcher) settle(ctx context.Context, g geom.Rigid, points []point, scale float64, progress mesh.Progress) (rest, error) {
	out := newRest(g, points, scale)
	_, err := m.settleOn(ctx, &out, points, settleMost, progress)
	return out, err
}

// settleOn goes on with a pose that may be at rest after the given number of steps, and reports whether it is.
func (m *matcher) settleOn(ctx context.Context, r *rest, points []point, steps int, progress mesh.Progress) (bool, error) {
	for k := range steps {
		part := progress.Part(float64(k)/float64(steps+1), float64(k+1)/float64(steps+1))
		if err := m.judge(ctx, r, points, r.reach(), part); err != nil {
			return false, err
		}
		x, ok := m.step(r.pairs, &r.scales)
		size := math.Sqrt(dot6(&x, &x))
		if !ok || k > 0 && size < settled {
			return true, nil
		}
		m.move(r, x, size)
	}
	return false, m.judge(ctx, r, points, r.reach(), progress.Part(float64(steps)/float64(steps+1), 1))
}

// move moves a pose, and its pairs with it while they hold.
func (m *matcher) move(r *rest, x vec6, size float64) {
	lever := m.ref.diag / 2
	before := r.g
	r.g = moveBy(r.g, x, m.ref.centre, lever)
	if r.moved += size; r.moved > pairsHold {
		return
	}
	step := r.g.After(before.Inverse())
	for i := range r.pairs {
		p := &r.pairs[i]
		if p.state == paired {
			j := jacobian(p.at, p.n, m.ref.centre, lever)
			p.r += dot6(&j, &x)
		}
		p.at = step.Apply(p.at)
	}
}

// judge pairs the points at a pose, unless the pairs hold, and sets the scale and the regions' trust
// from what the pairs show. The scale falls by no more than half at a time.
func (m *matcher) judge(ctx context.Context, r *rest, points []point, reach float64, progress mesh.Progress) error {
	if r.moved > pairsHold {
		if err := m.pairUpWith(ctx, r.g, points, reach, r.pairs, progress); err != nil {
			return err
		}
		r.moved = 0
		m.classify(r.pairs)
		r.regions = regionsOf(r.pairs, regionCell*m.ref.diag)
	}
	for c := range r.scales {
		noise := max(noiseOf(r.pairs, pairClass(c)), scaleFloor)
		r.scales[c] = min(max(r.scales[c]/2, tukeyTuning*noise), judgeScales[0])
		r.systematic[c] = r.regions.trust(r.pairs, pairClass(c), noise)
	}
	return nil
}

// reach is how far pairs are sought around a resting pose.
func (r *rest) reach() float64 {
	return max(r.least, reachOfScale*max(r.scales[0], r.scales[1]))
}
