package align

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	// cosPair is 60 degrees: a scan point pairs only with its own skin
	// (definitions: surface deviation).
	cosPair = 0.5

	// tukeyTuning times the standard deviation gives 95 % efficiency on normal
	// noise (Holland & Welsch 1977).
	tukeyTuning = 4.685

	// scaleFloor in mm keeps a noise-free scan from shrinking the scale to
	// nothing: half of 0.02 mm, the placement error aimed for, over the tuning.
	scaleFloor = 0.01 / tukeyTuning

	// reachOfScale: pairs are sought to this many scales, so that a point that
	// is let go of can come back.
	reachOfScale = 1.5
	reachLeast   = 1.0 // mm

	// moveFloor: eigenvalues (of the mean JᵀJ, turns at half a diagonal) under
	// this are not moved along. Facets of a tessellated cylinder leave 1.6e-8 in
	// its free directions, held parts have 4e-4 or more.
	moveFloor = 1e-6
)

type pairState uint8

const (
	unpaired pairState = iota
	onBorder
	paired
)

// pair is a placed scan point with the plane it was paired with.
type pair struct {
	at    geom.Vec // placed scan point
	n     geom.Vec // normal of the reference's skin
	r     float64  // mm, signed distance from it
	state pairState
	class pairClass
	trust float64 // 0 to 1, of the region around it
	fall  float64 // 0 or less, by how much the region's trust changes with its offset, times the offset
	left  float64 // mm, by how much more than it was taken to the skin may rise there
	leaf  uint32  // one more than where the skin was found, 0: nowhere yet; the next search starts there
}

// weight returns the pair's part in the fit at a distance r, with the scales in
// mm of the two classes. The noisier class counts by the inverse of its variance, and so
// does a pair on a facet whose skin is not known as well as the noise.
func (p *pair) weight(r float64, scales *[2]float64) float64 {
	if p.state != paired {
		return 0
	}
	w := p.trust * tukeyWeight(r, scales[p.class])
	if p.left > 0 {
		doubt := p.left * tukeyTuning / scales[p.class]
		w /= 1 + float64(doubt*doubt)
	}
	if least := min(scales[0], scales[1]); scales[p.class] > least {
		w *= least / scales[p.class] * (least / scales[p.class])
	}
	return w
}

// matcher pairs points with the reference's triangles.
type matcher struct {
	ref     *reference
	signed  bool
	finders []*surface.Finder
	lock    []vec6 // unit motions, about the reference's centre, that steps leave alone
}

// locked returns motions about another centre, turns in mm at another lever, as steps count them.
func (m *matcher) locked(motions []vec6, centre geom.Vec, lever float64) []vec6 {
	out := make([]vec6, len(motions))
	for k, v := range motions {
		turn := geom.Vec{X: v[3], Y: v[4], Z: v[5]}.Scale(1 / lever)
		shift := geom.Vec{X: v[0], Y: v[1], Z: v[2]}.Add(turn.Cross(m.ref.centre.Sub(centre)))
		turn = turn.Scale(m.ref.diag / 2)
		x := vec6{shift.X, shift.Y, shift.Z, turn.X, turn.Y, turn.Z}
		size := math.Sqrt(dot6(&x, &x))
		for i := range x {
			out[k][i] = x[i] / size
		}
	}
	return out
}

// lockStrength times the weight of the points holds what is locked: a step along it is that much shorter.
const lockStrength = 1e6

func newMatcher(ref *reference, signed bool, threads int) *matcher {
	m := &matcher{ref: ref, signed: signed, finders: make([]*surface.Finder, parallel.Threads(threads))}
	for i := range m.finders {
		m.finders[i] = ref.surface.NewFinder()
	}
	return m
}

// alone returns a matcher for one goroutine, that of the given worker.
func (m *matcher) alone(worker int) *matcher {
	return &matcher{ref: m.ref, signed: m.signed, finders: m.finders[worker : worker+1]}
}

// pairUp pairs every point, placed by g, with the skin that is nearest within reach.
func (m *matcher) pairUp(ctx context.Context, g geom.Rigid, points []point, reach float64, out []pair) error {
	return m.pairUpWith(ctx, g, points, reach, out, nil)
}

func (m *matcher) pairUpWith(ctx context.Context, g geom.Rigid, points []point, reach float64, out []pair, progress mesh.Progress) error {
	return parallel.Chunks(ctx, len(points), 512, len(m.finders), progress, func(worker, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			m.pairAgain(m.finders[worker], g, &points[i], reach, &out[i])
		}
	})
}

// pairOne pairs a point.
func (m *matcher) pairOne(f *surface.Finder, g geom.Rigid, pt *point, reach float64) (out pair) {
	m.pairAgain(f, g, pt, reach, &out)
	return out
}

// pairAgain pairs a point anew and starts the search where its pair was found before.
func (m *matcher) pairAgain(f *surface.Finder, g geom.Rigid, pt *point, reach float64, out *pair) {
	p := carried(&g, &pt.p)
	if out.leaf > 0 {
		f.StartAt(out.leaf-1, out.at)
	}
	var hit surface.Hit
	var ok bool
	if m.signed {
		hit, ok = f.FootFacing(p, turned(&g.R, &pt.n), cosPair, reach)
	} else {
		hit, ok = f.Foot(p, reach)
	}
	*out = pair{at: p}
	if !ok {
		return
	}
	if leaf, ok := f.Leaf(); ok {
		out.leaf = leaf + 1
	}
	if hit.Border {
		out.state = onBorder
		return
	}
	q, n, left := m.ref.skin.On(hit.Face, hit.Point)
	if n == (geom.Vec{}) {
		return
	}
	if !m.signed && pt.n != (geom.Vec{}) && math.Abs(g.ApplyDir(pt.n).Dot(n)) < cosPair {
		return
	}
	out.n, out.r, out.state, out.trust, out.left = n, p.Sub(q).Dot(n), paired, 1, left
}

// noiseOf estimates the standard deviation of the points that follow the
// reference, letting go of those that do not: the median absolute deviation,
// then the standard deviation of what lies within 2.5 of it, again and again.
func noiseOf(pairs []pair, class pairClass) float64 {
	var size []float64
	for i := range pairs {
		if pairs[i].state == paired && pairs[i].class == class {
			size = append(size, math.Abs(pairs[i].r))
		}
	}
	return spreadOf(size)
}

// spreadOf estimates the standard deviation of the well-behaved majority from
// the sizes of values about 0, whose order it changes.
func spreadOf(size []float64) float64 {
	const (
		madToSigma = 1.4826
		cut        = 2.5
		kept       = 0.9546 // sd of a unit normal cut at ±2.5
	)
	s := madToSigma * quantile(size, 0.5)
	for range 12 {
		sum, n := 0.0, 0
		for _, v := range size {
			if v <= cut*s {
				sum += float64(v * v)
				n++
			}
		}
		if n == 0 {
			break
		}
		was := s
		if s = math.Sqrt(sum/float64(n)) / kept; s == was {
			break
		}
	}
	return s
}

// normal is a set of normal equations, and the sum of the weights in it.
type normal struct {
	a      sym6
	b      vec6
	weight float64
}

// pairRun is how many pairs are summed in one go, whoever does so.
const pairRun = 8192

// summed adds up what body sums over runs of n pairs, in their order.
func (m *matcher) summed(n int, body func(lo, hi int, sum *normal)) normal {
	parts := make([]normal, (n+pairRun-1)/pairRun)
	_ = parallel.Chunks(context.Background(), n, pairRun, len(m.finders), nil, func(_, chunk, lo, hi int) {
		body(lo, hi, &parts[chunk])
	})
	var out normal
	for k := range parts {
		for r := range 6 {
			for c := range 6 {
				out.a[r][c] += parts[k].a[r][c]
			}
			out.b[r] += parts[k].b[r]
		}
		out.weight += parts[k].weight
	}
	out.a.mirror()
	return out
}

// system sums the normal equations over the pairs, as they will be after the
// small motion x.
func (m *matcher) system(pairs []pair, x vec6, scales *[2]float64) normal {
	lever := m.ref.diag / 2
	return m.summed(len(pairs), func(lo, hi int, sum *normal) {
		for i := lo; i < hi; i++ {
			p := &pairs[i]
			if p.state != paired || p.trust == 0 {
				continue
			}
			j := jacobian(p.at, p.n, m.ref.centre, lever)
			r := p.r + dot6(&j, &x)
			w := p.weight(r, scales)
			if w == 0 {
				continue
			}
			sum.a.addOuter(w, &j)
			for k := range 6 {
				sum.b[k] -= float64(w * r * j[k])
			}
			sum.weight += w
		}
	})
}

// innerSteps is how often the weights are renewed between two searches for pairs.
const innerSteps = 3

// step returns the motion that lessens the loss of the pairs, moved along held
// directions only. ok is false when the pairs hold nothing.
func (m *matcher) step(pairs []pair, scales *[2]float64) (x vec6, ok bool) {
	for range innerSteps {
		sum := m.system(pairs, x, scales)
		if !(sum.weight > 0) {
			return x, false
		}
		for _, v := range m.lock {
			sum.a.addOuter(lockStrength*sum.weight, &v)
			sum.a.mirror()
		}
		values, vectors := eigen6(&sum.a)
		for k, v := range vectors {
			if values[k] > moveFloor*sum.weight {
				s := dot6(&v, &sum.b) / values[k]
				for i := range 6 {
					x[i] += float64(s * v[i])
				}
			}
		}
	}
	return x, true
}

// descend runs the fit through falling scales in mm, one step at each; it returns
// the pose it has come to when the pairs hold nothing.
func (m *matcher) descend(ctx context.Context, g geom.Rigid, points []point, scales []float64) (geom.Rigid, error) {
	return m.descendWith(ctx, g, points, scales, make([]pair, len(points)))
}

// descendScored is descend and a judgement of the pose on the points.
func (m *matcher) descendScored(ctx context.Context, g geom.Rigid, points []point, scales []float64) (candidate, error) {
	pairs := make([]pair, len(points))
	g, err := m.descendWith(ctx, g, points, scales, pairs)
	if err != nil {
		return candidate{}, err
	}
	err = m.pairUp(ctx, g, points, judgeScales[0], pairs)
	return candidate{g, -meanLoss(pairs, exactLast)}, err
}

func (m *matcher) descendWith(ctx context.Context, g geom.Rigid, points []point, scales []float64, pairs []pair) (geom.Rigid, error) {
	for _, scale := range scales {
		if err := m.pairUp(ctx, g, points, max(reachLeast, reachOfScale*scale), pairs); err != nil {
			return g, err
		}
		x, ok := m.step(pairs, &[2]float64{scale, scale})
		if !ok {
			return g, nil
		}
		g = moveBy(g, x, m.ref.centre, m.ref.diag/2)
	}
	return g, nil
}

// fallingScales returns n scales from first to last in even ratios.
func fallingScales(first, last float64, n int) []float64 {
	out := make([]float64, n)
	for k := range out {
		out[k] = first * geom.Pow(last/first, float64(k)/float64(max(n-1, 1)))
	}
	return out
}
