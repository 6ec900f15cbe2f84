package closure

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	// tuning times the standard deviation gives 95 % efficiency on normal noise (Holland & Welsch 1977).
	tuning = 4.685
	// madToSigma turns a median size into a standard deviation of normal noise.
	madToSigma = 1.4826
	// quietest in mm keeps noise-free skins from shrinking the scale to nothing.
	quietest = 0.002
	// fewPoints are fitted until the motion rests, allPoints at the end.
	fewPoints, allPoints = 30_000, 150_000
	mostSteps            = 150
	// calmShare of the scale: steps smaller than that have come to rest at it.
	calmShare = 0.005
	// shorter than the last by this is a step that goes back.
	shorter = 0.5
	// rests in mm at the lever: a fiftieth of what is aimed for.
	rests = 0.001
	// clearly: a direction counts as held when what holds it exceeds what noise alone would seem to by that many
	// standard deviations of it.
	clearly = 4.0
	// faintly is enough to move along while the skins lie far apart: what is not held is taken out of the result in the end.
	faintly = 1.5
	// heldFloor of the mean of the products: less is rounding, or the facets of a round skin (package align has the same).
	heldFloor = 1e-6
	// heldSigma in mm at the lever, as in package align: what is known no better has no number.
	heldSigma = 1.0
	// fewEqual cells: a variance from fewer is no better than by a factor of two.
	fewEqual = 5.0
)

// scoreCells in mm: the sides of the cells inside which residuals may depend on one another, from a scanner's smoothing
// to how its drift changes over its field of view.
var scoreCells = [...]float64{30, 75, 150}

// parted is what cells of 30 mm show of the variance of noise whose correlation falls to 1/e at 6 mm: what hangs together
// across their borders is left out, (1 - 6/(30 √π))² by the integral of exp(-d²/6²).
const parted = 0.79

// fit is the end's skin being laid on the start's.
type fit struct {
	on      *surface.Surface
	end     *mesh.Mesh
	normals []geom.Vec // of the end's vertices
	finders []*surface.Finder
	curved  *surface.Skin // of the start, where its facets are large; else nil

	centre geom.Vec
	lever  float64
	g      geom.Rigid // startFromEnd
	scale  float64    // mm, beyond which pairs count for nothing
	reach  float64    // mm, first scale
	pairs  []pairing
}

// pairing is a point of the end, carried, with its place on the start.
type pairing struct {
	at       geom.Vec
	r        float64  // mm along the start's normal
	nS, nE   geom.Vec // the start's and the end's normal: two looks at one direction, with noise of their own
	isPaired bool
}

func (f *fit) jacobian(p, n geom.Vec) vec6 {
	q := p.Sub(f.centre).Scale(1 / f.lever).Cross(n)
	return vec6{n.X, n.Y, n.Z, q.X, q.Y, q.Z}
}

// pair lays every so many-th point on the start.
func (f *fit) pair(ctx context.Context, most int) error {
	n := len(f.end.Vertices)
	step := (n + most - 1) / most
	f.pairs = make([]pairing, (n+step-1)/step)
	within := max(leastReach, 1.5*f.scale)
	return parallel.Chunks(ctx, len(f.pairs), lookRun, len(f.finders), nil, func(worker, _, lo, hi int) {
		if f.finders[worker] == nil {
			f.finders[worker] = f.on.NewFinder()
		}
		for i := lo; i < hi; i++ {
			v := i * step
			p, n := f.g.Apply(f.end.Vertices[v]), f.g.ApplyDir(f.normals[v])
			h, ok := f.finders[worker].ClosestFacing(p, n, alike, within)
			if !ok || h.Border || h.Normal == (geom.Vec{}) {
				f.pairs[i] = pairing{at: p}
				continue
			}
			r := p.Sub(h.Point).Dot(h.Normal)
			if f.curved != nil {
				if rise, _, ok := f.curved.At(h.Face, h.Point); ok {
					r -= rise
				}
			}
			f.pairs[i] = pairing{p, r, h.Normal, n, true}
		}
	})
}

// scatter returns the standard deviation of the pairs' distances by their median.
func (f *fit) scatter() float64 {
	var size []float64
	for i := range f.pairs {
		if f.pairs[i].isPaired {
			size = append(size, math.Abs(f.pairs[i].r))
		}
	}
	if len(size) == 0 {
		return 0
	}
	slices.Sort(size)
	return madToSigma * size[len(size)/2]
}

// system is what the pairs say of a small motion, by cells of a side.
type system struct {
	hold    mat6 // Σ w J_e J_sᵀ
	score   vec6 // Σ w J_e r
	weight  float64
	used    int
	paired  int
	squares float64  // of the distances of those used
	centre  geom.Vec // their mean
	// by cells: the scores, and what each holds.
	scores []vec6
	holds  []mat6
}

// system sums the pairs. The normals of the end serve as instruments for those of the start: as the noise of either is its
// own, their products hold what the shape holds and nothing of the noise, which would make a smooth side hold
// what it does not and so stop the fit short and its uncertainty small.
//
// Based on: instrumental variables, Reiersøl (1941); Sargan, Econometrica 26 (1958).
func (f *fit) system(side float64) system {
	var s system
	at := map[[3]int32]int{}
	for i := range f.pairs {
		p := &f.pairs[i]
		if !p.isPaired {
			continue
		}
		s.paired++
		w := tukey(p.r, f.scale)
		if w == 0 {
			continue
		}
		e, b := f.jacobian(p.at, p.nE), f.jacobian(p.at, p.nS)
		s.weight += w
		s.used++
		s.squares += float64(p.r * p.r)
		s.centre = s.centre.AddScaled(w, p.at)
		k, ok := at[cellOf(p.at, side)]
		if !ok {
			k = len(s.scores)
			at[cellOf(p.at, side)] = k
			s.scores, s.holds = append(s.scores, vec6{}), append(s.holds, mat6{})
		}
		for c := range 6 {
			s.scores[k][c] += float64(w * p.r * e[c])
		}
		s.holds[k].AddOuter(w, &e, &b)
	}
	for k := range s.scores {
		s.hold.Add(&s.holds[k])
		for c := range 6 {
			s.score[c] += s.scores[k][c]
		}
	}
	if s.weight > 0 {
		s.centre = s.centre.Scale(1 / s.weight)
	}
	return s
}

// holdsMotion reports whether the cells hold a direction more than noise would seem to: products of two normals' noise scatter about 0.
func (s *system) holdsMotion(v *vec6, value, sigmas float64) bool {
	square := 0.0
	for k := range s.holds {
		h := s.holds[k].Between(v, v)
		square += float64(h * h)
	}
	return value > heldFloor*s.weight && value > sigmas*math.Sqrt(square)/math.Sqrt2
}

// longest is how far, in mm at the lever, one step may go: as far as the skins were apart.
func (f *fit) longest() float64 { return max(f.reach, leastReach) }

// settle lets the end come to rest on the start; false where nothing holds it.
func (f *fit) settle(ctx context.Context, progress mesh.Progress) (bool, error) {
	f.scale = max(tuning*f.reach, leastReach)
	calm := false
	longest := f.longest()
	var last vec6
	for k := range mostSteps {
		if err := f.pair(ctx, fewPoints); err != nil {
			return false, err
		}
		if fine := tuning * max(f.scatter(), quietest); calm {
			f.scale = min(max(f.scale*0.7, fine), f.scale)
		}
		s := f.system(scoreCells[0])
		if s.used < leastFaces {
			return false, nil
		}
		x := s.step(faintly, longest)
		if back := x.Dot(&last); back < 0 {
			// What goes there and back, as along what is held only by noise, would never come to rest.
			longest = min(longest, shorter*math.Sqrt(last.Dot(&last)))
			x = s.step(faintly, longest)
		}
		last = x
		f.g = moved(f.g, &x, f.centre, f.lever)
		progress.Report(float64(k) / mostSteps)
		// What still moves at one scale would be cut off at a finer one.
		size := math.Sqrt(x.Dot(&x))
		calm = size < calmShare*f.scale
		if k > 0 && size < rests && f.scale <= tuning*max(f.scatter(), quietest)*1.01 {
			break
		}
	}
	// The last steps are with all points.
	for range 4 {
		if err := f.pair(ctx, allPoints); err != nil {
			return false, err
		}
		s := f.system(scoreCells[0])
		if s.used < leastFaces {
			return false, nil
		}
		x := s.step(clearly, f.longest())
		f.g = moved(f.g, &x, f.centre, f.lever)
		if math.Sqrt(x.Dot(&x)) < rests {
			break
		}
	}
	return true, f.pair(ctx, allPoints)
}

// step returns the motion that takes the pairs' distances away, along what is held, at most so many mm along each direction: what
// holds a skin faintly may be noise, and the step that it asks for any length.
func (s *system) step(sigmas, most float64) vec6 {
	values, vectors := s.hold.Eigen()
	var x vec6
	for k := range vectors {
		v := &vectors[k]
		if !s.holdsMotion(v, values[k], sigmas) {
			continue
		}
		a := min(max(-v.Dot(&s.score)/values[k], -most), most)
		for i := range 6 {
			x[i] += float64(a * v[i])
		}
	}
	return x
}

// known is what is known of the motion that came to rest.
type known struct {
	held       mat6 // unit directions, the first n
	n          int
	sigma      vec6 // mm at the lever, of each
	hold       vec6 // of each, the mean of the squared steps that a millimetre of it makes
	covariance mat6 // of the motion's held parts
	free       []vec6
	loosest    float64 // mm
	rms        float64
	share      float64 // of the pairs' weight that counts
	centre     geom.Vec
}

// judge tells what of the motion is held and how well. It moves the centre to that of the pairs used.
func (f *fit) judge() known {
	s := f.system(scoreCells[0])
	f.centre = s.centre
	s = f.system(scoreCells[0])
	k := known{centre: f.centre, share: s.weight / float64(max(s.paired, 1)), rms: math.Sqrt(s.squares / float64(max(s.used, 1)))}
	values, vectors := s.hold.Eigen()
	variance := f.spread(&s, &vectors)
	for i := range vectors {
		v := &vectors[i]
		// The instruments' score carries the noise of the distances; over what holds the direction it is the motion's.
		sigma := root(variance[i]) / values[i]
		if !s.holdsMotion(v, values[i], clearly) || !(sigma <= heldSigma) {
			k.free = append(k.free, *v)
			if values[i] > 0 {
				k.loosest = max(k.loosest, sigma)
			} else {
				k.loosest = math.Inf(1)
			}
			continue
		}
		k.hold[k.n], k.sigma[k.n] = values[i]/s.weight, sigma
		k.held[k.n] = *v
		k.n++
	}
	k.covary()
	return k
}

// covary sums the covariance of what is held.
func (k *known) covary() {
	k.covariance = mat6{}
	for i := range k.n {
		k.covariance.AddOuter(float64(k.sigma[i]*k.sigma[i]), &k.held[i], &k.held[i])
	}
}

const (
	// alikeArea in mm²: over so much of an overlap a difference in shape is much the same, and counts as one independent error. Of 28 simulated scans
	// of a van all 123 components of motions between skins that differ in shape then lie within their U, without it 92 in 100.
	alikeArea = 10_000.0
	// fewestAlike of them are counted at the least.
	fewestAlike = 2.0
)

// shaped adds what a difference in shape, mm RMS, over an area, mm², leaves unknown of the motion: a part of it as large as any other may look as a motion
// does. What it leaves known no better than heldSigma is free.
func (k *known) shaped(shape, area float64) {
	n := 0
	for i := range k.n {
		by := shape / math.Sqrt(max(fewestAlike, area/alikeArea)*k.hold[i])
		sigma := math.Sqrt(float64(k.sigma[i]*k.sigma[i]) + float64(by*by))
		if sigma > heldSigma {
			k.free, k.loosest = append(k.free, k.held[i]), max(k.loosest, sigma)
			continue
		}
		k.held[n], k.sigma[n], k.hold[n] = k.held[i], sigma, k.hold[i]
		n++
	}
	k.n = n
	k.covary()
}

// spread returns the variance of the score along each direction, the greatest of what cells of several sizes show. Based on: Liang & Zeger (1986), the cluster-robust sandwich.
func (f *fit) spread(first *system, directions *mat6) vec6 {
	var out vec6
	for i, side := range scoreCells {
		s := first
		if i > 0 {
			t := f.system(side)
			s = &t
		}
		cells := len(s.scores)
		if cells <= 12 {
			continue // six motions were fitted: too few are left to tell
		}
		for k := range directions {
			sum, fourth := 0.0, 0.0
			for c := range s.scores {
				x := directions[k].Dot(&s.scores[c])
				x2 := float64(x * x)
				sum += x2
				fourth += float64(x2 * x2)
			}
			if sum == 0 {
				continue
			}
			// So many equal cells would scatter as these do; from few the sum is known badly, and errs low (Student).
			equal := float64(sum*sum) / fourth
			if equal <= fewEqual && out[k] > 0 {
				continue
			}
			equal = max(equal, fewEqual)
			out[k] = max(out[k], sum/parted*float64(cells)/float64(cells-6)*equal/(equal-2))
		}
	}
	return out
}
