package geom_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// The matrix [[2,-1,0],[-1,2,-1],[0,-1,2]] has the eigenvalues 2-√2, 2, 2+√2 (second difference with fixed
// ends: 4 sin²(kπ/8), any textbook of numerical analysis).
func TestEigen3(t *testing.T) {
	m := geom.Mat3{{2, -1, 0}, {-1, 2, -1}, {0, -1, 2}}
	values, axes := geom.Eigen3(m)
	for i, want := range []float64{0.5857864376269049, 2, 3.414213562373095} {
		require.InDelta(t, want, values[i], 1e-14)
		require.Less(t, m.MulVec(axes[i]).Dist(axes[i].Scale(want)), 1e-13)
	}
	require.InDelta(t, 1, axes[0].Cross(axes[1]).Dot(axes[2]), 1e-14)
	values, axes = geom.Eigen3(geom.Mat3{{3, 0, 0}, {0, 1, 0}, {0, 0, 2}})
	require.Equal(t, [3]float64{1, 2, 3}, values)
	require.Equal(t, geom.Vec{Y: 1}, axes[0])
}
