package gapflush_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// hemmed is the piece that these tests spoil: 200 mm of two hems of 1.5 mm.
func hemmed() (*bodywork.SeamPiece, gapflush.Seam) { return hemmedOf(2) }

// hemmedOf is another scan of it for each seed.
func hemmedOf(seed uint64) (*bodywork.SeamPiece, gapflush.Seam) {
	return piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Length: 200, Noise: 0.03, Seed: seed, Jitter: 0.3})
}

// requireFlush requires the flush of stations with noise of their own to be right: U holds 95 % of
// normal errors, so that of up to eight more than two lie outside it once in two hundred seams, of
// up to 32 more than five, and beyond 2 U one in sixteen thousand stations.
func requireFlush(t *testing.T, want float64, of []gapflush.Station) {
	t.Helper()
	outside := 0
	for _, st := range of {
		require.True(t, st.Flush.OK, st.Why)
		e := math.Abs(st.Flush.V - want)
		require.LessOrEqual(t, e, 2*st.Flush.U)
		if e > st.Flush.U {
			outside++
		}
	}
	most := 2
	if len(of) > 8 {
		most = 5
	}
	require.LessOrEqual(t, outside, most, "of %d", len(of))
}

// requireStates requires every station to be in one of the states wanted, with a reason and without a gap.
func requireStates(t *testing.T, m *mesh.Mesh, s gapflush.Seam, want ...gapflush.State) {
	t.Helper()
	r := measure(t, m, s, gapflush.Settings{})
	require.NotEmpty(t, r.Stations)
	for _, st := range r.Stations {
		require.Contains(t, want, st.State, "station %d: %s", st.Index, st.Why)
		require.False(t, st.Gap.OK)
		require.False(t, st.Feeler.OK)
		require.NotEmpty(t, st.Why)
	}
}

func turnedOver(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: m.Vertices}
	for _, f := range m.Faces {
		out.Faces = append(out.Faces, [3]uint32{f[0], f[2], f[1]})
	}
	return out
}

func TestTwoSkins(t *testing.T) {
	p, s := hemmed()
	lower := func(by float64) *mesh.Mesh {
		return bodywork.Mapped(p.Mesh, func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{Z: -by}) })
	}
	// every face twice, once from behind: no side is the outer one
	requireStates(t, bodywork.Together(p.Mesh, turnedOver(p.Mesh)), s, gapflush.TwoSkins)
	// a second skin 2 mm below side B's, as where a panel was scanned in two poses
	requireStates(t, bodywork.Together(p.Mesh, bodywork.Without(lower(2), func(c geom.Vec) bool { return c.X < 3.6 })), s, gapflush.TwoSkins)
	// double walls of two passes that do not match
	for _, by := range []float64{0.3, 0.5, 0.7} {
		requireStates(t, bodywork.Together(p.Mesh, lower(by)), s, gapflush.TwoSkins)
	}
	// a second pass that matches to a fifth of the noise is one skin
	r := measure(t, bodywork.Together(p.Mesh, lower(0.006)), s, gapflush.Settings{})
	for _, st := range r.Stations {
		require.Equal(t, gapflush.Measured, st.State, st.Why)
		require.InDelta(t, 4, st.Gap.V, st.Gap.U)
	}
}

// A face that is bent along the seam within its zone is no second skin, and what
// the bend does to the shoulder's height is in U.
func TestBentFaceZone(t *testing.T) {
	for _, degrees := range []float64{-4, -2, -1, -0.5, 0.5, 1, 2, 4} {
		p, s := hemmed()
		slope := math.Tan(degrees * math.Pi / 180)
		bent := bodywork.Mapped(p.Mesh, func(v geom.Vec) geom.Vec {
			if d := -3.5 - 7 - v.X; d > 0 {
				v.Z -= float64(d * slope)
			}
			return v
		})
		for _, st := range measure(t, bent, s, gapflush.Settings{}).Stations {
			if st.State != gapflush.Measured {
				require.NotEqual(t, gapflush.TwoSkins, st.State)
				continue
			}
			require.LessOrEqual(t, math.Abs(st.Flush.V), 3*st.Flush.U, "%g degrees", degrees)
			require.LessOrEqual(t, math.Abs(st.Gap.V-4), 3*st.Gap.U, "%g degrees", degrees)
		}
	}
}

// A trim strip 7.5 mm wide lies where side B's face should be; behind it another gap.
func TestThirdPanel(t *testing.T) {
	p, s := hemmed()
	shift := 14.5
	next := bodywork.Mapped(p.Mesh, func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{X: shift}) })
	strip := bodywork.Together(bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X > 7.5 }), bodywork.Without(next, func(c geom.Vec) bool { return c.X < 7.5 }))
	requireStates(t, strip, s, gapflush.ThirdPanel)
}

// Edges that run apart: turned by 20° there is no one gap; turned by 8° the plane
// square to the mid-line cuts the noses at 2/cos 4° on either side.
func TestNotParallel(t *testing.T) {
	p, s := hemmed()
	turned := func(degrees float64) *mesh.Mesh {
		sn, cs := math.Sincos(degrees * math.Pi / 180)
		return bodywork.Mapped(p.Mesh, func(v geom.Vec) geom.Vec {
			if v.X < 0 {
				return v
			}
			x, y := v.X-2, v.Y-100
			return geom.Vec{X: 2 + float64(x*cs) + float64(y*sn), Y: 100 - float64(x*sn) + float64(y*cs), Z: v.Z}
		})
	}
	s.Path = []geom.Vec{{Y: 98}, {Y: 102}}
	requireStates(t, turned(20), s, gapflush.NotParallel)
	requireStates(t, turned(-20), s, gapflush.NotParallel)
	for _, degrees := range []float64{8, -8} {
		r := measure(t, turned(degrees), s, gapflush.Settings{})
		require.Equal(t, 1, r.Measured, r.Stations[0].Why)
		require.InDelta(t, 4/math.Cos(4*math.Pi/180), r.Stations[0].Gap.V, r.Stations[0].Gap.U)
	}
}

func TestOffPath(t *testing.T) {
	p, s := hemmed()
	moved := func(d geom.Vec) gapflush.Seam {
		o := s
		o.Path = nil
		for _, v := range s.Path {
			o.Path = append(o.Path, v.Add(d))
		}
		return o
	}
	requireStates(t, p.Mesh, moved(geom.Vec{X: -25}), gapflush.OffPath, gapflush.SideMissing)
	requireStates(t, p.Mesh, moved(geom.Vec{Z: 40}), gapflush.OffPath)
	requireStates(t, p.Mesh, moved(geom.Vec{X: 2000}), gapflush.OffPath)
	into := s
	into.Path = []geom.Vec{{X: -10, Y: 100, Z: -10}, {X: -10, Y: 100, Z: 10}}
	requireStates(t, p.Mesh, into, gapflush.OffPath)
}

func TestHoles(t *testing.T) {
	p, s := hemmed()
	// the zone of side A's face gone, but not its edge
	requireStates(t, bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X < -5 && c.X > -14 }), s, gapflush.NoFace)
	// the roll gone: flush only, and it is right
	// (the stations of one scan share its curvature: those of four tell more)
	var unseen []gapflush.Station
	for seed := uint64(2); seed < 6; seed++ {
		p, s := hemmedOf(seed)
		rolls := bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X > -3.6 && c.X < 0 })
		requireStates(t, rolls, s, gapflush.NoseUnseen)
		unseen = append(unseen, measure(t, rolls, s, gapflush.Settings{}).Stations...)
	}
	requireFlush(t, 0, unseen)
	// everything of one side gone
	requireStates(t, bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X < 0 }), s, gapflush.SideMissing)
	// a tenth of the faces gone at random, and a round hole of 5 mm in each face zone
	rng := rand.New(rand.NewPCG(1, 1))
	holed := bodywork.Without(p.Mesh, func(c geom.Vec) bool {
		return rng.Float64() < 0.1 || math.Hypot(math.Abs(c.X)-10, math.Mod(c.Y, 25)-12.5) < 2.5
	})
	r := measure(t, holed, s, gapflush.Settings{})
	require.Equal(t, len(r.Stations), r.Measured)
	for _, st := range r.Stations {
		require.LessOrEqual(t, math.Abs(st.Gap.V-4), 1.5*st.Gap.U)
		require.LessOrEqual(t, math.Abs(st.Flush.V), 1.5*st.Flush.U)
	}
}

// A path drawn up to 20° slantwise finds the same gap: cut along it the gap
// would be 1/cos 20° = 6 % wider.
func TestSlantwisePath(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.5, Length: 200})
	mid := p.Path[0].Lerp(p.Path[len(p.Path)-1], 0.5)
	s.Every = 8
	for degrees := -20.0; degrees <= 20; degrees += 5 {
		d := geom.Vec{X: math.Tan(degrees * math.Pi / 180), Y: 1}.Unit()
		s.Path = []geom.Vec{mid.AddScaled(-8, d), mid.AddScaled(8, d)}
		r := measure(t, p.Mesh, s, gapflush.Settings{})
		require.Equal(t, len(r.Stations), r.Measured)
		for _, st := range r.Stations {
			require.InDelta(t, 4, st.Gap.V, 0.01, "%g degrees", degrees)
			require.InDelta(t, 0.5, st.Flush.V, 0.01, "%g degrees", degrees)
		}
	}
}

// Inner sheets that look inward outweigh the outer skin for 60 mm of a seam: their
// side is no outside, as the stations on either side show.
func TestFacesLookInwardForAStretch(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Length: 300, Noise: 0.03, Seed: 2, Jitter: 0.3, Return: 8})
	m := p.Mesh
	for _, z := range []float64{-3.5, -4, -4.5} {
		sheet := bodywork.Mapped(bodywork.Plane(60, 60, 1.2), func(v geom.Vec) geom.Vec { return v.Add(geom.Vec{X: -30, Y: 120, Z: z}) })
		m = bodywork.Together(m, turnedOver(sheet))
	}
	n := 0
	for _, st := range measure(t, m, s, gapflush.Settings{}).Stations {
		if math.Abs(st.P.Y-150) < 40 {
			require.Equal(t, gapflush.TwoSkins, st.State, st.Why)
			require.False(t, st.Gap.OK || st.Flush.OK)
			n++
		} else if st.State == gapflush.Measured {
			require.InDelta(t, 4, st.Gap.V, st.Gap.U)
		}
	}
	require.Positive(t, n)
}
