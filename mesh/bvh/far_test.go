package bvh

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// waves is a sheet of n by n quads with edges of about 1 mm.
func waves(n int, edge float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			x, y := float64(i), float64(j)
			m.Vertices = append(m.Vertices, geom.Vec{X: x, Y: y, Z: 0.3 * math.Sin(1.3*x) * math.Cos(0.9*y)}.Scale(edge))
			if i > 0 && j > 0 {
				k := uint32(i*(n+1) + j)
				l := k - uint32(n+1)
				m.Faces = append(m.Faces, [3]uint32{l - 1, k - 1, k}, [3]uint32{l - 1, k, l})
			}
		}
	}
	return m
}

// From however far a question comes, both kernels find what looking at every triangle finds.
func TestFarQuestionsFindTheClosest(t *testing.T) {
	for _, edge := range []float64{1, 0.01} {
		m := waves(20, edge)
		ask := func() {
			tree, err := Build(context.Background(), m, 1, nil)
			require.NoError(t, err)
			r := rand.New(rand.NewPCG(3, 3))
			for e := 1; e <= 13; e++ {
				far := math.Pow(10, float64(e))
				for range 60 {
					p := geom.Vec{X: far * r.NormFloat64(), Y: far * r.NormFloat64(), Z: far * r.NormFloat64()}
					least := math.Inf(1)
					for f := range m.Faces {
						a, b, c := m.Corners(uint32(f))
						q, _ := geom.ClosestOnTriangle(p, a, b, c)
						least = min(least, q.Sub(p).Norm2())
					}
					got, ok := tree.NewFinder().Closest(p, math.Inf(1), nil)
					require.True(t, ok)
					require.Equal(t, least, got.Dist2, "edge %v, %v away", edge, far)
				}
			}
		}
		ask()
		WithoutVector(ask)
	}
}

// A large sheet with a few faces far from it: space is split between them where there is little to split.
func TestFewFacesFarFromMany(t *testing.T) {
	for _, strays := range []int{0, 1, 2, 3, 7, 8, 9, 15, 16, 17, 40, 63, 65} {
		m := waves(260, 1)
		for k := range strays {
			v := uint32(len(m.Vertices))
			at := geom.Vec{X: 900 + float64(k%3), Y: float64(k)}
			m.Vertices = append(m.Vertices, at, at.Add(geom.Vec{X: 1}), at.Add(geom.Vec{Y: 1}))
			m.Faces = append(m.Faces, [3]uint32{v, v + 1, v + 2})
		}
		one, err := Build(context.Background(), m, 1, nil)
		require.NoError(t, err)
		three, err := Build(context.Background(), m, 3, nil)
		require.NoError(t, err)
		require.Equal(t, one.nodes, three.nodes)
		require.Equal(t, one.above, three.above)
		met := make([]int, len(m.Faces))
		for i := range one.leaves {
			require.Equal(t, one.leaves[i].face, three.leaves[i].face)
			for _, f := range one.leaves[i].face {
				if f != noFace {
					met[f&^unsure]++
				}
			}
		}
		for f, n := range met {
			require.Equal(t, 1, n, "face %d", f)
		}
	}
}

// A panic of one share waits for the others, whose memory may be given back after it.
func TestPanicsWaitForTheOthers(t *testing.T) {
	b := &builder{gate: make(chan struct{}, 2)}
	for broken := range 4 {
		done := make([]bool, 4)
		require.Panics(t, func() {
			b.each(4, func(i int) {
				if i == broken {
					panic("broken")
				}
				done[i] = true
			})
		})
		done[broken] = true
		require.NotContains(t, done, false)
	}
	require.Empty(t, b.gate)
}
