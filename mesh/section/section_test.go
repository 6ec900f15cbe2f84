package section_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/section"
)

func cutter(t require.TestingT, m *mesh.Mesh) *section.Cutter {
	tree, err := bvh.Build(context.Background(), m, 1, nil)
	require.NoError(t, err)
	x, err := section.New(context.Background(), m, tree)
	require.NoError(t, err)
	return x.NewCutter()
}

// ball is a sphere of the given radius with rings x 2 rings quads, wound outward.
func ball(radius float64, rings int) *mesh.Mesh {
	m := &mesh.Mesh{Vertices: []geom.Vec{{Z: -radius}}}
	around := 2 * rings
	for i := 1; i < rings; i++ {
		lat := math.Pi*float64(i)/float64(rings) - math.Pi/2
		for j := range around {
			lon := 2 * math.Pi * float64(j) / float64(around)
			m.Vertices = append(m.Vertices, geom.Vec{X: radius * math.Cos(lat) * math.Cos(lon), Y: radius * math.Cos(lat) * math.Sin(lon), Z: radius * math.Sin(lat)})
		}
	}
	m.Vertices = append(m.Vertices, geom.Vec{Z: radius})
	at := func(i, j int) uint32 { return uint32(1 + (i-1)*around + j%around) }
	top := uint32(len(m.Vertices) - 1)
	for j := range around {
		m.Faces = append(m.Faces, [3]uint32{0, at(1, j+1), at(1, j)}, [3]uint32{top, at(rings-1, j), at(rings-1, j+1)})
		for i := 1; i+1 < rings; i++ {
			m.Faces = append(m.Faces, [3]uint32{at(i, j), at(i, j+1), at(i+1, j+1)}, [3]uint32{at(i, j), at(i+1, j+1), at(i+1, j)})
		}
	}
	return m
}

// tube is an open cylinder about z.
func tube(radius, height float64, around, along int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range along + 1 {
		for j := range around {
			a := 2 * math.Pi * float64(j) / float64(around)
			m.Vertices = append(m.Vertices, geom.Vec{X: radius * math.Cos(a), Y: radius * math.Sin(a), Z: height * (float64(i)/float64(along) - 0.5)})
		}
	}
	at := func(i, j int) uint32 { return uint32(i*around + j%around) }
	for i := range along {
		for j := range around {
			m.Faces = append(m.Faces, [3]uint32{at(i, j), at(i, j+1), at(i+1, j+1)}, [3]uint32{at(i, j), at(i+1, j+1), at(i+1, j)})
		}
	}
	return m
}

// area is the area a closed line encloses about a normal, positive when it turns to the left.
func area(l section.Line, normal geom.Vec) float64 {
	sum := geom.Vec{}
	for i, p := range l.Points {
		sum = sum.Add(p.Cross(l.Points[(i+1)%len(l.Points)]))
	}
	return sum.Dot(normal) / 2
}

// A plane at distance h from the middle of a sphere of radius r cuts a circle of radius sqrt(r^2 - h^2).
func TestSphereIsCutInCircles(t *testing.T) {
	const radius, rings = 100.0, 120
	c := cutter(t, ball(radius, rings))
	sagitta := 2 * radius * math.Pow(math.Pi/rings/2, 2) // of a chord across a quad's diagonal, ample
	for _, normal := range []geom.Vec{{Z: 1}, {X: 1}, {X: 1, Y: 2, Z: 3}, {X: -0.3, Y: 0.9, Z: 0.01}} {
		n := normal.Unit()
		for _, h := range []float64{0, 31.4, -60, 99} {
			lines, err := c.Whole(n.Scale(h), normal)
			require.NoError(t, err)
			require.Len(t, lines, 1)
			require.True(t, lines[0].Closed)
			r := math.Sqrt(radius*radius - h*h)
			// A sagitta along the sphere's radius moves the circle by radius/r times that.
			slack := sagitta * radius / r
			for _, p := range lines[0].Points {
				require.InDelta(t, h, p.Dot(n), 1e-9)
				require.InDelta(t, r, p.Sub(n.Scale(h)).Norm(), slack)
			}
			require.InDelta(t, 2*math.Pi*r, lines[0].Length(), 2*math.Pi*slack)
			require.InDelta(t, math.Pi*r*r, area(lines[0], n), 2*math.Pi*r*slack)
		}
	}
}

// A plane inclined by 60 degrees cuts a cylinder in an ellipse of half axes r and 2r.
// Perimeter: Ramanujan's second approximation (1914), from memory, good to 1e-6 here.
func TestCylinderIsCutInAnEllipse(t *testing.T) {
	const r, around = 50.0, 720
	c := cutter(t, tube(r, 400, around, 300))
	n := geom.Vec{X: math.Sin(math.Pi / 3), Z: math.Cos(math.Pi / 3)}
	lines, err := c.Whole(geom.Vec{}, n)
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.True(t, lines[0].Closed)
	a, b := 2*r, r
	h := (a - b) * (a - b) / ((a + b) * (a + b))
	perimeter := math.Pi * (a + b) * (1 + 3*h/(10+math.Sqrt(4-3*h)))
	sagitta := r * math.Pow(math.Pi/around, 2) / 2
	require.InDelta(t, perimeter, lines[0].Length(), 4*math.Pi*sagitta)
	require.InDelta(t, math.Pi*a*b, area(lines[0], n), perimeter*2*sagitta)
}

// grid is a flat sheet in z = 0 of n x n squares of 1 mm.
func grid(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(i), Y: float64(j)})
		}
	}
	at := func(i, j int) uint32 { return uint32(i*(n+1) + j) }
	for i := range n {
		for j := range n {
			m.Faces = append(m.Faces, [3]uint32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]uint32{at(i, j), at(i+1, j+1), at(i, j+1)})
		}
	}
	return m
}

// Through a row of vertices, whose edges lie in the plane, the cut is one open line
// from border to border, with the outside (up) on its right seen against the normal.
func TestRowOfVerticesIsCutOnce(t *testing.T) {
	c := cutter(t, grid(10))
	lines, err := c.Whole(geom.Vec{X: 4}, geom.Vec{X: 1})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.False(t, lines[0].Closed)
	require.Len(t, lines[0].Points, 11)
	for i, p := range lines[0].Points {
		require.Equal(t, geom.Vec{X: 4, Y: float64(10 - i)}, p) // n x outside = x x z = -y
	}
	// Along the diagonals, too.
	lines, err = c.Whole(geom.Vec{}, geom.Vec{X: 1, Y: -1})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.InDelta(t, 10*math.Sqrt2, lines[0].Length(), 1e-12)
	// A border in the plane belongs to the cut when the sheet lies below it.
	lines, err = c.Whole(geom.Vec{X: 10}, geom.Vec{X: 1})
	require.NoError(t, err)
	require.Len(t, lines, 1)
	require.Equal(t, 10.0, lines[0].Length())
	lines, err = c.Whole(geom.Vec{X: 0}, geom.Vec{X: 1})
	require.NoError(t, err)
	require.Empty(t, lines)
	// The whole sheet in the plane has no section.
	lines, err = c.Whole(geom.Vec{}, geom.Vec{Z: 1})
	require.NoError(t, err)
	require.Empty(t, lines)
}

// roof is a ridge along x of given heights, with eaves at z = -1.
func roof(heights ...float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i, h := range heights {
		x := float64(i)
		m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: -1, Z: -1}, geom.Vec{X: x, Z: h}, geom.Vec{X: x, Y: 1, Z: -1})
		if k := uint32(3 * i); i > 0 {
			m.Faces = append(m.Faces, [3]uint32{k - 3, k, k + 1}, [3]uint32{k - 3, k + 1, k - 2},
				[3]uint32{k - 2, k + 1, k + 2}, [3]uint32{k - 2, k + 2, k - 1})
		}
	}
	return m
}

// A ridge that lies in the plane without going through it is no cut, from below as
// from above; where it rises through the plane, the cut opens from the ridge.
func TestTouchingRidgeIsNoCut(t *testing.T) {
	for _, heights := range [][]float64{{0, 0, 0, 0}, {-1, 0, 0, 0, -1}, {-1, 0, -1}, {0, 0, -1}} {
		lines, err := cutter(t, roof(heights...)).Whole(geom.Vec{}, geom.Vec{Z: 1})
		require.NoError(t, err)
		require.Empty(t, lines, "%v", heights)
		lines, err = cutter(t, roof(heights...)).Whole(geom.Vec{}, geom.Vec{Z: -1})
		require.NoError(t, err)
		require.Empty(t, lines, "%v from above", heights)
	}
	for _, heights := range [][]float64{{-1, 0, 0, 1, 0, 0, -1}, {0, 0, 1, 0, 0}} {
		for _, up := range []float64{1, -1} {
			lines, err := cutter(t, roof(heights...)).Whole(geom.Vec{}, geom.Vec{Z: up})
			require.NoError(t, err)
			require.Len(t, lines, 1, "%v", heights)
			require.True(t, lines[0].Closed)
			// A square with corners on the ridge one step to either side of the peak, halfway down the slopes.
			require.InDelta(t, 4*math.Hypot(1, 0.5), lines[0].Length(), 0.7, "%v", heights)
			require.Greater(t, area(lines[0], geom.Vec{Z: up}), 0.0)
		}
	}
}

// Two boxes that share an edge of four faces: no piece is lost, none is doubled.
func TestBranchingEdgesEndLines(t *testing.T) {
	m := &mesh.Mesh{}
	for _, o := range []float64{0, 1} {
		k := uint32(len(m.Vertices))
		for _, v := range [][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
			m.Vertices = append(m.Vertices, geom.Vec{X: v[0] + o, Y: v[1] + o, Z: -1}, geom.Vec{X: v[0] + o, Y: v[1] + o, Z: 1})
		}
		for i := range uint32(4) {
			a, b, c, d := k+2*i, k+2*((i+1)%4), k+2*((i+1)%4)+1, k+2*i+1
			m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
		}
	}
	joined := map[geom.Vec]uint32{}
	for f := range m.Faces {
		for k, v := range m.Faces[f] {
			p := m.Vertices[v]
			if _, ok := joined[p]; !ok {
				joined[p] = v
			}
			m.Faces[f][k] = joined[p]
		}
	}
	lines, err := cutter(t, m).Whole(geom.Vec{}, geom.Vec{Z: 1})
	require.NoError(t, err)
	total := 0.0
	for _, l := range lines {
		total += l.Length()
	}
	require.InDelta(t, 8, total, 1e-12)
}

// wavy is a sheet without symmetry.
func wavy(r *rand.Rand, n int) *mesh.Mesh {
	m := grid(n)
	for i, v := range m.Vertices {
		m.Vertices[i] = geom.Vec{X: v.X + 0.3*r.Float64(), Y: v.Y + 0.3*r.Float64(), Z: 3*math.Sin(v.X/3)*math.Cos(v.Y/4) + 0.1*r.NormFloat64()}
	}
	return m
}

// pieces returns the summed length of the cut of every face by itself.
func pieces(m *mesh.Mesh, point, n geom.Vec) float64 {
	sum, d := 0.0, point.Dot(n)
	for f := range m.Faces {
		var at []geom.Vec
		for k := range 3 {
			a, b := m.Vertices[m.Faces[f][k]], m.Vertices[m.Faces[f][(k+1)%3]]
			if ha, hb := a.Dot(n)-d, b.Dot(n)-d; (ha < 0) != (hb < 0) {
				at = append(at, a.Lerp(b, ha/(ha-hb)))
			}
		}
		if len(at) == 2 {
			sum += at[0].Dist(at[1])
		}
	}
	return sum
}

// However faces are numbered and turned and wherever the mesh lies, the cut is
// the same, and as long as the pieces of all faces taken one by one.
func TestSectionsKeepEveryPiece(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		m := wavy(r, 2+r.IntN(20))
		for f := range m.Faces { // some flipped, corners turned, some missing
			if r.IntN(9) == 0 {
				m.Faces[f][0], m.Faces[f][1] = m.Faces[f][1], m.Faces[f][0]
			}
			k := r.IntN(3)
			c := m.Faces[f]
			m.Faces[f] = [3]uint32{c[k], c[(k+1)%3], c[(k+2)%3]}
		}
		r.Shuffle(len(m.Faces), func(i, j int) { m.Faces[i], m.Faces[j] = m.Faces[j], m.Faces[i] })
		m.Faces = m.Faces[:len(m.Faces)-r.IntN(len(m.Faces)/2)]
		point := m.Vertices[r.IntN(len(m.Vertices))]
		n := geom.Vec{X: r.NormFloat64(), Y: r.NormFloat64(), Z: 0.3 * r.NormFloat64()}.Unit()
		c := cutter(t, m)
		lines, err := c.Whole(point, n)
		require.NoError(t, err)
		total, count := 0.0, 0
		for i := range lines {
			total += lines[i].Length()
			count += len(lines[i].Points)
		}
		want := pieces(m, point, n)
		require.InDelta(t, want, total, 1e-9*(1+want))

		g := geom.Rigid{R: geom.Rotation(geom.Vec{X: 1, Y: 2, Z: -1}, 1.1).R, T: geom.Vec{X: 30, Y: -7, Z: 2}}
		moved, err := cutter(t, m.Moved(g)).Whole(g.Apply(point), g.ApplyDir(n))
		require.NoError(t, err)
		turned := 0.0
		for i := range moved {
			turned += moved[i].Length()
		}
		require.InDelta(t, want, turned, 1e-9*(1+want))

		// Near gives the pieces that come within the distance, and no other.
		reach := 4 * r.Float64()
		near, err := c.Near(point, n, reach)
		require.NoError(t, err)
		for _, l := range near {
			for i := 1; i < len(l.Points); i++ {
				p, q := l.Points[i-1], l.Points[i]
				s := min(max(point.Sub(p).Dot(q.Sub(p))/q.Sub(p).Norm2(), 0), 1)
				require.LessOrEqual(t, p.Lerp(q, s).Dist(point), reach+1e-9)
			}
		}
	})
}

func TestNoPlane(t *testing.T) {
	c := cutter(t, grid(3))
	for _, n := range []geom.Vec{{}, {X: math.NaN()}, {X: math.Inf(1)}} {
		_, err := c.Whole(geom.Vec{}, n)
		require.ErrorContains(t, err, "does not exist")
	}
	_, err := c.Near(geom.Vec{}, geom.Vec{X: 1}, -1)
	require.Error(t, err)
}
