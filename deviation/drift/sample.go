package drift

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

const (
	// leastSamples are needed: ten for each unknown.
	leastSamples = 10 * columns
	run          = 2048
)

// sample is a scan point and what it is compared with.
type sample struct {
	p, facing geom.Vec // as placed
	area      float64  // mm² that it stands for
	q, n      geom.Vec // the reference's skin, local, n unit
	d         float64  // mm, from the curved skin
	piece     uint32   // of the scan, as far as its faces tell
	ok        bool
	chord     float64 // mm: how well the reference's facets tell where the skin is there; infinite beside edges
}

// piecesOf returns which points hang together by faces; nil where none are known.
func piecesOf(in *Input) mesh.Sets {
	if len(in.Faces) == 0 {
		return nil
	}
	sets := mesh.NewSets(len(in.Points))
	for _, f := range in.Faces {
		sets.Join(f[0], f[1])
		sets.Join(f[1], f[2])
	}
	return sets
}

// unitHash returns a number in [0, 1) of k (SplitMix64's last steps, Steele, Lea & Flood 2014).
func unitHash(k uint64) float64 {
	z := (k + 1) * 0x9e3779b97f4a7c15
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(float64(z>>11) / (1 << 53))
}

// facingCos: only faces within 60 degrees of the point's normal count, as in a deviation.
const facingCos = 0.5

// pastEdge, mm square to the normal: what lies farther from a border of the reference runs past the part.
const pastEdge = 0.05

// chordKnown, mm: where two readings of a facet's chord agree so well, the place of the skin is known.
const chordKnown = 0.01

// leastKnown is the share of the area that stays, however coarse the facets.
const leastKnown = 0.4

// leaveCoarse leaves out samples beside edges and on facets too coarse to tell where the curved skin is, since chords
// make every body look larger, and returns how well the skin's place is known where it stays, mm.
func leaveCoarse(list []sample) (left []sample, known float64) {
	order := make([]int, 0, len(list))
	total := 0.0
	for i := range list {
		if list[i].ok {
			order = append(order, i)
			total += list[i].area
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(list[a].chord, list[b].chord) })
	known = chordKnown
	at := 0.0
	for _, i := range order {
		if at += list[i].area; at >= float64(leastKnown*total) {
			known = max(known, list[i].chord)
			break
		}
	}
	for _, s := range list {
		if s.ok && s.chord <= known {
			left = append(left, s)
		}
	}
	if math.IsInf(known, 1) {
		known = coarsest
	}
	return left, known
}

// coarsest, mm, is what the skin's place is known to where no facet tells it: what a coarse export is off by.
const coarsest = 0.1

// look measures the samples against the skin after the displacement by was taken
// out of them; what lies at a border of the reference has no place of its own.
func look(ctx context.Context, list []sample, f *Frame, by *row, ref *surface.Surface, reach float64, threads int) error {
	skin := ref.Skin(threads)
	finders := make([]*surface.Finder, parallel.Threads(threads))
	return parallel.Chunks(ctx, len(list), run, threads, nil, func(worker, _, lo, hi int) {
		near := finders[worker]
		if near == nil {
			near = ref.NewFinder()
			finders[worker] = near
		}
		for i := lo; i < hi; i++ {
			s := &list[i]
			p := s.p
			if f != nil {
				from := s.p
				if s.ok {
					from = f.Centre.Add(f.global(s.q))
				}
				p = p.Sub(f.displaced(from, by))
			}
			var hit surface.Hit
			if s.facing == (geom.Vec{}) {
				hit, s.ok = near.Closest(p, reach)
			} else {
				hit, s.ok = near.ClosestFacing(p, s.facing, facingCos, reach)
			}
			if !s.ok {
				continue
			}
			rise, n, smooth := skin.At(hit.Face, hit.Point)
			if !smooth {
				n = hit.Normal
			}
			off := p.Sub(hit.Point)
			along := off.Dot(hit.Normal)
			if hit.Border && off.AddScaled(-along, hit.Normal).Norm() > pastEdge {
				s.ok = false
				continue
			}
			s.d = hit.Distance
			if along < 0 {
				s.d = -s.d
			}
			s.chord = math.Inf(1)
			if unsure, known := skin.Unsure(hit.Face, hit.Point); smooth && known {
				s.chord = unsure
			}
			s.d -= rise
			if f != nil {
				s.d -= by[proud]
			}
			s.q, s.n = hit.Point, n
			if n == (geom.Vec{}) {
				s.ok = false
			}
			if f != nil {
				s.q = f.local(hit.Point)
				s.n = geom.Vec{X: n.Dot(f.Axes[0]), Y: n.Dot(f.Axes[1]), Z: n.Dot(f.Axes[2])}
			}
		}
	})
}

// frameOf returns the frame of the samples, whose q are in the reference's frame.
func frameOf(list []sample) (Frame, bool) {
	var c geom.Vec
	total := 0.0
	for i := range list {
		if s := &list[i]; s.ok {
			c = c.AddScaled(s.area, s.q)
			total += s.area
		}
	}
	if !(total > 0) {
		return Frame{}, false
	}
	f := Frame{Centre: c.Scale(1 / total)}
	var m [3][3]float64
	for i := range list {
		s := &list[i]
		if !s.ok {
			continue
		}
		d := s.q.Sub(f.Centre)
		for r := range 3 {
			for k := range 3 {
				m[r][k] += float64(s.area * float64(d.At(r)*d.At(k)))
			}
		}
	}
	f.Axes = principal(m)
	lo, hi := [3]float64{math.Inf(1), math.Inf(1), math.Inf(1)}, [3]float64{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	for i := range list {
		if s := &list[i]; s.ok {
			q := f.local(s.q)
			for k := range 3 {
				lo[k], hi[k] = min(lo[k], q.At(k)), max(hi[k], q.At(k))
			}
		}
	}
	for k := range 3 {
		// A flat part has no extent across: its terms there are not held, but stay finite.
		f.Size[k] = max(hi[k]-lo[k], flattest*(hi[0]-lo[0]))
	}
	return f, f.Size[0] > 0
}

// flattest is the least extent along an axis that terms are scaled by, as a share of the length.
const flattest = 0.01

// principal returns the axes of a moment matrix, the largest first (Jacobi's
// rotations; Golub & Van Loan, "Matrix Computations", 8.5).
func principal(a [3][3]float64) [3]geom.Vec {
	v := geom.Identity3()
	for range 30 {
		for _, pq := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
			p, q := pq[0], pq[1]
			if a[p][q] == 0 {
				continue
			}
			theta := (a[q][q] - a[p][p]) / (2 * a[p][q])
			t := 1 / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
			if theta < 0 {
				t = -t
			}
			c := 1 / math.Sqrt(float64(t*t)+1)
			s := t * c
			r := geom.Identity3()
			r[p][p], r[q][q], r[p][q], r[q][p] = c, c, s, -s
			a = [3][3]float64(geom.Mat3(r).Transpose().Mul(geom.Mat3(a)).Mul(geom.Mat3(r)))
			v = v.Mul(geom.Mat3(r))
		}
	}
	order := [3]int{0, 1, 2}
	for i := 1; i < 3; i++ {
		for k := i; k > 0 && a[order[k]][order[k]] > a[order[k-1]][order[k-1]]; k-- {
			order[k], order[k-1] = order[k-1], order[k]
		}
	}
	var out [3]geom.Vec
	for k := range 2 {
		i := order[k]
		d := geom.Vec{X: v[0][i], Y: v[1][i], Z: v[2][i]}.Unit()
		largest := d.X
		for _, x := range [2]float64{d.Y, d.Z} {
			if math.Abs(x) > math.Abs(largest) {
				largest = x
			}
		}
		if largest < 0 {
			d = d.Neg()
		}
		out[k] = d
	}
	out[2] = out[0].Cross(out[1]).Unit()
	return out
}
