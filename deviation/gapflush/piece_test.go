package gapflush_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func piece(o bodywork.SeamPieceOptions) (*bodywork.SeamPiece, gapflush.Seam) {
	if o.Spacing == 0 {
		o.Spacing = 1.2
	}
	p := bodywork.NewSeamPiece(o)
	s := gapflush.DefaultSeam("piece", p.Path)
	s.Radius = o.Radius
	return p, s
}

func measure(t *testing.T, m *mesh.Mesh, s gapflush.Seam, set gapflush.Settings) *gapflush.Result {
	t.Helper()
	r, err := gapflush.Measure(context.Background(), m, nil, s, set, nil)
	require.NoError(t, err)
	return r
}

// trade.md 1.1: two rolls of radius 1, centres 6.0 apart along b and -0.8 along
// n: gap 6 - 2 = 4.0000, feeler sqrt(36 + 0.64) - 2 = 4.0531, flush -0.8000.
func TestTwoRollsByHand(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1, 1}, Gap: 4, Flush: -0.8, Spacing: 0.5})
	r := measure(t, p.Mesh, s, gapflush.Settings{})
	require.Equal(t, len(r.Stations), r.Measured)
	for _, st := range r.Stations {
		require.InDelta(t, 4.0000, st.Gap.V, 2e-4)
		require.InDelta(t, 4.0531, st.Feeler.V, 2e-4)
		require.InDelta(t, -0.8000, st.Flush.V, 2e-4)
		require.InDelta(t, 0, st.Angle.V, 1e-4)
	}
}

// trade.md 1.2: seen from above to an arc phi, the edges of a radius of 1 mm read
// the gap 2(1 - sin phi) too wide by their outermost points: 0.586 mm at 45°, 0.268
// at 60°, 0.068 at 75°, 0.030 at 80°. Carried on, they read it right.
func TestUnseenNosesAreCarriedOn(t *testing.T) {
	for _, c := range []struct{ degrees, wide float64 }{{45, 0.586}, {60, 0.268}, {75, 0.068}, {80, 0.030}} {
		a := c.degrees * math.Pi / 180
		p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1, 1}, Gap: 4, Spacing: 0.5, Seen: [2]float64{a, a}})
		left, right := math.Inf(-1), math.Inf(1)
		for _, v := range p.Mesh.Vertices {
			if v.X < 0 {
				left = max(left, v.X)
			} else {
				right = min(right, v.X)
			}
		}
		require.InDelta(t, c.wide, right-left-4, 1e-3)
		r := measure(t, p.Mesh, s, gapflush.Settings{})
		require.Equal(t, len(r.Stations), r.Measured)
		for _, st := range r.Stations {
			require.InDelta(t, 4, st.Gap.V, 1e-3, "%g°", c.degrees)
		}
	}
}

// A noisy scan of flat hemmed panels, seen to 90°, 60° and 40°: goals of the tool.
func TestNoisyPieces(t *testing.T) {
	for _, c := range []struct{ seen, gap float64 }{{180, 0.10}, {60, 0.20}, {40, 0.20}} {
		for seed := uint64(1); seed <= 3; seed++ {
			a := c.seen * math.Pi / 180
			p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.6, Angle: 0.05, Length: 500, Noise: 0.03, Seed: seed, Jitter: 0.3, Seen: [2]float64{a, a}})
			r := measure(t, p.Mesh, s, gapflush.Settings{})
			require.GreaterOrEqual(t, float64(r.Measured), 0.9*float64(len(r.Stations)))
			inside, n := 0, 0
			var errs, flushes []float64
			for _, st := range r.Stations {
				if !st.Gap.OK {
					continue
				}
				n++
				e, f := math.Abs(st.Gap.V-p.Truth[0].Gap), math.Abs(st.Flush.V-p.Truth[0].Flush)
				errs, flushes = append(errs, e), append(flushes, f)
				if e <= st.Gap.U {
					inside++
				}
				require.LessOrEqual(t, e, 3*st.Gap.U)
			}
			require.LessOrEqual(t, percentile(errs, 0.95), c.gap)
			require.LessOrEqual(t, percentile(flushes, 0.95), 0.08)
			require.GreaterOrEqual(t, float64(inside), 0.9*float64(n))
		}
	}
}

// A rigid motion of scan and path together changes no number.
func TestRigidMotionChangesNothing(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.2}, Gap: 3.5, Flush: 0.4, Angle: 0.1, Spacing: 0.8})
	g := geom.RotationVector(geom.Vec{X: 0.7, Y: -1.1, Z: 0.4})
	g.T = geom.Vec{X: 310, Y: -1200, Z: 77}
	moved := s
	moved.Path = nil
	for _, v := range s.Path {
		moved.Path = append(moved.Path, g.Apply(v))
	}
	a, b := measure(t, p.Mesh, s, gapflush.Settings{}), measure(t, p.Mesh.Moved(g), moved, gapflush.Settings{})
	require.Len(t, b.Stations, len(a.Stations))
	for i := range a.Stations {
		require.Equal(t, a.Stations[i].State, b.Stations[i].State)
		require.InDelta(t, a.Stations[i].Gap.V, b.Stations[i].Gap.V, 1e-3)
		require.InDelta(t, a.Stations[i].Flush.V, b.Stations[i].Flush.V, 1e-3)
		require.InDelta(t, p.Truth[0].Gap, b.Stations[i].Gap.V, 5e-3)
	}
}

// Walking the path backward swaps A and B; with the master swapped too nothing changes.
func TestSidesSwap(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.0}, Gap: 3, Flush: -0.5, Angle: 0.08, Length: 200, Spacing: 0.8})
	back := s
	back.Path = []geom.Vec{p.Path[len(p.Path)-1], p.Path[0]}
	back.Radius = [2]float64{1.0, 1.5}
	back.Master = gapflush.B
	a, b := measure(t, p.Mesh, s, gapflush.Settings{}), measure(t, p.Mesh, back, gapflush.Settings{})
	n := len(a.Stations)
	for i := range a.Stations {
		x, y := a.Stations[i], b.Stations[n-1-i]
		require.InDelta(t, x.Gap.V, y.Gap.V, 2e-3)
		require.InDelta(t, x.Flush.V, y.Flush.V, 2e-3)
		require.InDelta(t, x.Angle.V, y.Angle.V, 1e-3)
	}
	s.Master = gapflush.B
	for _, st := range measure(t, p.Mesh, s, gapflush.Settings{}).Stations {
		require.InDelta(t, p.Truth[1].Gap, st.Gap.V, 5e-3)
		require.InDelta(t, p.Truth[1].Flush, st.Flush.V, 5e-3)
	}
}

// What cannot be measured has a state, a reason and no number.
func TestNoNumberIsInvented(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Length: 200})
	gone := func(m *mesh.Mesh, want ...gapflush.State) {
		t.Helper()
		r := measure(t, m, s, gapflush.Settings{})
		for _, st := range r.Stations {
			require.Contains(t, want, st.State, st.Why)
			require.False(t, st.Gap.OK)
			require.NotEmpty(t, st.Why)
		}
	}
	gone(bodywork.Without(p.Mesh, func(c geom.Vec) bool { return c.X > 0 }), gapflush.SideMissing)
	gone(bodywork.Without(p.Mesh, func(c geom.Vec) bool { return math.Abs(c.X) < 100 && c.Y < 1e9 && !(c.X < -38) }), gapflush.OffPath)
	// a sheet right across the gap, a little below the skins
	web := &mesh.Mesh{Vertices: append([]geom.Vec{}, p.Mesh.Vertices...), Faces: append([][3]uint32{}, p.Mesh.Faces...)}
	n := uint32(len(web.Vertices))
	for i := 0; i <= 200; i++ {
		y := float64(i)
		web.Vertices = append(web.Vertices, geom.Vec{X: -2.6, Y: y, Z: -0.4}, geom.Vec{X: 2.6, Y: y, Z: -0.4})
	}
	for i := uint32(0); i < 200; i++ {
		a := n + 2*i
		web.Faces = append(web.Faces, [3]uint32{a, a + 1, a + 2}, [3]uint32{a + 1, a + 3, a + 2})
	}
	gone(web, gapflush.Bridged)
	// no seam at all
	flat := bodywork.Plane(300, 200, 1.2)
	for i := range flat.Vertices {
		flat.Vertices[i].X -= 150
	}
	gone(flat, gapflush.OffPath)
	// points farther apart than the radius
	coarse, _ := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Length: 200, Spacing: 3.4})
	gone(coarse.Mesh, gapflush.TooCoarse)
}

func TestPathErrors(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4})
	s.Path = []geom.Vec{{X: 1}, {X: 1}, {X: 1}}
	_, err := gapflush.Measure(context.Background(), p.Mesh, nil, s, gapflush.Settings{}, nil)
	require.ErrorIs(t, err, gapflush.ErrPath)
	// repeated points are walked over
	s.Path = []geom.Vec{p.Path[0], p.Path[0], p.Path[len(p.Path)-1]}
	require.Equal(t, 8, measure(t, p.Mesh, s, gapflush.Settings{}).Measured)
	_, err = gapflush.Measure(context.Background(), &mesh.Mesh{Vertices: p.Mesh.Vertices}, nil, s, gapflush.Settings{}, nil)
	require.ErrorIs(t, err, gapflush.ErrNoFaces)
}

func TestThreadsChangeNothing(t *testing.T) {
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Noise: 0.03, Seed: 5})
	s.Gap = gapflush.Target{Nominal: 4, HasNominal: true, Judged: true, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}}
	one, four := measure(t, p.Mesh, s, gapflush.Settings{Threads: 1}), measure(t, p.Mesh, s, gapflush.Settings{Threads: 4})
	require.Equal(t, one, four)
	for _, st := range one.Stations {
		require.Equal(t, gapflush.Measured, st.State, st.Why)
		require.Equal(t, verdict.Conforms, st.GapVerdict, "%v", st.Gap)
	}
	require.Equal(t, verdict.Conforms, one.Verdict)
}
