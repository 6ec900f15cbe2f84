package drift

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// spotsAcross is how many spots a cell has along a side: some millimetres on a van's side, what neighbours share their noise over.
	spotsAcross = 20
	// turnsAlike is the side of the cubes that unit normals in one spot lie in: 20 degrees. A rollover turns by more within a millimetre or two.
	turnsAlike = 0.35
	// mostSpots of a cell are told apart, as its covariance is dear.
	mostSpots = 300
)

// spot is the mean of a cell's samples that lie and face alike.
type spot struct {
	j  row
	d  float64 // mm
	n  float64 // samples
	at geom.Vec
}

type spotKey struct{ x, y, z, nx, ny, nz int32 }

// spotsOf gathers the spots of the cells that are not out, by cell, in the order of first appearance; keep as for cellsOf.
func spotsOf(ctx context.Context, list []sample, cells []cell, f *Frame, h float64, keep func(s *sample) bool, threads int) ([][]spot, error) {
	at := map[cellKey]int{}
	for i := range cells {
		if !cells[i].out {
			at[cells[i].key] = i
		}
	}
	in := make([][]int, len(cells))
	for i := range list {
		s := &list[i]
		if !s.ok || keep != nil && !keep(s) || i > 0 && list[i-1].p == s.p && list[i-1].ok && s.p != (geom.Vec{}) {
			continue // a point that stands for several shares errs as one
		}
		if c, is := at[keyOf(s, h)]; is {
			in[c] = append(in[c], i)
		}
	}
	spots := make([][]spot, len(cells))
	err := parallel.Chunks(ctx, len(cells), cellRun, threads, nil, func(_, _, lo, hi int) {
		for c := lo; c < hi; c++ {
			for side := h / spotsAcross; ; side *= 1.5 {
				if spots[c] = spotsIn(list, in[c], f, side); len(spots[c]) <= mostSpots || side > h {
					break
				}
			}
		}
	})
	return spots, err
}

// cellRun is how many cells a thread takes at a time.
const cellRun = 8

func spotsIn(list []sample, in []int, f *Frame, side float64) (out []spot) {
	index := make(map[spotKey]int, len(in))
	cube := func(v, side float64) int32 { return int32(math.Floor(v / side)) }
	for _, i := range in {
		s := &list[i]
		key := spotKey{cube(s.q.X, side), cube(s.q.Y, side), cube(s.q.Z, side), cube(s.n.X, turnsAlike), cube(s.n.Y, turnsAlike), cube(s.n.Z, turnsAlike)}
		k, known := index[key]
		if !known {
			k = len(out)
			index[key] = k
			out = append(out, spot{})
		}
		o := &out[k]
		j := f.rowAt(s.q, s.n)
		for m := range columns {
			o.j[m] += j[m]
		}
		o.d += s.d
		o.at = o.at.Add(s.q)
		o.n++
	}
	for k := range out {
		o := &out[k]
		for m := range columns {
			o.j[m] /= o.n
		}
		o.d /= o.n
		o.at = o.at.Scale(1 / o.n)
	}
	return out
}

// sharing is how samples share their noise: a share of each one's variance hangs together, as exp(-(distance/reach)²).
type sharing struct {
	share float64
	reach float64 // mm
}

// The sharings tried; reaches are shares of a cell's side.
var (
	sharedShares  = [...]float64{0.1, 0.3, 0.6, 0.85}
	sharedReaches = [...]float64{1.0 / 32, 1.0 / 16, 1.0 / 11, 1.0 / 8, 1.0 / 4}
)

// noShare is where exp(-(distance/reach)²) counts as nothing: under a millionth.
const noShare = 3.75

// mostTelling cells tell how noise is shared.
const mostTelling = 48

// within is what the spots of the cells tell beside the cells' means, by least squares weighted by how noise is shared: of what is left of
// each cell's spots beside a plane.
// A cell's mean tells nothing of how the normals turn inside of it: over a crease or a swage, which hold what moves along a skin, they turn
// within some millimetres. What a panel's own shape adds is as good as plane over a cell, and what hangs together over more than that is
// told by the means.
type within struct {
	a        square // lower triangle, in units of one over a sample's variance
	b        row
	variance float64 // mm², of a sample as the spots scatter; 0: too few tell
	free     int
	mean     float64 // of the cells' own variances, in units of a sample's
}

// leastSpots of a cell tell more than the plane that is taken out of them.
const leastSpots = 6

// told is what the spots of one cell tell.
type told struct {
	a       square
	b       row
	squares float64
	free    int
	d       float64 // mm, the mean by least squares
	j       row
	own     float64 // variance of d in units of a sample's
	logs    float64 // of the determinants
	ok      bool
}

// sharingOf returns the sharing that the spots' scatter in their cells, beside a plane, makes likeliest (restricted likelihood, as for cells).
func sharingOf(ctx context.Context, spots [][]spot, cells []cell, h float64, threads int) (sharing, error) {
	var telling []int
	for c := range spots {
		if len(spots[c]) >= leastSpots {
			telling = append(telling, c)
		}
	}
	// Cells of all densities, each as often as it is met.
	slices.SortStableFunc(telling, func(a, b int) int { return cmp.Compare(len(spots[b]), len(spots[a])) })
	if n := len(telling); n > mostTelling {
		for i := range mostTelling {
			telling[i] = telling[i*n/mostTelling]
		}
		telling = telling[:mostTelling]
	}
	tried := []sharing{{0, h}}
	for _, r := range sharedReaches {
		for _, s := range sharedShares {
			tried = append(tried, sharing{s, r * h})
		}
	}
	score := make([]float64, len(tried))
	err := parallel.Chunks(ctx, len(tried), 1, threads, nil, func(_, _, lo, hi int) {
		for k := lo; k < hi; k++ {
			squares, logs, free := 0.0, 0.0, 0
			for _, c := range telling {
				t := tell(spots[c], &cells[c], tried[k], true)
				if !t.ok {
					logs = math.Inf(1)
					break
				}
				squares += t.squares
				logs += t.logs
				free += t.free
			}
			if free > 0 {
				score[k] = float64(float64(free)*logOf(max(squares/float64(free), leastVariance))) + logs
			}
		}
	})
	best := 0
	for k := range score {
		if score[k] < score[best] {
			best = k
		}
	}
	return tried[best], err
}

// finely gathers the spots of the cells, tells how they share their noise, and returns what they tell as refined does.
func finely(ctx context.Context, list []sample, cells []cell, f *Frame, h float64, keep func(s *sample) bool, threads int) ([]cell, within, error) {
	spots, err := spotsOf(ctx, list, cells, f, h, keep, threads)
	if err != nil {
		return nil, within{}, err
	}
	how, err := sharingOf(ctx, spots, cells, h, threads)
	if err != nil {
		return nil, within{}, err
	}
	return refined(ctx, spots, cells, how, threads)
}

// refined returns the cells with the means that the spots tell best and what they tell beside them.
func refined(ctx context.Context, spots [][]spot, cells []cell, how sharing, threads int) (out []cell, inside within, err error) {
	all := make([]told, len(cells))
	err = parallel.Chunks(ctx, len(cells), cellRun, threads, nil, func(_, _, lo, hi int) {
		for c := lo; c < hi; c++ {
			if len(spots[c]) > 0 {
				all[c] = tell(spots[c], &cells[c], how, false)
			}
		}
	})
	out = make([]cell, len(cells))
	copy(out, cells)
	squares, n := 0.0, 0.0
	for c := range all {
		t := &all[c]
		if cells[c].out {
			continue
		}
		if !t.ok {
			out[c].out = true
			continue
		}
		out[c].d, out[c].j, out[c].own = t.d, t.j, t.own
		inside.mean += t.own
		n++
		if len(spots[c]) < leastSpots {
			continue
		}
		for r := range columns {
			for k := range r + 1 {
				inside.a[r][k] += t.a[r][k]
			}
			inside.b[r] += t.b[r]
		}
		squares += t.squares
		inside.free += t.free
	}
	inside.mean /= max(n, 1)
	if inside.free < leastCells {
		return out, within{mean: inside.mean}, err
	}
	inside.variance = squares / float64(inside.free)
	return out, inside, err
}

// The columns of a cell's spots: those of the motions and shapes, the deviation, and a plane: one, and how far across and along the cell.
const planeColumn, spotColumns = columns + 1, columns + 4

// tell weighs the spots of a cell by how they share their noise, and parts what they tell into their mean, a plane and the rest.
// The score alone asks for less.
func tell(spots []spot, c *cell, how sharing, score bool) (t told) {
	n := len(spots)
	v := how.over(spots)
	if !choleskyOf(v, n) {
		return t
	}
	first := 0
	if score {
		first = columns // the deviation and the plane alone
	}
	rows, reach := laid(spots, c)
	t.logs = whitened(rows, v, first)
	used, weight := 0, 0.0
	for k := planeColumn; k < spotColumns; k++ {
		own := 0.0
		for i := range n {
			own += float64(rows[i][k] * rows[i][k])
		}
		if k == planeColumn {
			weight = own
		} else if own < 1e-4*float64(weight*float64(reach*reach)) {
			continue // the spots lie on a line, or at a point
		}
		used++
		t.logs += logOf(own)
		for m := first; m < spotColumns; m++ {
			if m >= planeColumn && m <= k {
				continue
			}
			dot := takeOut(rows, k, m, own)
			if k == planeColumn {
				switch {
				case m < columns:
					t.j[m] = dot
				case m == columns:
					t.d = dot
				}
			}
		}
	}
	t.ok, t.own, t.free = true, 1/weight, max(n-used, 0)
	for i := range n {
		d := rows[i][columns]
		t.squares += float64(d * d)
		if score {
			continue
		}
		j := row(rows[i][:columns])
		addOuter(&t.a, 1, &j)
		for m := range columns {
			t.b[m] += float64(d * j[m])
		}
	}
	return t
}

// over is the covariance of spots, in units of a sample's variance: the lower triangle.
func (how *sharing) over(spots []spot) []float64 {
	n := len(spots)
	v := make([]float64, n*n)
	far := float64(noShare * noShare * how.reach * how.reach)
	for i := range n {
		for k := range i {
			if d2 := spots[i].at.Sub(spots[k].at).Norm2(); how.share > 0 && d2 < far {
				v[i*n+k] = float64(how.share * geom.Pow(euler, -d2/float64(how.reach*how.reach)))
			}
		}
		v[i*n+i] = how.share + (1-how.share)/spots[i].n
	}
	return v
}

// laid are the columns of spots, and how far they reach from their cell's middle over it, mm.
func laid(spots []spot, c *cell) (rows [][spotColumns]float64, reach float64) {
	u, w := 0, 1
	switch c.key.side % 3 {
	case 0:
		u, w = 1, 2
	case 1:
		u, w = 0, 2
	}
	rows = make([][spotColumns]float64, len(spots))
	for i := range rows {
		r := &rows[i]
		copy(r[:columns], spots[i].j[:])
		r[columns] = spots[i].d
		q := spots[i].at.Sub(c.at)
		r[planeColumn], r[planeColumn+1], r[planeColumn+2] = 1, q.At(u), q.At(w)
		reach = max(reach, math.Abs(q.At(u)), math.Abs(q.At(w)))
	}
	return rows, reach
}

// whitened solves for the columns from the first on by a Cholesky factor, so that their noise is one and apart, and returns the logarithm of the
// covariance's determinant.
func whitened(rows [][spotColumns]float64, v []float64, first int) (logs float64) {
	n := len(rows)
	for i := range n {
		r := &rows[i]
		for k := range i {
			if l := v[i*n+k]; l != 0 {
				b := &rows[k]
				for m := first; m < spotColumns; m++ {
					r[m] -= float64(l * b[m])
				}
			}
		}
		d := v[i*n+i]
		for m := first; m < spotColumns; m++ {
			r[m] /= d
		}
		logs += 2 * logOf(d)
	}
	return logs
}

// takeOut takes out of column m what column k, whose square is own, explains, and returns by how much of k that is.
func takeOut(rows [][spotColumns]float64, k, m int, own float64) float64 {
	dot := 0.0
	for i := range rows {
		dot += float64(rows[i][k] * rows[i][m])
	}
	dot /= own
	for i := range rows {
		rows[i][m] -= float64(dot * rows[i][k])
	}
	return dot
}
