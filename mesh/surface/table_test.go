package surface

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// Closest points, distances and sides on an open-licence mesh as CGAL computed
// them with exact constructions: testdata/closest/README.md.
func TestAgreesWithAnExactLibrary(t *testing.T) {
	loaded, err := meshio.Read(context.Background(), "../../testdata/open/gearwheel.stl", meshio.Options{Unit: meshio.Millimetre})
	require.NoError(t, err)
	near := surfaceOf(t, loaded.Mesh).NewFinder()
	file, err := os.Open("../../testdata/closest/closest.txt")
	require.NoError(t, err)
	defer file.Close()
	lines := bufio.NewScanner(file)
	rows := 0
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		var p, q geom.Vec
		var d, side float64
		_, err := fmt.Sscan(lines.Text(), &p.X, &p.Y, &p.Z, &q.X, &q.Y, &q.Z, &d, &side)
		require.NoError(t, err)
		h, ok := near.Closest(p, math.Inf(1))
		require.True(t, ok)
		// Coordinates reach 40: 1e-13 is 14 ulps of them.
		require.InDelta(t, d, h.Distance, 1e-13, "at %v", p)
		require.InDelta(t, side*d, signed(h, p), 1e-13, "at %v", p)
		require.InDelta(t, 0, q.Dist(h.Point), 1e-12, "at %v", p)
		require.False(t, h.Border)
		rows++
	}
	require.NoError(t, lines.Err())
	require.Equal(t, 800, rows)
}
