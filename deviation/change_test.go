package deviation

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Cutting keeps the surface: its area, and no new borders; every edge is short.
func TestSamplesCoverTheReferenceEvenly(t *testing.T) {
	for name, m := range map[string]*mesh.Mesh{"two triangles": plane(0, 300, 0, 1), "sphere": bodywork.SpherePatch(500, 0.3, 90), "sliver": {
		Vertices: []geom.Vec{{}, {X: 400}, {X: 200, Y: 0.5}}, Faces: [][3]uint32{{0, 1, 2}},
	}} {
		s, err := SampleReference(context.Background(), m, 7)
		require.NoError(t, err)
		require.True(t, s.Cut)
		require.InEpsilon(t, m.Area(), s.Mesh.Area(), 1e-12, name)
		require.Len(t, s.Normals, len(s.Mesh.Vertices))
		edges, err := mesh.NewEdges(context.Background(), s.Mesh)
		require.NoError(t, err)
		border := 0.0
		for e, ends := range edges.Ends {
			length := s.Mesh.Vertices[ends[0]].Dist(s.Mesh.Vertices[ends[1]])
			require.LessOrEqual(t, length, 7.0)
			if edges.Border(uint32(e)) {
				border += length
			}
		}
		before, err := mesh.NewEdges(context.Background(), m)
		require.NoError(t, err)
		rim := 0.0
		for e, ends := range before.Ends {
			if before.Border(uint32(e)) {
				rim += m.Vertices[ends[0]].Dist(m.Vertices[ends[1]])
			}
		}
		require.InEpsilon(t, rim, border, 1e-9, "%s: cracks would show as borders", name)
	}
	s, err := sampleReference(context.Background(), plane(0, 300, 0, 1), 1e-3, 20_000)
	require.NoError(t, err)
	require.False(t, s.Cut, "so fine cannot be had")
	require.LessOrEqual(t, len(s.Mesh.Faces), 20_000)
	require.Greater(t, len(s.Mesh.Faces), 5_000)
	require.Len(t, s.Areas, len(s.Mesh.Vertices))
}

func changeOf(t *testing.T, a, b *mesh.Mesh, noise float64, p *Placing, limit float64, threads int) (*Change, *Samples) {
	t.Helper()
	ctx := context.Background()
	at, err := SampleReference(ctx, plane(-150, 150, 0, 1), 4)
	require.NoError(t, err)
	c, err := MeasureChange(ctx, surfaceOf(t, plane(-150, 150, 0, 1)), at, [2]Scanned{
		{Surface: surfaceOf(t, a), Noise: noise, Spacing: 2}, {Surface: surfaceOf(t, b), Noise: noise, Spacing: 3, Placing: p},
	}, 10, limit, threads, nil)
	require.NoError(t, err)
	return c, at
}

// scanOf is a sheet beyond the reference with points step mm apart, noise and a shape.
func scanOf(step float64, seed uint64, noise float64, lift func(x, y float64) float64) *mesh.Mesh {
	r := rand.New(rand.NewPCG(seed, 5))
	n := int(320 / step)
	return sheet(n, n, func(i, j int) geom.Vec {
		x, y := float64(i)*320/float64(n)-160, float64(j)*320/float64(n)-160
		return geom.Vec{X: x, Y: y, Z: lift(x, y) + noise*r.NormFloat64()}
	})
}

// Two scans with different points of a sheet that was 0.8 mm hollow within 50 mm
// and is flat after the repair: the change is +0.8 (1 - r/50) mm, and one region, whose
// border lies where that falls under U. Outside it nothing has changed. Analytic.
func TestARepairIsOneRegionOfChange(t *testing.T) {
	hollow := func(x, y float64) float64 { return 0.3 - cone(x, y, 20, -30, 0.8, 50) }
	even := func(x, y float64) float64 { return 0.3 }
	a, b := scanOf(2, 1, 0.02, hollow), scanOf(3, 2, 0.02, even)
	c, at := changeOf(t, a, b, 0.02, nil, 0.25, 2)
	require.Len(t, c.Regions.List, 1)
	r := c.Regions.List[0]
	require.Equal(t, BeyondByU, r.State)
	require.InDelta(t, 0.8, r.Value.V, 0.08)
	u := r.Value.U
	// Two single points, and what their chords may hide beside them (up to half the noise, twice).
	two := 2 * 0.02 * math.Sqrt2
	require.GreaterOrEqual(t, u, two-1e-9)
	require.LessOrEqual(t, u, two+2*noiseRise*0.02*math.Sqrt2)
	require.InEpsilon(t, math.Pi*math.Pow(50*(1-0.04/0.8), 2), r.Area, 0.06)
	require.InDelta(t, 0, r.Centre.Dist(geom.Vec{X: 20, Y: -30}), 1.5)
	within, outside := 0, 0
	for i, v := range at.Mesh.Vertices {
		require.Equal(t, Measured, c.State[0][i])
		truth := cone(v.X, v.Y, 20, -30, 0.8, 50)
		if math.Abs(c.Difference[i]-truth) <= c.U[i] {
			within++
		}
		if math.Hypot(v.X-20, v.Y+30) > 55 && c.Decision[i] != Changed {
			outside++
			require.Equal(t, NotChanged, c.Decision[i])
		}
	}
	share := float64(within) / float64(len(at.Mesh.Vertices))
	// More than 95 %: this noise is each corner's own and averages out between them, which U does not count on.
	require.GreaterOrEqual(t, share, 0.95)
	require.Less(t, share, 1.0)
	require.Greater(t, outside, len(at.Mesh.Vertices)/2)

	back, _ := changeOf(t, b, a, 0.02, nil, 0.25, 1)
	for i := range c.Difference {
		require.Equal(t, c.Difference[i], -back.Difference[i], "the other way round it is the other sign")
	}
	again, _ := changeOf(t, a, b, 0.02, nil, 0.25, 1)
	require.Equal(t, c, again, "the same for any number of threads")
}

// Two scans of an unchanged part differ nowhere, for five seeds; an uncertain placement
// makes everything undecided rather than changed; one that may slide along the normal leaves no U.
func TestNoChangeIsNone(t *testing.T) {
	even := func(x, y float64) float64 { return 0.1 * math.Sin(x/40) }
	for seed := range uint64(5) {
		c, _ := changeOf(t, scanOf(2, seed, 0.03, even), scanOf(3, seed+100, 0.03, even), 0.03, nil, 0.25, 2)
		require.Empty(t, c.Regions.List, "seed %d", seed)
		require.Greater(t, c.Share[NotChanged], 0.9)
	}
	a, b := scanOf(2, 1, 0, even), scanOf(3, 2, 0, func(x, y float64) float64 { return even(x, y) + 0.2 })
	p := &Placing{}
	p.Covariance[2][2] = 0.15 * 0.15
	c, _ := changeOf(t, a, b, 0.01, p, 0.25, 2)
	require.Greater(t, c.Share[Undecidable], 0.99)
	require.Empty(t, c.Regions.List)
	c, _ = changeOf(t, a, b, 0.01, &Placing{Free: []Free{{Shift: geom.Vec{Z: 1}, Sigma: 10, Words: "slide along Z"}}}, 0.25, 2)
	require.EqualValues(t, NoU, c.U[0])
	require.InDelta(t, 1, c.Share[Undecidable], 1e-12)
}

// Where one scan ends or lies too far away there is no difference.
func TestWhatOneScanDoesNotSeeIsNotCompared(t *testing.T) {
	whole := scanOf(2, 1, 0, func(x, y float64) float64 { return 0 })
	half := sheet(50, 100, func(i, j int) geom.Vec { return geom.Vec{X: float64(i)*3 - 150, Y: float64(j)*3 - 150} })
	c, at := changeOf(t, whole, half, 0.02, nil, 0.25, 2)
	require.InDelta(t, 0.5, c.Share[NotCompared], 0.02)
	for i, v := range at.Mesh.Vertices {
		if v.X > 1 && v.X < 9 {
			require.Equal(t, OffEdge, c.State[1][i])
		}
		if v.X > 12 {
			require.Equal(t, BeyondReach, c.State[1][i])
			require.Zero(t, c.Difference[i])
		}
	}
	down := &mesh.Mesh{Vertices: whole.Vertices}
	for _, f := range whole.Faces {
		down.Faces = append(down.Faces, [3]uint32{f[0], f[2], f[1]})
	}
	c, _ = changeOf(t, whole, down, 0.02, nil, 0.25, 2)
	require.Equal(t, FacingAway, c.State[1][0])
	require.InDelta(t, 1, c.Share[NotCompared], 1e-12)
}

// Two hems face each other's backs 6 mm apart, and the second scan has not seen
// one of them: the other hem is no deviation of it.
func TestAnotherHemIsNoChange(t *testing.T) {
	ctx := context.Background()
	both, one := plane(0, 60, 0, 20), plane(0, 60, 6, 20)
	n := uint32(len(both.Vertices))
	ref := &mesh.Mesh{Vertices: append(append([]geom.Vec{}, both.Vertices...), one.Vertices...), Faces: append([][3]uint32{}, both.Faces...)}
	for _, f := range one.Faces {
		ref.Faces = append(ref.Faces, [3]uint32{f[0] + n, f[1] + n, f[2] + n})
	}
	at, err := SampleReference(ctx, ref, 4)
	require.NoError(t, err)
	c, err := MeasureChange(ctx, surfaceOf(t, ref), at, [2]Scanned{{Surface: surfaceOf(t, ref), Noise: 0.02}, {Surface: surfaceOf(t, one), Noise: 0.02}}, 10, 0.25, 2, nil)
	require.NoError(t, err)
	for i, v := range at.Mesh.Vertices {
		if v.Z == 0 {
			require.Equal(t, OffEdge, c.State[1][i], "%v", v)
		} else {
			require.Equal(t, NotChanged, c.Decision[i])
		}
	}
	require.Empty(t, c.Regions.List)
}

func TestDecideChange(t *testing.T) {
	for _, c := range []struct {
		v, u, limit float64
		want        Decision
	}{{0.3, 0.1, 0.25, Changed}, {-0.3, 0.1, 0.25, Changed}, {0.1, 0.1, 0.25, NotChanged}, {0.1, 0.2, 0.25, Undecidable}, {0, 0.25, 0.25, NotChanged}, {0, 0.26, 0.25, Undecidable}, {0.05, 0.02, 0.25, Changed}} {
		require.Equal(t, c.want, DecideChange(verdict.Value{V: c.v, U: c.u, OK: true}, c.limit), "%+v", c)
	}
	require.Equal(t, NotCompared, DecideChange(verdict.Value{}, 1))
}
