package morton_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/morton"
)

// The eight corners of a box are numbered x first, then y, then z, by the definition of the curve.
func TestKeysInterleaveTheAxes(t *testing.T) {
	c := morton.New(geom.Box{Hi: geom.Vec{X: 1023, Y: 1023, Z: 1023}})
	for k := range 8 {
		p := geom.Vec{X: float64(k & 1), Y: float64(k >> 1 & 1), Z: float64(k >> 2)}
		require.EqualValues(t, k, c.Key(p))
	}
	require.EqualValues(t, 1<<30-1, c.Key(geom.Vec{X: 1e9, Y: 1e9, Z: 1e9}))
	require.Zero(t, c.Key(geom.Vec{X: -5}))
	require.Less(t, c.Key(geom.Vec{X: math.NaN(), Y: math.Inf(1)}), uint64(1<<30))
	point := morton.New(geom.Box{Lo: geom.Vec{X: 3}, Hi: geom.Vec{X: 3}})
	require.Zero(t, point.Key(geom.Vec{X: 3}))
}

// Sorting is stable and what the standard library's stable sort gives, for keys of any width.
func TestSortEqualsAStableSort(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, bits := range []int{0, 1, 10, 30, 42, 64} {
		for _, n := range []int{0, 1, 2, 1000, 300_000} {
			entries := make([]morton.Entry, n)
			for i := range entries {
				entries[i] = morton.Entry{Key: r.Uint64() & (1<<bits - 1), Index: uint32(i)}
			}
			want := slices.Clone(entries)
			slices.SortStableFunc(want, func(a, b morton.Entry) int { return cmp.Compare(a.Key, b.Key) })
			require.Equal(t, want, morton.Sort(slices.Clone(entries), 1))
			require.Equal(t, want, morton.Sort(entries, 3))
		}
	}
}
