package deviation

import (
	"context"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// regions joins points of a class on one side that are connected by edges.
type regions struct {
	mesh  *mesh.Mesh
	areas []float64
	class []int8
	value []float64
	limit func(i int) verdict.Tolerance // beyond which a value's excess counts

	points     []uint32 // of any class, rising
	index      []uint32 // of a point in points
	near, core mesh.Sets
}

// findRegions returns the regions of three points and more, not sorted, without state and value.
func findRegions(ctx context.Context, m *mesh.Mesh, areas []float64, class []int8, value []float64, limit func(int) verdict.Tolerance) (Clusters, error) {
	g := regions{mesh: m, areas: areas, class: class, value: value, limit: limit}
	for i, c := range class {
		if c != inTolerance {
			g.points = append(g.points, uint32(i))
		}
	}
	if len(g.points) == 0 || len(m.Faces) == 0 {
		return Clusters{}, ctx.Err()
	}
	g.index = make([]uint32, len(class))
	for k, i := range g.points {
		g.index[i] = uint32(k)
	}
	g.near, g.core = mesh.NewSets(len(g.points)), mesh.NewSets(len(g.points))
	for k := range m.Faces {
		if k%faceRun == 0 && ctx.Err() != nil {
			return Clusters{}, ctx.Err()
		}
		t := &m.Faces[k]
		g.join(t[0], t[1])
		g.join(t[1], t[2])
		g.join(t[2], t[0])
	}
	return g.gather(ctx)
}

func (g *regions) join(a, b uint32) {
	ca, cb := g.class[a], g.class[b]
	if ca == inTolerance || cb == inTolerance || (ca < 0) != (cb < 0) {
		return
	}
	g.near.Join(g.index[a], g.index[b])
	if (ca == beyondByU || ca == -beyondByU) && ca == cb {
		g.core.Join(g.index[a], g.index[b])
	}
}

// gather draws the figures of the regions, in the order of their first points.
func (g *regions) gather(ctx context.Context) (Clusters, error) {
	slot := make([]int32, len(g.points)) // of a root, one more than its place in list
	var list [][]uint32
	core := make([]int, len(g.points)) // points, by root of the core
	for k, i := range g.points {
		c := g.class[i]
		if c == beyondByU || c == -beyondByU {
			core[g.core.Root(uint32(k))]++
		}
		if c == joining || c == -joining {
			continue
		}
		r := g.near.Root(uint32(k))
		if slot[r] == 0 {
			list = append(list, nil)
			slot[r] = int32(len(list))
		}
		list[slot[r]-1] = append(list[slot[r]-1], uint32(k))
	}
	var out Clusters
	for _, members := range list {
		if ctx.Err() != nil {
			return Clusters{}, ctx.Err()
		}
		if len(members) < leastRegion {
			out.Specks++
			for _, k := range members {
				out.SpecksArea += g.area(g.points[k])
			}
			continue
		}
		c := g.figures(members)
		for _, k := range members {
			c.Core = max(c.Core, core[k]) // counts stand at the core's root, which is one of its points
		}
		out.List = append(out.List, c)
	}
	return out, nil
}

func (g *regions) area(i uint32) float64 {
	if g.areas == nil {
		return 0
	}
	return g.areas[i]
}

func (g *regions) figures(members []uint32) Cluster {
	c := Cluster{Points: len(members), Peak: -1}
	far, weighted, whole := 0.0, 0.0, 0.0
	var sum geom.Vec
	for _, k := range members {
		i := g.points[k]
		t, v, a := g.limit(int(i)), g.value[i], g.area(i)
		off := max(v-t.Hi, t.Lo-v)
		c.Area += a
		c.Excess += float64(a * off)
		w := max(a, math.SmallestNonzeroFloat64) // a point without faces still has a place
		weighted += float64(w * v)
		whole += w
		sum = sum.AddScaled(w, g.mesh.Vertices[i])
		if c.Peak < 0 || off > far {
			c.Peak, far = int(i), off
		}
	}
	c.Mean, c.Centre = weighted/whole, sum.Scale(1/whole)
	c.Size, c.Axes = g.extents(members, c.Centre)
	if c.Size[0] > 0 { // a single row of points is as wide as what counts for it
		c.Size[1] = min(c.Size[0], max(c.Size[1], c.Area/c.Size[0]))
	}
	return c
}

// extents returns the greatest extents of points along their first two principal directions.
func (g *regions) extents(members []uint32, centre geom.Vec) (size [2]float64, axes [2]geom.Vec) {
	var s geom.Mat3
	for _, k := range members {
		d := g.mesh.Vertices[g.points[k]].Sub(centre)
		w := g.area(g.points[k])
		for r := range 3 {
			for q := range 3 {
				s[r][q] += float64(w * d.At(r) * d.At(q))
			}
		}
	}
	axes = principal(s)
	for k, axis := range axes {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, m := range members {
			along := g.mesh.Vertices[g.points[m]].Sub(centre).Dot(axis)
			lo, hi = min(lo, along), max(hi, along)
		}
		size[k] = hi - lo
	}
	if size[1] > size[0] {
		size[0], size[1], axes[0], axes[1] = size[1], size[0], axes[1], axes[0]
	}
	return size, axes
}

// principal returns the unit eigenvectors of the two largest eigenvalues of a
// symmetric matrix, the largest first, by Jacobi's rotations (Golub & Van Loan, 8.5).
// Each points to where its greatest component is positive.
func principal(a geom.Mat3) [2]geom.Vec {
	v := geom.Identity3()
	for range 30 { // convergence is quadratic: six or so do
		off := float64(a[0][1]*a[0][1]) + float64(a[0][2]*a[0][2]) + float64(a[1][2]*a[1][2])
		on := float64(a[0][0]*a[0][0]) + float64(a[1][1]*a[1][1]) + float64(a[2][2]*a[2][2])
		if off <= 1e-32*on {
			break
		}
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if a[p][q] == 0 {
					continue
				}
				theta := (a[q][q] - a[p][p]) / float64(2*a[p][q])
				t := 1 / (math.Abs(theta) + math.Sqrt(float64(theta*theta)+1))
				if theta < 0 {
					t = -t
				}
				c := 1 / math.Sqrt(float64(t*t)+1)
				s := float64(t * c)
				turn := geom.Identity3()
				turn[p][p], turn[q][q], turn[p][q], turn[q][p] = c, c, s, -s
				a = turn.Transpose().Mul(a).Mul(turn)
				v = v.Mul(turn)
			}
		}
	}
	order := [3]int{0, 1, 2}
	for i := range 2 {
		for j := range 2 - i {
			if a[order[j]][order[j]] < a[order[j+1]][order[j+1]] {
				order[j], order[j+1] = order[j+1], order[j]
			}
		}
	}
	var out [2]geom.Vec
	for k := range out {
		col := order[k]
		d := geom.Vec{X: v[0][col], Y: v[1][col], Z: v[2][col]}
		big := 0
		for axis := range 3 {
			if math.Abs(d.At(axis)) > math.Abs(d.At(big)) {
				big = axis
			}
		}
		if d.At(big) < 0 {
			d = d.Neg()
		}
		out[k] = d
	}
	return out
}
