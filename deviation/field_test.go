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
	"shutline/mesh/surface"
)

func surfaceOf(t require.TestingT, m *mesh.Mesh) *surface.Surface {
	s, err := surface.New(context.Background(), m, 2, nil)
	require.NoError(t, err)
	return s
}

func measure(t require.TestingT, scan, ref *mesh.Mesh, reach float64) *Field {
	f, err := Measure(context.Background(), scan, surfaceOf(t, ref), Settings{Reach: reach, Threads: 2}, nil)
	require.NoError(t, err)
	return f
}

// sheet is a grid of nu x nv squares whose corners are at(i, j); it faces d/di x d/dj.
func sheet(nu, nv int, at func(i, j int) geom.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu + 1 {
		for j := range nv + 1 {
			m.Vertices = append(m.Vertices, at(i, j))
			if i > 0 && j > 0 {
				w := nv + 1
				a, b, c, d := uint32((i-1)*w+j-1), uint32(i*w+j-1), uint32(i*w+j), uint32((i-1)*w+j)
				m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
			}
		}
	}
	return m
}

// plane is a square x, y from lo to hi at height z.
func plane(lo, hi, z float64, n int) *mesh.Mesh {
	step := (hi - lo) / float64(n)
	return sheet(n, n, func(i, j int) geom.Vec {
		return geom.Vec{X: lo + float64(i)*step, Y: lo + float64(j)*step, Z: z}
	})
}

// A scan parallel to a plane reads its offset, with its sign. By hand.
func TestOffsetPlane(t *testing.T) {
	for _, d := range []float64{0.1234567, -0.1234567, 0, 1e-9} {
		f := measure(t, plane(10, 90, d, 80), plane(0, 100, 0, 7), 10)
		for i := range f.State {
			require.Equal(t, Measured, f.State[i])
			require.InDelta(t, d, f.Deviation[i], 1e-12)
		}
		require.Empty(t, f.Notes)
	}
}

// A plane tilted by 1 mm per m over a panel of 1000 mm: mean 0, largest 0.5,
// RMS 0.5/sqrt(3) = 0.2887 weighted by area (analytic).
func TestTiltedPlane(t *testing.T) {
	slope := 1e-3
	scan := sheet(500, 4, func(i, j int) geom.Vec {
		x := float64(i)*2 - 500
		return geom.Vec{X: x, Y: float64(j)*2 - 4, Z: slope * x}
	})
	f := measure(t, scan, plane(-600, 600, 0, 3), 10)
	s := Summarise(f, scan.VertexAreas(), verdict.Tolerance{Lo: -0.25, Hi: 0.25})
	w := s.AreaWeighted
	require.InDelta(t, 0, w.Mean, 1e-12)
	require.InDelta(t, 0.5/math.Sqrt(3), w.RMS, 2e-6)
	require.InDelta(t, 0.5, w.Max, 1e-9)
	require.InDelta(t, -0.5, w.Min, 1e-9)
	require.InDelta(t, -0.475, w.P025, 1e-3)
	require.InDelta(t, 0, w.P50, 1e-9)
	require.InDelta(t, 0.5, w.ShareInTolerance, 2e-3)
	require.Equal(t, [4]int{len(scan.Vertices), 0, 0, 0}, s.Count)
}

// Points at radius R + d above a cylinder meshed with a chord error of 2e-4 mm
// read d to within that error (analytic).
func TestCylinder(t *testing.T) {
	const radius, n, d = 500.0, 1000, -0.35
	arc := func(r float64, n int, shift float64) *mesh.Mesh {
		return sheet(n, 10, func(i, j int) geom.Vec {
			s, c := math.Sincos((float64(i)+shift)/float64(n)*0.9 + shift*0.05)
			return geom.Vec{X: r * c, Y: r * s, Z: float64(j)*20 + shift*9}
		})
	}
	sag := radius * (1 - math.Cos(0.9/n/2))
	f := measure(t, arc(radius+d, 700, 0.5), arc(radius, n, 0), 5)
	measured := 0
	for i, s := range f.State {
		if s == Measured {
			measured++
			require.GreaterOrEqual(t, f.Deviation[i], d-1e-9)
			require.LessOrEqual(t, f.Deviation[i], d+sag+1e-9)
		}
	}
	require.Greater(t, measured, len(f.State)*8/10)
}

// The four states, each where a hand-drawn case puts it: the reference is a
// square sheet at z = 0, x and y from 0 to 100, facing up.
func TestStates(t *testing.T) {
	ref := plane(0, 100, 0, 10)
	up, down, side := geom.Vec{Z: 1}, geom.Vec{Z: -1}, geom.Vec{X: 1}
	tilt := func(deg float64) geom.Vec {
		s, c := math.Sincos(deg * math.Pi / 180)
		return geom.Vec{X: s, Z: c}
	}
	cases := []struct {
		p, n  geom.Vec
		state State
		d     float64
	}{
		{geom.Vec{X: 50, Y: 50, Z: 1}, up, Measured, 1},
		{geom.Vec{X: 50, Y: 50, Z: -1}, up, Measured, -1},
		{geom.Vec{X: 50, Y: 50, Z: 5}, up, Measured, 5},
		{geom.Vec{X: 50, Y: 50, Z: 5.001}, up, BeyondReach, 0},
		{geom.Vec{X: 50, Y: 50, Z: 5.001}, down, BeyondReach, 0},
		{geom.Vec{X: 50, Y: 50, Z: 1}, down, FacingAway, 0},
		{geom.Vec{X: 50, Y: 50, Z: 1}, side, FacingAway, 0},
		{geom.Vec{X: 50, Y: 50, Z: 1}, tilt(59.9), Measured, 1},
		{geom.Vec{X: 50, Y: 50, Z: 1}, tilt(60.1), FacingAway, 0},
		{geom.Vec{X: 101, Y: 50, Z: 0}, up, OffEdge, 0},
		{geom.Vec{X: 101, Y: 50, Z: 0}, down, FacingAway, 0},
		// 0.04 mm past the edge is less than 0.05 mm; 0.06 mm is more, and over a tenth of 0.5.
		{geom.Vec{X: 100.04, Y: 50, Z: 0.3}, up, Measured, math.Hypot(0.04, 0.3)},
		{geom.Vec{X: 100.06, Y: 50, Z: -0.3}, up, OffEdge, 0},
		// 0.06 mm past the edge, but less than a tenth of the distance.
		{geom.Vec{X: 100.06, Y: 50, Z: -1}, up, Measured, -math.Hypot(0.06, 1)},
		{geom.Vec{X: 100.2, Y: 100.2, Z: 0.1}, up, OffEdge, 0},
		// On the border itself.
		{geom.Vec{X: 100, Y: 50}, up, Measured, 0},
		{geom.Vec{X: 100.0000009, Y: 50}, up, Measured, 9e-7},
	}
	cloud := &mesh.Mesh{}
	for _, c := range cases {
		cloud.Vertices, cloud.Normals = append(cloud.Vertices, c.p), append(cloud.Normals, c.n)
	}
	f := measure(t, cloud, ref, 5)
	for i, c := range cases {
		require.Equal(t, c.state, f.State[i], "case %d: %v", i, c)
		require.InDelta(t, c.d, f.Deviation[i], 1e-9, "case %d", i)
	}
}

// A dent in a sheet with two skins is measured against its own skin, although
// the other skin is nearer.
func TestDentInTwoSkins(t *testing.T) {
	outer, inner := plane(0, 100, 0, 10), plane(0, 100, -0.8, 10)
	ref := &mesh.Mesh{Vertices: append(outer.Vertices, inner.Vertices...), Faces: outer.Faces}
	for _, f := range inner.Faces {
		n := uint32(len(outer.Vertices))
		ref.Faces = append(ref.Faces, [3]uint32{n + f[0], n + f[2], n + f[1]})
	}
	f := measure(t, plane(20, 80, -0.7, 5), ref, 5)
	for i := range f.State {
		require.Equal(t, Measured, f.State[i])
		require.InDelta(t, -0.7, f.Deviation[i], 1e-12)
	}
}

// A cloud without normals is measured without the facing test, and says so.
func TestCloudWithoutNormals(t *testing.T) {
	cloud := &mesh.Mesh{Vertices: []geom.Vec{{X: 50, Y: 50, Z: 1}, {X: 50, Y: 50, Z: -2}, {X: 50, Y: 50, Z: 50}}}
	f := measure(t, cloud, plane(0, 100, 0, 2), 5)
	require.Equal(t, []State{Measured, Measured, BeyondReach}, f.State)
	require.Equal(t, []float64{1, -2, 0}, f.Deviation)
	require.Len(t, f.Notes, 2)
	require.Contains(t, f.Notes[0], "neither faces nor normals")
}

// Covered area by hand: a scan of half the reference, 1 mm above it, reaches
// sqrt(5² - 1²) mm past its own border.
func TestCoveredShare(t *testing.T) {
	const reach = 5.0
	half := sheet(50, 100, func(i, j int) geom.Vec { return geom.Vec{X: float64(i), Y: float64(j), Z: 1} })
	want := (50 + math.Sqrt(reach*reach-1)) / 100
	for _, n := range []int{1, 3, 200} {
		f := measure(t, half, plane(0, 100, 0, n), reach)
		require.InDelta(t, want, f.Covered, reach/8/100, "the stated accuracy, reference of %d squares a side", n)
	}
	require.Equal(t, 1.0, measure(t, plane(-10, 110, 1, 5), plane(0, 100, 0, 4), reach).Covered)
	require.Equal(t, 0.0, measure(t, plane(0, 100, 6, 5), plane(0, 100, 0, 4), reach).Covered)

	// A scan that faces the other way covers nothing, and neither does a wall square to the reference.
	flipped := half.Mirrored(2)
	require.Equal(t, 0.0, measure(t, flipped, plane(0, 100, 0, 4), reach).Covered)
	wall := sheet(50, 50, func(i, j int) geom.Vec { return geom.Vec{X: float64(2 * i), Y: 50, Z: float64(j)} })
	require.Equal(t, 0.0, measure(t, wall, plane(0, 100, 0, 4), reach).Covered)

	// Points 1 mm apart with normals cover as far as the faces did.
	cloud := &mesh.Mesh{Vertices: half.Vertices, Normals: half.VertexNormals()}
	require.InDelta(t, want, measure(t, cloud, plane(0, 100, 0, 50), reach).Covered, reach/8/100)
}

// The bits of every result are those of one thread, whatever the number of threads.
func TestSameBitsForAnyThreads(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	bumpy := func(n int, noise float64) *mesh.Mesh {
		return sheet(n, n, func(i, j int) geom.Vec {
			x, y := 200*float64(i)/float64(n), 200*float64(j)/float64(n)
			return geom.Vec{X: x, Y: y, Z: 5*math.Sin(x/30) + noise*r.NormFloat64()}
		})
	}
	scan, ref := bumpy(140, 0.2), bumpy(90, 0)
	var first *Field
	for _, threads := range []int{1, 2, 7} {
		s, err := surface.New(context.Background(), ref, threads, nil)
		require.NoError(t, err)
		f, err := Measure(context.Background(), scan, s, Settings{Reach: 3, Threads: threads}, nil)
		require.NoError(t, err)
		if first == nil {
			first = f
		}
		require.Equal(t, first, f)
	}
}

func TestMeasureRefusesWhatMakesNoSense(t *testing.T) {
	ref := surfaceOf(t, plane(0, 1, 0, 1))
	for _, reach := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := Measure(context.Background(), plane(0, 1, 0, 1), ref, Settings{Reach: reach}, nil)
		require.ErrorIs(t, err, ErrReach)
	}
	stopped, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Measure(stopped, plane(0, 1, 0, 1), ref, Settings{Reach: 1}, nil)
	require.ErrorIs(t, err, context.Canceled)
	f, err := Measure(context.Background(), &mesh.Mesh{}, ref, Settings{Reach: 1}, nil)
	require.NoError(t, err)
	require.Empty(t, f.State)
}
