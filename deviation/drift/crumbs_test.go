package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// A scan in more crumbs than cells may be still has cells.
func TestCrumbsAreOnePiece(t *testing.T) {
	var list []sample
	for i := range 3000 {
		q := geom.Vec{X: float64(i%60) * 10, Y: float64(i/60) * 10}
		list = append(list, sample{ok: true, area: 50, q: q, n: geom.Vec{Z: 1}, piece: uint32(i)})
	}
	h := cellSize(list)
	require.False(t, math.IsInf(h, 0))
	seen := map[cellKey]bool{}
	for i := range list {
		seen[keyOf(&list[i], h)] = true
	}
	require.LessOrEqual(t, len(seen), mostCells)
	require.Greater(t, len(seen), mostCells/3)
}
