package pieces

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// blendWidth in mm is over how much of the way in from a piece's border its weight rises to the full.
	blendWidth = 40.0
	// ownMost in mm: farther in than this from where another goes on, a piece is no more the owner.
	ownMost = 400.0
	// goesOn in mm: at a border of one piece another goes on where its own border is farther away.
	goesOn = 5.0
	// goesOnEdges: or so many of its edges.
	goesOnEdges = 3.0
	// besideEdges: a vertex past another piece's border by up to so many edges counts as covered: both
	// end at the same gap.
	besideEdges = 1.5
	// blendLeast and blendMost bound, in mm, how far apart skins are taken for the same sheet.
	blendLeast, blendMost = 3.0, 20.0
	// uncovered is the field's value where no other piece is.
	uncovered = 1e9
	// firstWins in mm settles which of two pieces owns what both hold equally well.
	firstWins = 1e-3
)

// joining is a piece on its way into the joined mesh.
type joining struct {
	*body
	at     []geom.Vec // blended, joined frame
	field  []float64  // by how much, mm, it is the owner: its distance from its border less the others'
	step   []float64  // mm, how far the rival's skin lies over it before blending
	rival  []int16    // the piece that would own else, −1 for none
	raw    []float64  // mm from any border of its own, goesOn's worth at most
	inward []float64  // mm from where another goes on
}

// others lists for a piece the pieces it overlaps, and how far away their skins may lie, mm.
type other struct {
	piece int
	reach float64
}

func (r *Result) others(k int) []other {
	var out []other
	for i := range r.Overlaps {
		o := &r.Overlaps[i]
		l := -1
		switch k {
		case o.A:
			l = o.B
		case o.B:
			l = o.A
		}
		if l < 0 || l >= len(r.Pieces) {
			continue
		}
		reach := max(blendLeast, 2*math.Abs(o.Most.Offset)+float64(noWeight*max(o.Alone, o.After)))
		out = append(out, other{l, min(reach, blendMost)})
	}
	return out
}

// blend works out of every piece where its vertices come to lie and what it owns.
func (r *Result) blend(ctx context.Context, threads int, progress mesh.Progress) ([]*joining, error) {
	n := len(r.Pieces)
	all := make([]*joining, n)
	fans := make([]fan, n)
	// Its errors are ctx's, which the loop returns too.
	err := parallel.Chunks(ctx, n, 1, threads, progress.Part(0, 0.2), func(_, k, _, _ int) {
		all[k] = &joining{body: r.nodes[k]}
		fans[k] = newFan(all[k].mesh)
		rim, _ := rimOf(ctx, all[k].mesh)
		var seeds []uint32
		for v, on := range rim {
			if on {
				seeds = append(seeds, uint32(v))
			}
		}
		all[k].raw, _ = farFrom(ctx, all[k].mesh, &fans[k], seeds, max(goesOn, goesOnEdges*all[k].spacing)*1.01)
	})
	if err != nil {
		return nil, err
	}
	seeds := make([][]uint32, n)
	for k := range all {
		if seeds[k], err = r.endsInside(ctx, all, k, threads); err != nil {
			return nil, err
		}
	}
	err = parallel.Chunks(ctx, n, 1, threads, progress.Part(0.2, 0.5), func(_, k, _, _ int) {
		// Its error is ctx's, which the loop returns too.
		all[k].inward, _ = farFrom(ctx, all[k].mesh, &fans[k], seeds[k], ownMost)
	})
	if err != nil {
		return nil, err
	}
	for k := range all {
		if err := r.own(ctx, all, k, threads); err != nil {
			return nil, err
		}
		progress.Report(0.5 + 0.5*float64(k+1)/float64(n))
	}
	return all, nil
}

// endsInside returns the border vertices of a piece at which another goes on.
func (r *Result) endsInside(ctx context.Context, all []*joining, k, threads int) ([]uint32, error) {
	j := all[k]
	var border []uint32
	for v, far := range j.raw {
		if far == 0 {
			border = append(border, uint32(v))
		}
	}
	ends := make([]bool, len(border))
	for _, o := range r.others(k) {
		l := all[o.piece]
		find := l.finders(threads)
		to := r.Pieces[o.piece].JoinedFromPiece.Inverse().After(r.Pieces[k].JoinedFromPiece)
		most := max(goesOn, goesOnEdges*l.spacing)
		err := parallel.Chunks(ctx, len(border), sampleRun, threads, nil, func(worker, _, lo, hi int) {
			for i := lo; i < hi; i++ {
				v := border[i]
				if ends[i] || j.normals[v] == (geom.Vec{}) {
					continue
				}
				hit, ok := find[worker].ClosestFacing(to.Apply(j.mesh.Vertices[v]), to.ApplyDir(j.normals[v]), cosPair, o.reach)
				if ok && !hit.Border && within(l.mesh, hit.Face, hit.Point, l.raw) >= most {
					ends[i] = true
				}
			}
		})
		if err != nil {
			return nil, err
		}
	}
	var out []uint32
	for i, e := range ends {
		if e {
			out = append(out, border[i])
		}
	}
	return out, nil
}

// rise is the weight of a piece some way in from its border, mm: 0 at it, 1 from blendWidth on, smooth.
func rise(inward float64) float64 {
	s := min(max(inward/blendWidth, 0), 1)
	return float64(float64(s*s) * (3 - 2*s))
}

// own blends one piece's vertices with the other pieces and finds what it owns.
func (r *Result) own(ctx context.Context, all []*joining, k, threads int) error {
	j := all[k]
	n := len(j.mesh.Vertices)
	pose := r.Pieces[k].JoinedFromPiece
	j.at, j.field, j.step, j.rival = make([]geom.Vec, n), make([]float64, n), make([]float64, n), make([]int16, n)
	weight, push := make([]float64, n), make([]float64, n)
	for v := range n {
		j.field[v], j.rival[v] = uncovered, -1
		weight[v] = rise(j.inward[v])
	}
	best := make([]float64, n)
	for _, o := range r.others(k) {
		l := all[o.piece]
		find := l.finders(threads)
		to := r.Pieces[o.piece].JoinedFromPiece.Inverse().After(pose)
		box := l.box.Grow(o.reach)
		first := firstWins
		if o.piece < k {
			first = -firstWins
		}
		beside := besideEdges * max(j.spacing, l.spacing)
		err := parallel.Chunks(ctx, n, 4096, threads, nil, func(worker, _, lo, hi int) {
			for v := lo; v < hi; v++ {
				p := to.Apply(j.mesh.Vertices[v])
				if j.normals[v] == (geom.Vec{}) || !box.Contains(p) {
					continue
				}
				normal := to.ApplyDir(j.normals[v])
				hit, ok := find[worker].ClosestFacing(p, normal, cosPair, o.reach)
				if !ok {
					continue
				}
				d := hit.Point.Sub(p)
				over := d.Dot(normal)
				if hit.Border && d.AddScaled(-over, normal).Norm() > beside {
					continue
				}
				inward := within(l.mesh, hit.Face, hit.Point, l.inward)
				if !hit.Border || hit.Normal.Dot(normal) > likeNormal {
					w := rise(inward)
					weight[v] += w
					push[v] += float64(w * over)
				}
				if j.rival[v] < 0 || inward > best[v] {
					best[v], j.rival[v], j.step[v] = inward, int16(o.piece), over
					j.field[v] = j.inward[v] - inward + first
				}
			}
		})
		if err != nil {
			return err
		}
	}
	for v, p := range j.mesh.Vertices {
		q := pose.Apply(p)
		if weight[v] > 0 && push[v] != 0 {
			q = q.AddScaled(push[v]/weight[v], pose.ApplyDir(j.normals[v]))
		}
		j.at[v] = q
	}
	return ctx.Err()
}
