package align

import (
	"context"
	"math"

	"shutline/mesh/geom"
)

// BorderRun is a stretch of the scan's border that was taken for a border of the part.
type BorderRun struct {
	Middle geom.Vec // in the reference's frame
	Length float64  // mm
	Left   float64  // mm, RMS distance left between the two borders, across them
}

const (
	// borderReach in mm: how far a slide may have carried a border from its own place, at most.
	borderReach = 30.0
	// borderScatter of the spacing: how far a border of the part scatters about that of the reference, once it lies there.
	// What a mesh's facets leave of a border is ragged by up to a half of their size, 0.29 of it as a standard deviation.
	borderScatter = 0.3
	// borderOdd of the spacing: by how much stretches may differ in what the facets leave of the edge, seen with another
	// eye or cut along another way. Our choice.
	borderOdd = 0.1
	// borderFloor in mm: no border is known better, cut edges of sheet being what they are.
	borderFloor = 0.1
	// sectorCos is 30 degrees: a stretch of a run that turns by less is one observation.
	sectorCos = 0.8660254
	// predicted: a slide by more standard deviations than this is not what the surface allows.
	predicted = 3.0
	// seenLeast and unseen in mm⁻²: a motion that the borders show to no better than 10 mm is left where it is; one
	// that they do not show at all is known to a metre.
	seenLeast, unseen = 1e-2, 1e-6
	borderTurns       = 8
	// borderPoints of the surface keep the rest of the pose while it is moved.
	borderPoints = 40000
)

// borderSet is what borders a fit has.
type borderSet struct {
	scan    []station // in scan coordinates
	ref     *stationGrid
	spacing float64 // mm, the greater of the two meshes'
}

// sd in mm is how far a border of the part scatters about that of the reference.
func (b *borderSet) sd() float64 { return max(borderScatter*b.spacing, borderFloor) }

// borderSet gathers the borders of scan and reference; nil where either has none.
func (f *fit) borderSet(ctx context.Context) (*borderSet, error) {
	if len(f.cloud.mesh.Faces) == 0 || !f.cloud.signed {
		return nil, nil
	}
	scan, sa, err := bordersOf(ctx, f.cloud.mesh)
	if err != nil || len(scan) == 0 {
		return nil, err
	}
	ref, sb, err := bordersOf(ctx, f.ref.mesh)
	if err != nil || len(ref) == 0 {
		return nil, err
	}
	spacing := max(sa, sb)
	window := max(borderWindow, borderEdges*spacing)
	return &borderSet{scan: stations(scan, window), ref: newStationGrid(stations(ref, window), borderReach), spacing: spacing}, nil
}

// sight is a stretch of a run that is one observation: how far the scan's border lies outside the
// reference's, and how the free motions change that.
type sight struct {
	run  int
	at   geom.Vec // where it begins on the reference, and which way is out of the part there
	out  geom.Vec
	rows [][]float64 // of each station: its change with each free motion, 1 for the inset, and the distance
}

// weight is the part of one observation that a sight counts as.
func (o *sight) weight() float64 { return min(1, float64(len(o.rows))*borderStep/borderLeast) }

// observations is how many observations the sights count as.
func observations(sights []sight) float64 {
	n := 0.0
	for i := range sights {
		n += sights[i].weight()
	}
	return n
}

// run is a stretch of the scan's border beside one of the reference's.
type run struct {
	at     []geom.Vec
	length float64
	chain  [2]int
	s      float64
	left   float64 // mm, RMS
}

// sights returns the observations at a pose; about centre and lever the free motions are free.
func (b *borderSet) sights(g geom.Rigid, free []vec6, centre geom.Vec, lever, scale float64) ([]run, []sight) {
	var runs []run
	var out []sight
	var heading geom.Vec
	k := len(free)
	for i := range b.scan {
		s := b.scan[i]
		s.p, s.along, s.out, s.n = g.Apply(s.p), g.ApplyDir(s.along), g.ApplyDir(s.out), g.ApplyDir(s.n)
		q := b.ref.nearest(&s)
		if q < 0 {
			continue
		}
		t := &b.ref.all[q]
		row := make([]float64, k+2)
		j := jacobian(s.p, t.out, centre, lever)
		for c := range free {
			row[c] = dot6(&free[c], &j)
		}
		row[k], row[k+1] = 1, s.p.Sub(t.p).Dot(t.out)
		if math.Abs(row[k+1]) > scale {
			continue
		}
		last := len(runs) - 1
		if last < 0 || runs[last].chain != [2]int{s.chain, t.chain} || s.s-runs[last].s > 3*borderStep {
			runs = append(runs, run{chain: [2]int{s.chain, t.chain}})
			last++
			heading = geom.Vec{}
		} else {
			runs[last].length += s.s - runs[last].s
		}
		runs[last].s, runs[last].at = s.s, append(runs[last].at, s.p)
		if heading == (geom.Vec{}) || heading.Dot(t.out) < sectorCos {
			heading = t.out
			out = append(out, sight{run: last, at: t.p, out: t.out})
		}
		l := len(out) - 1
		out[l].rows = append(out[l].rows, row)
	}
	kept := out[:0]
	for _, o := range out {
		if runs[o.run].length >= borderLeast && len(o.rows) >= 2 {
			kept = append(kept, o)
		}
	}
	return runs, kept
}

// borderSolution is what the borders say of the free motions, and of an inset common to all of the scan's borders.
type borderSolution struct {
	move  []float64   // of each free motion, mm
	inset float64     // mm, by which the scan's borders lie inside the reference's
	cov   [][]float64 // of the moves and the inset
}

// variance of a sight, mm²: the raggedness of both borders over as many edges as it has, what stretches may differ by,
// and the inset, since borders that have all been cut short by some millimetres need not have been so by the same.
func (b *borderSet) variance(o *sight, inset float64) float64 {
	ragged, odd := float64(borderScatter*b.spacing), max(float64(borderOdd*b.spacing), borderFloor)
	edges := max(float64(len(o.rows))*borderStep/b.spacing, 1)
	return float64(2*ragged*ragged)/edges + float64(odd*odd) + float64(inset*inset)
}

// solve solves for the free motions and the inset, each sight counting as one observation; inset is what is known of it by then.
// A scan whose borders are the ends of what was scanned lies inside the part's borders; the inset takes up
// what all of them have in common, so that a lone straight border, or a corner, says nothing. prior is the
// inverse variance that the surface gives each motion.
func (b *borderSet) solve(sights []sight, k int, inset float64, prior, at []float64) *borderSolution {
	a, rhs := b.equations(sights, k, inset, nil)
	for i := range k {
		a[i][i] += prior[i]
		rhs[i] -= float64(prior[i] * at[i])
	}
	values, vectors := geom.EigenSymmetric(a)
	s := &borderSolution{cov: inverseOf(a)}
	x := make([]float64, k+1)
	for e, v := range vectors {
		if values[e] <= seenLeast {
			continue
		}
		dot := 0.0
		for i := range v {
			dot += float64(v[i] * rhs[i])
		}
		for i := range v {
			x[i] += float64(v[i] * dot / values[e])
		}
	}
	s.move, s.inset = x[:k], x[k]
	return s
}

// equations returns the normal equations of the free motions and the inset, each sight counting as one observation. Those
// that are lone have an inset of their own: a straight border then says nothing of where along its outward direction it lies.
func (b *borderSet) equations(sights []sight, k int, inset float64, lone func(sight int) bool) (a [][]float64, rhs []float64) {
	a, rhs = make([][]float64, k+1), make([]float64, k+1)
	for i := range a {
		a[i] = make([]float64, k+1)
	}
	mean := make([]float64, k+2)
	total := 0.0
	each := func(do func(w float64, row []float64), of func(sight int) bool) {
		for i := range sights {
			o := &sights[i]
			if of != nil && !of(i) {
				continue
			}
			w := o.weight() / (b.variance(o, inset) * float64(len(o.rows)))
			for _, row := range o.rows {
				do(w, row)
			}
		}
	}
	if lone != nil {
		each(func(w float64, row []float64) {
			total += w
			for i := range mean {
				mean[i] += float64(w * row[i])
			}
		}, lone)
	}
	add := func(w float64, row []float64) {
		for i := range k + 1 {
			for j := range k + 1 {
				a[i][j] += float64(w * row[i] * row[j])
			}
			rhs[i] -= float64(w * row[i] * row[k+1])
		}
	}
	each(add, nil)
	if total > 0 {
		for i := range mean {
			mean[i] /= total
		}
		add(-total, mean)
	}
	return a, rhs
}

// oneCut in mm: stretches of border that look the same way lie on one straight line, and may be one straight cut, when they lie no
// farther from one another along that way.
const oneCut = 10.0

// cuts tells which of the sights may be the end of the scan along one straight cut: the number of the cut of each, and how many.
func cuts(sights []sight) (of []int, n int) {
	of = make([]int, len(sights))
	var first []int
next:
	for i := range sights {
		for c, k := range first {
			if sights[i].out.Dot(sights[k].out) > sectorCos && math.Abs(sights[i].at.Sub(sights[k].at).Dot(sights[k].out)) < oneCut {
				of[i] = c
				continue next
			}
		}
		of[i] = len(first)
		first = append(first, i)
	}
	return of, len(first)
}

// confirmed reports whether what all the sights hold is still held if those along any one line were a straight end of the scan that
// happens to look like the part's: it can be slid onto any other.
func (b *borderSet) confirmed(sights []sight, k int, inset float64) bool {
	values, vectors := geom.EigenSymmetric(b.covariance(sights, k, inset, nil))
	of, n := cuts(sights)
	for c := range n {
		cov := b.covariance(sights, k, inset, func(i int) bool { return of[i] == c })
		for e, v := range vectors {
			if values[e] > heldSigma*heldSigma {
				continue
			}
			s := 0.0
			for i := range k {
				for j := range k {
					s += float64(v[i] * cov[i][j] * v[j])
				}
			}
			if s > heldSigma*heldSigma {
				return false
			}
		}
	}
	return true
}

// covariance returns that of the free motions, mm².
func (b *borderSet) covariance(sights []sight, k int, inset float64, lone func(sight int) bool) [][]float64 {
	a, _ := b.equations(sights, k, inset, lone)
	cov := inverseOf(a)[:k]
	for i := range cov {
		cov[i] = cov[i][:k]
	}
	return cov
}

// inverseOf inverts a symmetric information matrix, mm⁻²; what it does not show at all is known to a metre.
func inverseOf(a [][]float64) [][]float64 {
	values, vectors := geom.EigenSymmetric(a)
	out := make([][]float64, len(a))
	for i := range out {
		out[i] = make([]float64, len(a))
	}
	for e, v := range vectors {
		l := max(values[e], unseen)
		for i := range v {
			for j := range v {
				out[i][j] += float64(v[i] * v[j] / l)
			}
		}
	}
	return out
}

// scattered returns the runs that lie where the others do, inset alike, and their sights.
func scattered(runs []run, sights []sight, k int, inset, sd float64) ([]run, []sight) {
	sum, n := make([]float64, len(runs)), make([]float64, len(runs))
	for _, o := range sights {
		for _, row := range o.rows {
			d := row[k+1] + inset
			sum[o.run] += float64(d * d)
			n[o.run]++
		}
	}
	place := make([]int, len(runs))
	var kept []run
	for i := range runs {
		place[i] = -1
		if n[i] == 0 {
			continue
		}
		if runs[i].left = math.Sqrt(sum[i] / n[i]); runs[i].left <= sd {
			place[i] = len(kept)
			kept = append(kept, runs[i])
		}
	}
	var out []sight
	for _, o := range sights {
		if o.run = place[o.run]; o.run >= 0 {
			out = append(out, o)
		}
	}
	return kept, out
}
