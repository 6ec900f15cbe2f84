package pieces

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The 95 and 99 % points of chi-square: trade tables (1, 3 and 6 degrees of freedom).
func TestChiSquarePoints(t *testing.T) {
	for _, row := range []struct {
		dof      int
		p95, p99 float64
	}{{1, 3.841, 6.635}, {3, 7.815, 11.345}, {6, 12.592, 16.812}} {
		require.InDelta(t, 0.05, ChiSquareTail(row.p95, row.dof), 2e-5)
		require.InDelta(t, 0.01, ChiSquareTail(row.p99, row.dof), 1e-5)
	}
	require.InDelta(t, 0.0832645, ChiSquareTail(3, 1), 1e-6) // 2 (1 − Φ(√3))
	require.InDelta(t, 6.334e-5, ChiSquareTail(16, 1), 1e-8) // 2 (1 − Φ(4)), from tables
}

// Points of the F distribution (tables, 5 %): F(10, 20) 2.348, F(30, 60) 1.649, F(120, 120) 1.352.
func TestFPoints(t *testing.T) {
	require.InDelta(t, 0.05, fTail(2.348, 10, 20), 1e-3)
	require.InDelta(t, 0.05, fTail(1.649, 30, 60), 1e-3)
	require.InDelta(t, 1.352, fCritical(0.05, 120, 120), 3e-3)
	require.Equal(t, 1.0, fTail(0, 3, 4))
}
