package align

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// meanSquares returns the eigenvalues of the mean JᵀJ, the lever being the mean
// distance to the centroid.
func meanSquares(points []point) vec6 {
	var centre geom.Vec
	for _, p := range points {
		centre = centre.AddScaled(1/float64(len(points)), p.p)
	}
	lever := 0.0
	for _, p := range points {
		lever += p.p.Dist(centre) / float64(len(points))
	}
	var a sym6
	for _, p := range points {
		j := jacobian(p.p, p.n, centre, lever)
		a.addOuter(1/float64(len(points)), &j)
	}
	a.mirror()
	values, _ := eigen6(&a)
	return values
}

// The figures were computed by an independent program (numpy) for these
// surfaces; which motions are undetermined is that of Gelfand et al. 2003.
func TestEigenvaluesOfSlidingSurfaces(t *testing.T) {
	var plane, cylinder, cube []point
	for i := range 101 {
		for j := range 61 {
			plane = append(plane, point{geom.Vec{X: 10 * float64(i), Y: 10 * float64(j)}, geom.Vec{Z: 1}})
			s, c := math.Sincos(-0.5 + float64(i)/100)
			cylinder = append(cylinder, point{geom.Vec{X: 1000 * s, Y: 10 * float64(j), Z: 1000 * c}, geom.Vec{X: s, Z: c}})
		}
	}
	for axis := range 3 {
		for _, side := range []float64{0, 1} {
			for i := range 21 {
				for j := range 21 {
					c := [3]float64{}
					n := [3]float64{}
					c[axis], c[(axis+1)%3], c[(axis+2)%3] = side, float64(i)/20, float64(j)/20
					n[axis] = 2*side - 1
					cube = append(cube, point{geom.Vec{X: c[0], Y: c[1], Z: c[2]}, geom.Vec{X: n[0], Y: n[1], Z: n[2]}})
				}
			}
		}
	}
	for name, c := range map[string]struct {
		points []point
		want   vec6
		tol    float64
	}{
		"plane":    {plane, vec6{0, 0, 0, 0.311, 0.853, 1.000}, 0.0005},
		"cylinder": {cylinder, vec6{0, 0, 0.0255, 0.290, 0.835, 0.919}, 0.0005},
		"cube":     {cube, vec6{0.1435, 0.1435, 0.1435, 0.3333, 0.3333, 0.3333}, 0.00005},
	} {
		got := meanSquares(c.points)
		for i := range 6 {
			require.InDelta(t, c.want[i], got[i], c.tol, "%s, eigenvalue %d of %v", name, i, got)
		}
	}
}

// A sphere's cap turns freely about the sphere's centre in all three ways.
// The figures were computed by an independent program (numpy).
func TestASphereCapTurnsFreely(t *testing.T) {
	var cap []point
	const rings = 40
	for i := range rings {
		// Rings of equal area.
		h := math.Cos(0.3) + (1-math.Cos(0.3))*(float64(i)+0.5)/rings
		r := math.Sqrt(1 - h*h)
		for k := range 90 {
			s, c := math.Sincos(2 * math.Pi * (float64(k) + 0.5*float64(i%2)) / 90)
			n := geom.Vec{X: r * c, Y: r * s, Z: h}
			cap = append(cap, point{n.Scale(1000), n})
		}
	}
	got := meanSquares(cap)
	for i, want := range []float64{0, 0, 0, 0.55, 0.56, 0.96} {
		require.InDelta(t, want, got[i], 0.01, "eigenvalue %d of %v", i, got)
	}
}

// How far the noise of each of 6161 points lets a door-like skin slide,
// computed by an independent program (numpy): 348 times the noise along the flatter way, 38 along the other, 0.21
// as a turn, 0.013 along the normal for radii of 8 and 2 m; 28 and 11 for 3 and 1.5 m.
func TestADoorLikeSkinSlides(t *testing.T) {
	for _, c := range []struct {
		r1, r2 float64
		want   []float64
	}{
		{8000, 2000, []float64{348, 38, 0.21}},
		{3000, 1500, []float64{28, 11}},
	} {
		var skin []point
		for i := range 101 {
			for k := range 61 {
				x, y := 10*float64(i-50), 10*float64(k-30)
				skin = append(skin, point{geom.Vec{X: x, Y: y, Z: -x*x/(2*c.r1) - y*y/(2*c.r2)}, geom.Vec{X: x / c.r1, Y: y / c.r2, Z: 1}.Unit()})
			}
		}
		got := meanSquares(skin)
		for i, want := range c.want {
			sd := 1 / math.Sqrt(got[i]*float64(len(skin)))
			require.InEpsilon(t, want, sd, 0.05, "direction %d of radii %g and %g", i, c.r1, c.r2)
		}
		require.InEpsilon(t, 0.013, 1/math.Sqrt(got[5]*float64(len(skin))), 0.05)
	}
}

func noisy(m *mesh.Mesh, sd float64, seed uint64) *mesh.Mesh {
	rng := rand.New(rand.NewPCG(seed, 1))
	out := &mesh.Mesh{Faces: m.Faces}
	for _, v := range m.Vertices {
		out.Vertices = append(out.Vertices, v.Add(geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(sd)))
	}
	return out
}

func TestAFlatPanelIsFreeInThreeMotions(t *testing.T) {
	ref := sheet(geom.Vec{}, geom.Vec{X: 900}, geom.Vec{Y: 500}, 12)
	part := sheet(geom.Vec{X: 200, Y: 100}, geom.Vec{X: 480}, geom.Vec{Y: 300}, 7)
	scan := noisy(part, 0.03, 1)
	p, err := Describe(context.Background(), "given", geom.Identity(), scan, surfaceOf(t, ref), Settings{})
	require.NoError(t, err)
	require.Equal(t, [6]bool{true, true, false, false, false, true}, p.Free, "slides along X and Y, turn about Z: %q", p.Notes)
	require.Contains(t, strings.Join(p.Notes, " "), "turning about an axis along Z")
	require.Positive(t, p.Sigma[2])
	require.Zero(t, p.Sigma[0])
	require.InDelta(t, 0.03, p.RMS, 0.004)

	fitted, err := BestFit(context.Background(), scan.Moved(randomPose(rand.New(rand.NewPCG(4, 4)))), surfaceOf(t, ref), Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, p.Free, fitted.Free, "%q", fitted.Notes)
	require.Contains(t, strings.Join(fitted.Notes, " "), "hardly changes the deviations")
	require.False(t, fitted.Ambiguous, "free motions already say that other poses fit")
}

func tube(radius, length, angle, step float64) *mesh.Mesh {
	m := sheet(geom.Vec{}, geom.Vec{X: radius * angle}, geom.Vec{Y: length}, step)
	for i, v := range m.Vertices {
		s, c := math.Sincos(v.X/radius - angle/2)
		m.Vertices[i] = geom.Vec{X: radius * s, Y: v.Y, Z: radius * c}
	}
	return m
}

func TestACylinderIsFreeAlongAndAboutItsAxis(t *testing.T) {
	s := surfaceOf(t, tube(1000, 600, 1, 15))
	part := tube(1000, 300, 0.6, 9)
	for i := range part.Vertices {
		part.Vertices[i].Y += 150
	}
	p, err := Describe(context.Background(), "given", geom.Identity(), noisy(part, 0.03, 2), s, Settings{})
	require.NoError(t, err)
	// The axis is along Y through the origin; the centre of the points lies a
	// radius above it, so that turning about the axis shifts the centre along X.
	require.Equal(t, [6]bool{true, true, false, false, true, false}, p.Free, "%q", p.Notes)
	notes := strings.Join(p.Notes, " ")
	require.Contains(t, notes, "sliding along Y")
	require.Contains(t, notes, "turning about an axis along Y through (0, ")
}

func TestTheSkinCarriesChordsBackToTheCurve(t *testing.T) {
	// Chords of 60 mm on a radius of 1000 mm sag by 0.45 mm in the middle.
	m := tube(1000, 600, 1, 60)
	s := surfaceOf(t, m)
	ref := newReference(context.Background(), s, 0)
	worst := 0.0
	for k := range 200 {
		sn, cs := math.Sincos(-0.4 + 0.8*unitHash(9, uint64(k)))
		p := geom.Vec{X: 1000 * sn, Y: 100 + 400*unitHash(8, uint64(k)), Z: 1000 * cs}
		hit, ok := s.NewFinder().Closest(p, 5)
		require.True(t, ok)
		q, n := ref.curved(hit.Face, hit.Point)
		worst = max(worst, math.Abs(p.Sub(q).Dot(n)))
		require.InDelta(t, 1, n.Dot(geom.Vec{X: sn, Z: cs}), 1e-5)
	}
	require.Less(t, worst, 0.01, "mm off the true cylinder; the facets are up to 0.45 mm off")
}

func TestOneSlantedSlideFreesEveryAxisItInvolves(t *testing.T) {
	turn := geom.Rotation(geom.Vec{Z: 1}, math.Pi/6)
	m := tube(500, 600, 1.2, 15).Moved(turn)
	p, err := Describe(context.Background(), "given", geom.Identity(), noisy(m, 0.03, 3), surfaceOf(t, m), Settings{})
	require.NoError(t, err)
	require.True(t, p.Free[0] && p.Free[1], "%v %q", p.Free, p.Notes)
	require.Contains(t, strings.Join(p.Notes, " "), "sliding along (-0.50, 0.87, 0.00)")
}
