package main

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"shutline/deviation/pieces"
	"shutline/mesh/geom"
	"shutline/mesh/scanpath"
)

// pointTie says that two places, each in the frame of its piece, are the same.
type pointTie struct {
	a, b   int // pieces; −1: the truth
	pa, pb geom.Vec
	n      geom.Vec // how it is seen: along this alone; the zero vector: in all three
}

// looks are the directions a tie is seen along.
func (t *pointTie) looks() []geom.Vec {
	if t.n != (geom.Vec{}) {
		return []geom.Vec{t.n}
	}
	return []geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}
}

// leastPoints moves pieces, of which the first stays where stays is true, so that tied points come together with the least sum of squares:
// Gauss-Newton on six motions each.
func leastPoints(n int, ties []pointTie, stays bool) []geom.Rigid {
	const lever, rounds = 1000.0, 8
	poses := make([]geom.Rigid, n)
	for k := range poses {
		poses[k] = geom.Identity()
	}
	for range rounds {
		size := 6 * n
		normal, right := make([][]float64, size), make([]float64, size)
		for i := range normal {
			normal[i] = make([]float64, size)
			normal[i][i] = 1e-9
			if stays && i < 6 {
				normal[i][i] = 1e12
			}
		}
		for _, t := range ties {
			p, q := t.pa, t.pb
			if t.a >= 0 {
				p = poses[t.a].Apply(p)
			}
			if t.b >= 0 {
				q = poses[t.b].Apply(q)
			}
			for _, n := range t.looks() {
				var columns []int
				var values []float64
				for side, node := range [2]int{t.a, t.b} {
					if node < 0 {
						continue
					}
					at, sign := p, 1.0
					if side == 1 {
						at, sign = q, -1
					}
					m := at.Cross(n).Scale(1 / lever)
					for k, v := range [6]float64{n.X, n.Y, n.Z, m.X, m.Y, m.Z} {
						if v != 0 {
							columns, values = append(columns, 6*node+k), append(values, sign*v)
						}
					}
				}
				e := p.Sub(q).Dot(n)
				for i, ci := range columns {
					right[ci] -= values[i] * e
					for j, cj := range columns {
						normal[ci][cj] += values[i] * values[j]
					}
				}
			}
		}
		x := cholesky(normal, right)
		for k := range poses {
			d := x[6*k : 6*k+6]
			g := geom.RotationVector(geom.Vec{X: d[3] / lever, Y: d[4] / lever, Z: d[5] / lever})
			g.T = geom.Vec{X: d[0], Y: d[1], Z: d[2]}
			poses[k] = g.After(poses[k]).Orthonormal()
		}
	}
	return poses
}

// cholesky solves a positive system, which it overwrites.
func cholesky(m [][]float64, b []float64) []float64 {
	n := len(b)
	for i := range n {
		for j := range i + 1 {
			s := m[i][j]
			for k := range j {
				s -= m[i][k] * m[j][k]
			}
			if i == j {
				m[i][i] = math.Sqrt(s)
			} else {
				m[i][j] = s / m[j][j]
			}
		}
	}
	x := append([]float64(nil), b...)
	for i := range n {
		for k := range i {
			x[i] -= m[i][k] * x[k]
		}
		x[i] /= m[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= m[k][i] * x[k]
		}
		x[i] /= m[i][i]
	}
	return x
}

// byTruePlaces joins pieces by the places that the simulator knows to be the same, without noise: what the pieces' own drift allows. inAll: in
// all three directions, as markers all over the overlaps would; else along the skin's normal, which is all that skins show of one another.
// One place of so many as every says is taken.
func byTruePlaces(s *scanpath.Scan, inAll bool, every int) []geom.Rigid {
	var ties []pointTie
	for _, o := range s.Overlaps() {
		ties = append(ties, trueTies(s, &o, inAll, every)...)
	}
	return leastPoints(len(s.Pieces), ties, true)
}

// trueTies are the places that an overlap's pieces both see, see [byTruePlaces].
func trueTies(s *scanpath.Scan, o *scanpath.Overlap, inAll bool, every int) (ties []pointTie) {
	for k := 0; k < len(o.Places); k += every {
		pl := o.Places[k]
		a, okA := s.Carried(o.A, pl[0])
		b, okB := s.Carried(o.B, pl[1])
		if okA && okB {
			t := pointTie{a: o.A, b: o.B, pa: a, pb: b}
			if !inAll {
				_, t.n = s.Drawn.At(pl[0])
			}
			ties = append(ties, t)
		}
	}
	return ties
}

// driftAllows is how far joined pieces lie from the truth, RMS in mm, for what the scanner drifts alone.
type driftAllows struct{ points, skins, chain float64 }

// allowedEvery of the places suffice for that.
const allowedEvery = 5

// whatDriftAllows joins pieces of scans without noise by places known to be the same: in all directions, along the normals as skins show
// them, and by skins in a chain.
func whatDriftAllows(ctx context.Context, o trustOptions, scans int) (a driftAllows, err error) {
	var points, skins, chain []float64
	for run := range scans {
		random := rand.New(rand.NewPCG(o.seed, 4<<40|uint64(run)))
		s, err := scanpath.New(ctx, scanpath.Options{Seed: random.Uint64(), Triangles: 6000, Pieces: joinPieces, FromMiddle: true, Still: true, Drift: scanpath.GoodScanner(), Noise: -1, Threads: o.threads}, nil)
		if err != nil {
			return a, err
		}
		for _, way := range []struct {
			list  *[]float64
			poses []geom.Rigid
		}{{&points, byTruePlaces(s, true, allowedEvery)}, {&skins, byTruePlaces(s, false, allowedEvery)}, {&chain, chainByTruePlaces(s)}} {
			rms, _ := placeError(s, way.poses)
			*way.list = append(*way.list, rms)
		}
	}
	return driftAllows{rootMean(points), rootMean(skins), rootMean(chain)}, nil
}

// chainByTruePlaces lays the pieces on one another one by one along their normals, each by the largest overlap of those that hold it.
func chainByTruePlaces(s *scanpath.Scan) []geom.Rigid {
	const leastHeld = 5e-4 // eigenvalue of the mean J Jᵀ, turns at half the diagonal
	overlaps := s.Overlaps()
	ties := make([][]pointTie, len(overlaps))
	for k := range overlaps {
		t := trueTies(s, &overlaps[k], false, allowedEvery)
		box := geom.EmptyBox()
		for _, p := range t {
			box = box.Extend(p.pb)
		}
		var hold geom.Mat6
		for _, p := range t {
			m := p.pb.Sub(box.Center()).Scale(2 / box.Diagonal()).Cross(p.n)
			j := geom.Vec6{p.n.X, p.n.Y, p.n.Z, m.X, m.Y, m.Z}
			hold.AddOuter(1/float64(len(t)), &j, &j)
		}
		if values, _ := hold.Eigen(); slices.Min(values[:]) >= leastHeld {
			ties[k] = t
		}
	}
	poses := make([]geom.Rigid, len(s.Pieces))
	done := make([]bool, len(s.Pieces))
	poses[0], done[0] = geom.Identity(), true
	for {
		best := -1
		for k, o := range overlaps {
			if done[o.A] != done[o.B] && len(ties[k]) > 0 && (best < 0 || len(ties[k]) > len(ties[best])) {
				best = k
			}
		}
		if best < 0 {
			return poses
		}
		o := overlaps[best]
		to, from := o.A, o.B
		if done[o.B] {
			to, from = o.B, o.A
		}
		two := slices.Clone(ties[best])
		for k := range two {
			t := &two[k]
			if done[o.B] {
				t.pa, t.pb = t.pb, t.pa
			}
			t.a, t.b = 0, 1
		}
		poses[from], done[from] = poses[to].After(leastPoints(2, two, true)[1]), true
	}
}

// jackknifed returns the standard error of the ratio of two root means over the same runs (Quenouille 1956; Tukey 1958).
func jackknifed(top, bottom []float64) float64 {
	n := len(top)
	var without []float64
	mean := 0.0
	for k := range top {
		r := rootMean(slices.Delete(slices.Clone(top), k, k+1)) / rootMean(slices.Delete(slices.Clone(bottom), k, k+1))
		without, mean = append(without, r), mean+r/float64(n)
	}
	sum := 0.0
	for _, r := range without {
		sum += (r - mean) * (r - mean)
	}
	return math.Sqrt(sum * float64(n-1) / float64(n))
}

// inChain lays the pieces on one another one by one, each by the overlap that holds most motions and is largest.
func inChain(r *pieces.Result, loaded []geom.Rigid) []geom.Rigid {
	n := len(r.Pieces)
	poses := make([]geom.Rigid, n)
	done := make([]bool, n)
	poses[0], done[0] = geom.Identity(), true
	for {
		var best *pieces.Overlap
		for i := range r.Overlaps {
			o := &r.Overlaps[i]
			if done[o.A] != done[o.B] && (best == nil || len(o.Free) < len(best.Free) || len(o.Free) == len(best.Free) && o.Area > best.Area) {
				best = o
			}
		}
		if best == nil {
			break
		}
		if done[best.B] {
			poses[best.A] = poses[best.B].After(best.BFromA)
		} else {
			poses[best.B] = poses[best.A].After(best.BFromA.Inverse())
		}
		done[best.A], done[best.B] = true, true
	}
	for k := range poses {
		poses[k] = poses[k].After(loaded[k])
	}
	return poses
}

// placeError returns how far joined pieces lie from the truth after one rigid motion of them all, RMS in mm, and, relative to the first piece's
// own best place, how far each piece's worst corner is from its own best place.
func placeError(s *scanpath.Scan, poses []geom.Rigid) (rms float64, far []float64) {
	const looked = 1500
	var all []pointTie
	own := make([]geom.Rigid, len(poses))
	for k := range s.Pieces {
		p := &s.Pieces[k]
		var ties []pointTie
		for v := 0; v < len(p.True); v += len(p.True)/looked + 1 {
			ties = append(ties, pointTie{a: 0, b: -1, pa: poses[k].Apply(p.Clean[v]), pb: p.True[v]})
		}
		own[k] = leastPoints(1, ties, false)[0]
		all = append(all, ties...)
	}
	g := leastPoints(1, all, false)[0]
	for _, t := range all {
		d := g.Apply(t.pa).Sub(t.pb)
		rms += d.Norm2()
	}
	for k := range s.Pieces {
		box := geom.EmptyBox()
		for _, c := range s.Pieces[k].Mesh.Bounds().Corners() {
			box = box.Extend(poses[k].Apply(c))
		}
		far = append(far, geom.MaxDisplacement(own[0], own[k], box))
	}
	return math.Sqrt(rms / float64(len(all))), far
}

// rootMean returns the root of the mean square.
func rootMean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(max(len(x), 1)))
}
