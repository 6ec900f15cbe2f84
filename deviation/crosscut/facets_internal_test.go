package crosscut

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

// What is read of a reference as CAD systems mesh it, the bend in facets of some degrees, the straights in one to four, lies within
// its U or is not given. A circle through the corners is exact; so is a straight.
func TestReadOutsOfReferencesInFacets(t *testing.T) {
	const runs = 300
	var radii, angles, offRadius, offAngle, wide []float64
	for seed := range uint64(runs) {
		r := rand.New(rand.NewPCG(seed, 3))
		even := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
		size, turns, flat := math.Exp(even(math.Log(1.5), math.Log(40))), even(30, 150)*math.Pi/180, even(15, 60)
		facets, parts := max(2, int(turns/even(5*math.Pi/180, 20*math.Pi/180))), 1+int(even(0, 4))
		on := func(angle float64) Point2 { return Point2{size * math.Sin(angle), size*math.Cos(angle) - size} }
		end := on(turns)
		past := func(d float64) Point2 { return Point2{end.H + d*math.Cos(turns), end.V - d*math.Sin(turns)} }
		var profile []Point2
		for i := range parts {
			profile = append(profile, Point2{flat * (float64(i)/float64(parts) - 1), 0})
		}
		for i := range facets + 1 {
			profile = append(profile, on(turns*float64(i)/float64(facets)))
		}
		for i := range parts {
			profile = append(profile, past(flat*float64(i+1)/float64(parts)))
		}
		m := &mesh.Mesh{}
		for _, y := range []float64{0, 50} {
			for _, p := range profile {
				m.Vertices = append(m.Vertices, geom.Vec{X: p.H, Y: y, Z: p.V})
			}
		}
		for i := 1; i < len(profile); i++ {
			v, c := uint32(i), uint32(len(profile))
			m.Faces = append(m.Faces, [3]uint32{v - 1, v, v - 1 + c}, [3]uint32{v, v + c, v - 1 + c})
		}
		ctx := context.Background()
		maker, err := NewMaker(ctx, m, m.VertexNormals(), nil, 10, verdict.Tolerance{}, 1)
		require.NoError(t, err)
		s, err := maker.Cut(ctx, Spec{Point: geom.Vec{Y: even(5, 45)}, Normal: geom.Vec{Y: 1}})
		require.NoError(t, err)
		v, _, why := radius(s.Scan, on(turns*even(0.3, 0.7)), size*even(0.5, 3), leastDrawn)
		if v.OK {
			radii, offRadius, wide = append(radii, v.V), append(offRadius, math.Abs(v.V-size)/v.U), append(wide, math.Abs(v.V/size-1))
		} else {
			require.NotEmpty(t, why)
		}
		v, why = angle(s.Scan, [2]Point2{{-flat / 2, 0}, past(flat / 2)}, flat/2*even(0.3, 1.2)+1, leastDrawn)
		if v.OK {
			angles, offAngle = append(angles, v.V), append(offAngle, math.Abs(v.V-math.Pi+turns)/max(v.U, 1e-6))
		} else {
			require.NotEmpty(t, why)
		}
	}
	t.Logf("%d radii of %d, 95 %% within %.2f of U and %.1f %% of the radius; %d angles, 95 %% within %.2f of U", len(radii), runs, part(offRadius, 0.95), 100*part(wide, 0.95), len(angles), part(offAngle, 0.95))
	require.Greater(t, len(radii), runs*6/10)
	require.LessOrEqual(t, part(offRadius, 0.95), 1.0)
	require.LessOrEqual(t, part(wide, 0.95), 0.06)
	require.Greater(t, len(angles), runs*3/10)
	require.LessOrEqual(t, part(offAngle, 0.95), 1.0)
}
