package bodywork

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

func van(t testing.TB, o Options) *Job {
	j, err := Van(context.Background(), o, nil)
	require.NoError(t, err)
	return j
}

func TestSizeIsKept(t *testing.T) {
	for _, size := range []int{MinSize, 50_000, DefaultSize} {
		j := van(t, Options{Size: size, Seed: 1})
		require.InEpsilon(t, size, len(j.Scan.Faces), 0.1)
		require.InEpsilon(t, size/2, len(j.Reference.Faces), 0.1)
		t.Log(size, len(j.Scan.Faces), len(j.Reference.Faces))
		require.Equal(t, len(j.Scan.Vertices), len(j.Origins))
	}
	_, err := Van(context.Background(), Options{Size: MinSize - 1}, nil)
	require.ErrorIs(t, err, ErrSize)
}

func TestSameSeedSameJob(t *testing.T) {
	a := van(t, Options{Size: MinSize, Seed: 7, Threads: 1})
	b := van(t, Options{Size: MinSize, Seed: 7, Threads: 3})
	require.Equal(t, a.Scan, b.Scan)
	require.Equal(t, a.ReferenceFromScan, b.ReferenceFromScan)
	c := van(t, Options{Size: MinSize, Seed: 8})
	require.NotEqual(t, a.ReferenceFromScan, c.ReferenceFromScan)
	require.Equal(t, a.Reference, c.Reference, "the drawing knows no seed")
	require.InDelta(t, 1, a.ReferenceFromScan.R.Det(), 1e-14)
}

func TestStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	_, err := Van(ctx, Options{Size: MinSize}, func(share float64) {
		if share > 0.4 {
			stop()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
}

// A reader joins equal corners in order of first appearance; the truth by
// vertex number holds only when that changes nothing.
func TestVerticesStandInReadingOrder(t *testing.T) {
	for _, m := range func() []*mesh.Mesh { j := van(t, Options{Seed: 2}); return []*mesh.Mesh{j.Scan, j.Reference} }() {
		next := uint32(0)
		for f, corners := range m.Faces {
			for _, v := range corners {
				require.LessOrEqual(t, v, next)
				if v == next {
					next++
				}
			}
			require.NotZero(t, m.AreaNormal(uint32(f)).Norm(), "face %d", f)
		}
		require.Equal(t, len(m.Vertices), int(next))
		seen := map[geom.Vec]bool{}
		for _, v := range m.Vertices {
			require.Equal(t, asFloat32(v), v)
			require.False(t, seen[v])
			seen[v] = true
		}
	}
}

// Median length of the edges of faces beside the shut lines: 1.2 mm rows and
// columns with diagonals give between 1.2 and 1.7.
func TestStripKeepsItsSpacing(t *testing.T) {
	for _, size := range []int{DefaultSize, 600_000} {
		j := van(t, Options{Size: size, Whole: true})
		var lengths []float64
		for _, f := range j.Scan.Faces {
			o := j.Origins[f[0]]
			if o.Part == Face && o.Edge >= 0 && j.Origins[f[1]].Edge >= 0 && j.Origins[f[2]].Edge >= 0 {
				for k := range 3 {
					lengths = append(lengths, j.Scan.Vertices[f[k]].Dist(j.Scan.Vertices[f[(k+1)%3]]))
				}
			}
		}
		slices.Sort(lengths)
		require.Greater(t, len(lengths), 100_000)
		require.InDelta(t, 1.35, lengths[len(lengths)/2], 0.2)
		require.InDelta(t, 1.2, j.stripStep, 1e-9)
	}
}

// Pieces counts what hangs together by shared vertices.
func pieces(m *mesh.Mesh) int {
	parent := make([]uint32, len(m.Vertices))
	for i := range parent {
		parent[i] = uint32(i)
	}
	find := func(v uint32) uint32 {
		for parent[v] != v {
			parent[v] = parent[parent[v]]
			v = parent[v]
		}
		return v
	}
	n := len(m.Vertices)
	for _, f := range m.Faces {
		for k := range 2 {
			if a, b := find(f[k]), find(f[k+1]); a != b {
				parent[a] = b
				n--
			}
		}
	}
	return n
}

// Each panel is one piece with one border and no edge used twice the same way:
// a disc has V - E + F = 1.
func TestPanelsHaveNoCracks(t *testing.T) {
	j := van(t, Options{Size: 60_000, Whole: true})
	for _, m := range []*mesh.Mesh{j.Reference, j.Scan} {
		require.Equal(t, panelCount, pieces(m))
		edges := map[[2]uint32]int{}
		for _, f := range m.Faces {
			for k := range 3 {
				edges[[2]uint32{f[k], f[(k+1)%3]}]++
			}
		}
		undirected := 0
		for e, n := range edges {
			require.Equal(t, 1, n)
			if e[0] < e[1] || edges[[2]uint32{e[1], e[0]}] == 0 {
				undirected++
			}
		}
		require.Equal(t, panelCount, len(m.Vertices)-undirected+len(m.Faces))
	}
}

// Faces look the way the formula's normal does: outward on the skin, and the
// reference's triangles miss the skin and the rolls by little.
func TestReferenceLiesOnTheFormula(t *testing.T) {
	j := van(t, Options{})
	m := j.Reference
	worst := [2]float64{}
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		mid := geom.Vec{}.AddScaled(1.0/3, a.Add(b).Add(c))
		n := m.AreaNormal(uint32(f)).Unit()
		best, normal, kind := math.Inf(1), geom.Vec{}, 0
		for p := range panelCount {
			if q, qn, inside := j.nominal.onFace(p, mid); inside && math.Abs(mid.Sub(q).Dot(qn)) < math.Abs(best) {
				best, normal, kind = mid.Sub(q).Dot(qn), qn, 0
			}
		}
		for k := range j.nominal.edges {
			e := &j.nominal.edges[k]
			if math.Abs(mid.X-e.shoulderX(mid.Z)) > 5 {
				continue
			}
			s := e.closest(mid)
			d := mid.Sub(s.c)
			x, y := d.Dot(s.n), d.Dot(s.t)
			if r := math.Hypot(x, y); y >= 0 && math.Abs(r-hemRadius) < math.Abs(best) {
				best, normal, kind = r-hemRadius, d.Unit(), 1
			}
		}
		if math.Abs(best) < 1 { // not on a return
			require.Positive(t, n.Dot(normal), "face %d", f)
			worst[kind] = max(worst[kind], math.Abs(best))
		}
	}
	t.Logf("largest miss at middles of triangles: skin %.4f, rolls %.4f mm", worst[0], worst[1])
	require.Less(t, worst[0], 0.03)
	// Chords across and along the roll add up; the middle of a triangle misses less than its chord's middle.
	require.Less(t, worst[1], 2*rollChord)
}
