package seamfind

import (
	"context"
	"sync"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/section"
)

// Ground is a mesh made ready for centring paths in its gaps. Goroutines may share it.
type Ground struct {
	mesh  *mesh.Mesh
	tree  *bvh.Tree
	index *section.Index

	looking sync.Mutex
	idle    []*looker
}

// New indexes a mesh. The errors are those of [bvh.Build] and [section.New].
func New(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Ground, error) {
	tree, err := bvh.Build(ctx, m, threads, progress)
	if err != nil {
		return nil, err
	}
	return On(ctx, m, tree)
}

// On is New for a mesh whose tree there is already.
func On(ctx context.Context, m *mesh.Mesh, tree *bvh.Tree) (*Ground, error) {
	index, err := section.New(ctx, m, tree)
	if err != nil {
		return nil, err
	}
	return &Ground{mesh: m, tree: tree, index: index}, nil
}

// outward returns the area-weighted mean direction of the faces about p that look
// roughly along u and lie no deeper or higher than a hem, as at a station; u where there are none.
func (g *Ground) outward(p, u geom.Vec) geom.Vec {
	const reach, height = 20.0, 6.0
	var sum geom.Vec
	g.tree.FacesIn(geom.Box{Lo: p, Hi: p}.Grow(reach), func(f uint32) {
		a, b, c := g.mesh.Corners(f)
		n := b.Sub(a).Cross(c.Sub(a))
		if n.Dot(u) <= 0.5*n.Norm() {
			return
		}
		a, b, c = a.Sub(p), b.Sub(p), c.Sub(p)
		ha, hb, hc := a.Dot(u), b.Dot(u), c.Dot(u)
		low, high := min(ha, hb, hc), max(ha, hb, hc)
		if low > height || high < -height {
			return
		}
		// A face all of whose corners lie near enough has its nearest point there too.
		if low < -height || high > height || max(a.Norm2(), b.Norm2(), c.Norm2()) > reach*reach {
			q, _ := geom.ClosestOnTriangle(geom.Vec{}, a, b, c)
			if h := q.Dot(u); h > height || h < -height || q.Norm2() > reach*reach {
				return
			}
		}
		sum = sum.Add(n)
	})
	if sum == (geom.Vec{}) {
		return u
	}
	return sum.Unit()
}

// Outward returns the direction away from the body at a point on or in a gap of it,
// unit; ok is false where no face lies within 30 mm.
func (g *Ground) Outward(p geom.Vec) (u geom.Vec, ok bool) {
	const reach = 30.0
	var sum geom.Vec
	area := 0.0
	g.tree.FacesIn(geom.Box{Lo: p, Hi: p}.Grow(reach), func(f uint32) {
		a, b, c := g.mesh.Corners(f)
		if max(a.Sub(p).Norm2(), b.Sub(p).Norm2(), c.Sub(p).Norm2()) >= reach*reach {
			if q, _ := geom.ClosestOnTriangle(p, a, b, c); q.Dist(p) >= reach {
				return
			}
		}
		n := b.Sub(a).Cross(c.Sub(a))
		sum, area = sum.Add(n), area+n.Norm()
	})
	if area == 0 {
		return u, false
	}
	u = sum.Unit()
	if sum.Norm() < 0.3*area || u == (geom.Vec{}) { // both skins of a sheet: the one away from the middle
		var best geom.Vec
		away := p.Sub(g.mesh.Bounds().Center()).Unit()
		g.tree.FacesIn(geom.Box{Lo: p, Hi: p}.Grow(reach), func(f uint32) {
			a, b, c := g.mesh.Corners(f)
			if n := b.Sub(a).Cross(c.Sub(a)); n.Dot(away) > 0 {
				best = best.Add(n)
			}
		})
		u = best.Unit()
	}
	return u, u != geom.Vec{}
}

// someAsked returns a direction for every point of a path: those at least every mm apart are asked, and the last, and
// between two that have one it turns evenly, for a mean over 40 or 60 mm hardly changes from place to place. The error is ctx's.
func someAsked(ctx context.Context, path []geom.Vec, every float64, threads int, ask func(i int) (geom.Vec, bool)) (out []geom.Vec, has []bool, err error) {
	out, has = make([]geom.Vec, len(path)), make([]bool, len(path))
	var asked []int
	for i, p := range path {
		if n := len(asked); n == 0 || i == len(path)-1 || p.Dist(path[asked[n-1]]) >= every {
			asked = append(asked, i)
		}
	}
	err = parallel.Chunks(ctx, len(asked), 4, threads, nil, func(_, _, lo, hi int) {
		for _, i := range asked[lo:hi] {
			out[i], has[i] = ask(i)
		}
	})
	for k := 1; k < len(asked); k++ {
		from, to := asked[k-1], asked[k]
		long := path[from].Dist(path[to])
		for i := from + 1; i < to && long > 0 && has[from] && has[to]; i++ {
			out[i] = out[from].Lerp(out[to], min(path[i].Dist(path[from])/long, 1)).Unit()
			has[i] = out[i] != geom.Vec{}
		}
	}
	return out, has, err
}

// outwardEvery and roughlyEvery are how far apart, mm, the places of a path at least lie that are asked for the direction away from
// the body: those from which stations' cuts are read, and those of a path that is to be moved yet, whose means reach farther.
const outwardEvery, roughlyEvery = 15.0, 30.0

// Outwards returns the directions away from the body at the points of a path; where a point has none it is
// that of the point before, at the beginning first. The error is ctx's.
func (g *Ground) Outwards(ctx context.Context, path []geom.Vec, first geom.Vec, threads int) ([]geom.Vec, error) {
	out, has, err := someAsked(ctx, path, roughlyEvery, threads, func(i int) (geom.Vec, bool) { return g.Outward(path[i]) })
	for i := range out {
		if !has[i] {
			out[i] = first
		}
		first = out[i]
	}
	return out, err
}

// Beside returns the seam of the list beside which at least half of a path runs, or -1.
func Beside(path []geom.Vec, list [][]geom.Vec) int {
	for k := range list {
		if near(path, list[k]) || near(list[k], path) {
			return k
		}
	}
	return -1
}

// near reports whether at least half of path's points lie beside another path.
func near(path, other []geom.Vec) bool {
	n := 0
	at, _ := spread(path, make([]geom.Vec, len(path)))
	for _, p := range at {
		if _, far := geom.NearestOnPath(p, other); far < doubleWithin {
			n++
		}
	}
	return len(at) > 0 && 2*n >= len(at)
}
