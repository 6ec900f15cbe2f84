package section_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// blocks returns the outside of unit cubes that were put together at random, so that
// they share corners, edges and faces: wherever a plane on a whole number cuts it, sides,
// diagonals and corners lie in that plane, ridges touch it and edges branch.
func blocks(r *rand.Rand) *mesh.Mesh {
	const side = 3
	var filled [side + 2][side + 2][side + 2]bool
	for i := range side * side * side {
		filled[1+i%side][1+i/side%side][1+i/side/side] = r.IntN(3) == 0
	}
	m := &mesh.Mesh{}
	number := map[[3]int]uint32{}
	corner := func(at [3]int) uint32 {
		v, ok := number[at]
		if !ok {
			v = uint32(len(m.Vertices))
			number[at] = v
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(at[0]), Y: float64(at[1]), Z: float64(at[2])})
		}
		return v
	}
	for i := range side * side * side {
		at := [3]int{1 + i%side, 1 + i/side%side, 1 + i/side/side}
		if !filled[at[0]][at[1]][at[2]] {
			continue
		}
		for axis := range 3 {
			for high := range 2 {
				beside := at
				beside[axis] += 2*high - 1
				if filled[beside[0]][beside[1]][beside[2]] {
					continue
				}
				first := at
				first[axis] += high
				square := [4][3]int{first, first, first, first}
				for k, step := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
					square[k][(axis+1)%3] += step[high]
					square[k][(axis+2)%3] += step[1-high]
				}
				turn := r.IntN(2)
				v := [4]uint32{corner(square[turn]), corner(square[turn+1]), corner(square[(turn+2)%4]), corner(square[(turn+3)%4])}
				m.Faces = append(m.Faces, [3]uint32{v[0], v[1], v[2]}, [3]uint32{v[0], v[2], v[3]})
			}
		}
	}
	return m
}

// wanted returns the length of a section: of the pieces of all faces, but for ridges
// in the plane, all of whose faces lie below it and which the plane only touches.
func wanted(m *mesh.Mesh, point, n geom.Vec) float64 {
	type ridge struct{ below, above int }
	height := func(v uint32) float64 { return m.Vertices[v].Sub(point).Dot(n) }
	inPlane := map[[2]uint32]ridge{}
	for _, f := range m.Faces {
		for k := range 3 {
			a, b := min(f[k], f[(k+1)%3]), max(f[k], f[(k+1)%3])
			if height(a) != 0 || height(b) != 0 {
				continue
			}
			e := inPlane[[2]uint32{a, b}]
			if height(f[(k+2)%3]) < 0 {
				e.below++
			} else {
				e.above++
			}
			inPlane[[2]uint32{a, b}] = e
		}
	}
	sum := pieces(m, point, n)
	for ends, e := range inPlane {
		if e.above == 0 {
			sum -= float64(e.below/2*2) * m.Vertices[ends[0]].Dist(m.Vertices[ends[1]])
		}
	}
	return sum
}

func TestSectionsThroughCornersAndEdgesKeepEveryPieceOnce(t *testing.T) {
	cuts := 0
	for seed := range uint64(4000) {
		r := rand.New(rand.NewPCG(seed, 3))
		m := blocks(r)
		if r.IntN(2) == 0 { // with holes
			kept := m.Faces[:0]
			for _, f := range m.Faces {
				if r.IntN(6) > 0 {
					kept = append(kept, f)
				}
			}
			m.Faces = kept
		}
		if len(m.Faces) == 0 {
			continue
		}
		n := [6]geom.Vec{{Z: 1}, {Z: -1}, {X: 1}, {X: -1}, {Y: 1}, {Y: -1}}[r.IntN(6)]
		point := m.Vertices[r.IntN(len(m.Vertices))]
		lines, err := cutter(t, m).Whole(point, n)
		require.NoError(t, err)
		got := 0.0
		for i := range lines {
			got += lines[i].Length()
		}
		require.InDelta(t, wanted(m, point, n), got, 1e-9, "seed %d", seed)
		if got > 0 {
			cuts++
		}
	}
	require.Greater(t, cuts, 1000)
}
