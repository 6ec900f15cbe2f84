package deviation

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// raised is a sheet of 400 by 300 mm in squares of 1 mm that stands off z = 0 by lift.
func raised(lift func(x, y float64) float64) *mesh.Mesh {
	return sheet(400, 300, func(i, j int) geom.Vec {
		x, y := float64(i)-200, float64(j)-150
		return geom.Vec{X: x, Y: y, Z: lift(x, y)}
	})
}

func clustersOf(t *testing.T, scan *mesh.Mesh, noise float64, tol verdict.Tolerance) (Clusters, *Field) {
	t.Helper()
	f, err := Measure(context.Background(), scan, surfaceOf(t, plane(-300, 300, 0, 6)), Settings{Reach: 10, Threads: 2, Doubts: true}, nil)
	require.NoError(t, err)
	f.Expand(noise, 2)
	c, err := FindClusters(context.Background(), scan, scan.VertexAreas(), f, tol, 2)
	require.NoError(t, err)
	return c, f
}

func cone(x, y, cx, cy, height, radius float64) float64 {
	return height * max(0, 1-math.Hypot(x-cx, y-cy)/radius)
}

// A cone of 2 mm within 40 mm is beyond 0.5 mm over a disc of radius 30 mm: area
// 900π mm², peak 2 mm, mean 2(1 - ⅔·30/40) = 1 mm, excess 900π·(2-½)/3 mm³. An
// elliptic one of 1.2 mm, 90 by 30 mm, hangs below. Analytic; the area of a disc
// drawn with squares of 1 mm is good to its border, and the meshed slopes
// of the cones are a part in a thousand or so longer.
func TestClustersOfKnownBumps(t *testing.T) {
	scan := raised(func(x, y float64) float64 {
		return cone(x, y, -100, 20, 2, 40) - cone(x/3, y, 100.0/3, -40, 1.2, 30)
	})
	c, f := clustersOf(t, scan, 0.03, verdict.Tolerance{Lo: -0.4, Hi: 0.5})
	require.Len(t, c.List, 2)
	require.Zero(t, c.Specks)
	low, high := c.List[0], c.List[1]
	if high.Excess > low.Excess {
		low, high = high, low
	}
	if f.Deviation[low.Peak] > 0 {
		low, high = high, low
	}
	require.Equal(t, BeyondByU, high.State)
	require.InEpsilon(t, 900*math.Pi, high.Area, 0.01)
	require.InDelta(t, 2, high.Value.V, 1e-9)
	require.InDelta(t, 0.06, high.Value.U, 1e-9)
	require.InDelta(t, 1, high.Mean, 0.01)
	require.InEpsilon(t, 900*math.Pi*0.5, high.Excess, 0.02)
	require.InDelta(t, 0, high.Centre.Dist(geom.Vec{X: -100, Y: 20, Z: high.Centre.Z}), 0.01)
	require.InDelta(t, 60, high.Size[0], 2.1)
	require.InDelta(t, 60, high.Size[1], 2.1)
	require.Equal(t, geom.Vec{X: -100, Y: 20, Z: 2}, scan.Vertices[high.Peak])

	// Beyond 0.4 mm is where 1.2 (1 - r/30) > 0.4: half axes of 20 and 60 mm.
	require.InEpsilon(t, math.Pi*20*60, low.Area, 0.01)
	require.InDelta(t, 120, low.Size[0], 2.1)
	require.InDelta(t, 40, low.Size[1], 2.1)
	require.InDelta(t, 1, math.Abs(low.Axes[0].X), 1e-6)
	require.InDelta(t, 1, math.Abs(low.Axes[1].Y), 1e-3)
	require.Equal(t, verdict.DoesNotConform, low.Verdict)
}

// What is beyond the limit by less than U cannot be told from what is not.
func TestClustersWithinUAreUndecided(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	scan := raised(func(x, y float64) float64 { return cone(x, y, 0, 0, 0.7, 80) })
	c, _ := clustersOf(t, scan, 0.15, tol) // U = 0.3 mm
	require.Len(t, c.List, 1)
	require.Equal(t, BeyondWithinU, c.List[0].State)
	require.Equal(t, verdict.Undecided, c.List[0].Verdict)
	c, _ = clustersOf(t, scan, 0.05, tol) // U = 0.1 mm
	require.Equal(t, BeyondByU, c.List[0].State)

	f := &Field{Deviation: make([]float64, len(scan.Vertices)), State: make([]State, len(scan.Vertices))}
	for i, v := range scan.Vertices {
		f.Deviation[i] = v.Z
	}
	c, err := FindClusters(context.Background(), scan, scan.VertexAreas(), f, tol, 2)
	require.NoError(t, err)
	require.Equal(t, BeyondNoU, c.List[0].State, "without an uncertainty nothing is sure")
}

// Noise neither tears a region apart nor makes one: a plateau at 0.55 mm under
// noise of 0.05 mm with a tolerance of 0.5 mm is one region, and a sheet that
// stands at the limit exactly is none that is out, for five seeds.
func TestNoiseMakesNoClusters(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	for seed := range uint64(5) {
		r := rand.New(rand.NewPCG(seed, 3))
		c, _ := clustersOf(t, raised(func(x, y float64) float64 {
			lift := 0.05 * r.NormFloat64()
			if math.Hypot(x, y) < 60 {
				lift += 0.55
			}
			return lift
		}), 0.05, tol)
		require.Equal(t, 1, len(c.List)+c.Specks, "seed %d", seed)
		c, _ = clustersOf(t, raised(func(x, y float64) float64 { return 0.5 + 0.05*r.NormFloat64() }), 0.05, tol)
		for _, k := range c.List {
			require.NotEqual(t, BeyondByU, k.State, "seed %d", seed)
		}
	}
}

// Neighbours on opposite sides are two regions; one or two points are specks;
// points without faces have no neighbours.
func TestClustersApart(t *testing.T) {
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	c, _ := clustersOf(t, raised(func(x, y float64) float64 {
		switch {
		case math.Abs(y) < 20 && x > -30 && x <= 0:
			return 1
		case math.Abs(y) < 20 && x > 0 && x < 30:
			return -1
		case x == 100 && y == 100:
			return 0.8
		}
		return 0
	}), 0.01, tol)
	require.Len(t, c.List, 2)
	require.Equal(t, 1, c.Specks)
	require.InDelta(t, 1, c.SpecksArea, 0.6) // its six faces' third, drawn out by 0.8 mm
	cloud := &mesh.Mesh{Vertices: raised(func(x, y float64) float64 { return 1 }).Vertices}
	f := measure(t, cloud, plane(-300, 300, 0, 6), 10)
	c, err := FindClusters(context.Background(), cloud, nil, f, tol, 1)
	require.NoError(t, err)
	require.Empty(t, c.List)
}
