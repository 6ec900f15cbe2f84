package align

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// rimmed leaves out round holes, given by middle and radius in the plane, and draws the vertices beside them onto their rims.
func rimmed(m *mesh.Mesh, step float64, holes map[geom.Vec]float64) *mesh.Mesh {
	m = bodywork.Mapped(m, func(p geom.Vec) geom.Vec {
		for at, r := range holes {
			d := p.Sub(at)
			if size := d.Norm(); math.Abs(size-r) < step/2 && size > 0 {
				return at.AddScaled(r/size, d)
			}
		}
		return p
	})
	return bodywork.Without(m, func(p geom.Vec) bool {
		for at, r := range holes {
			if p.Dist(at) < r-1e-6 {
				return true
			}
		}
		return false
	})
}

// channel folds a sheet along Y into a U of three sides of 60, 100 and 60 mm.
func channel(p geom.Vec) geom.Vec {
	switch {
	case p.X < 60:
		return geom.Vec{Y: p.Y, Z: 60 - p.X}
	case p.X > 160:
		return geom.Vec{X: 100, Y: p.Y, Z: p.X - 160}
	}
	return geom.Vec{X: p.X - 60, Y: p.Y}
}

// The skin of a channel says neither where along itself it lies nor which end is which; a hole says both, and two that lie alike
// from either end leave it open which is which.
func TestHolesTellWhichWayRoundAChannelLies(t *testing.T) {
	for name, c := range map[string]struct {
		holes     map[geom.Vec]float64
		ambiguous bool
	}{
		"one hole":             {map[geom.Vec]float64{{X: 110, Y: 50}: 8}, false},
		"two, alike from ends": {map[geom.Vec]float64{{X: 110, Y: 50}: 8, {X: 110, Y: 150}: 8}, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := surfaceOf(t, bodywork.Mapped(rimmed(bodywork.Plane(220, 200, 2.5), 2.5, c.holes), channel))
			pose := randomPose(rand.New(rand.NewPCG(5, 8)))
			scan := bodywork.Mapped(rimmed(bodywork.Plane(220, 200, 2), 2, c.holes), channel)
			p, err := BestFit(context.Background(), noisy(scan, 0.02, 3).Moved(pose), s, Settings{}, nil)
			require.NoError(t, err)
			require.Equal(t, c.ambiguous, p.Ambiguous, "%q", p.Notes)
			require.Zero(t, p.directionsFree)
			if !c.ambiguous {
				require.Less(t, placementError(p.ReferenceFromScan, pose, s.Mesh), 0.5)
			}
		})
	}
}

// A part of a plate with rows of holes lies as well beside itself by one hole, but for the plate's ends and a slot: these count.
func TestAPlateIsNotLaidOneHoleFurther(t *testing.T) {
	holes := map[geom.Vec]float64{}
	for i := range 9 {
		for j := range 5 {
			holes[geom.Vec{X: 30 + 30*float64(i), Y: 30 + 30*float64(j)}] = 6
		}
	}
	holes[geom.Vec{X: 75, Y: 45}] = 11
	s := surfaceOf(t, rimmed(bodywork.Plane(300, 180, 2.5), 2.5, holes))
	pose := randomPose(rand.New(rand.NewPCG(7, 8)))
	scan := bodywork.Without(rimmed(bodywork.Plane(300, 180, 2), 2, holes), func(p geom.Vec) bool { return p.X > 190 })
	p, err := BestFit(context.Background(), noisy(scan, 0.02, 3).Moved(pose), s, Settings{}, nil)
	require.NoError(t, err)
	off := placementError(p.ReferenceFromScan, pose, s.Mesh)
	require.True(t, off < 1 || p.Ambiguous, "%g mm off: %q", off, p.Notes)
}

// A straight end of the scan can be slid onto an end of the part, whatever it is: alone it confirms nothing, a second end or a hole does.
func TestAStraightEndAloneConfirmsNothing(t *testing.T) {
	side := func(at, out geom.Vec, row []float64) sight {
		o := sight{at: at, out: out}
		for range 10 {
			o.rows = append(o.rows, row)
		}
		return o
	}
	x := geom.Vec{X: 1}
	b := &borderSet{spacing: 2}
	// One motion, a slide along X; the columns are its change, the inset and the distance.
	end := side(geom.Vec{X: 100}, x, []float64{1, 1, 0})
	sides := []sight{side(geom.Vec{Y: 50}, geom.Vec{Y: 1}, []float64{0, 1, 0}), side(geom.Vec{Y: -50}, geom.Vec{Y: -1}, []float64{0, 1, 0})}
	require.False(t, b.confirmed(append(sides, end), 1, 0))
	require.True(t, b.confirmed(append(sides, end, side(geom.Vec{X: -100}, x.Neg(), []float64{-1, 1, 0})), 1, 0), "ends that face one another")
	require.False(t, b.confirmed(append(sides, end, side(geom.Vec{X: 101, Y: 30}, x, []float64{1, 1, 0})), 1, 0), "two stretches of one cut")
}

// Points on the rim of a scan are told from those that faces surround, and from the sides of a crack.
func TestTheRimOfAScan(t *testing.T) {
	rimOf := func(m *mesh.Mesh) (n int) {
		for _, on := range newCloud(context.Background(), m).rim {
			if on {
				n++
			}
		}
		return n
	}
	sheet := bodywork.Plane(20, 10, 1)
	require.Equal(t, 60, rimOf(sheet), "twice 20 and 10 edges of 1 mm")
	// The same sheet in two halves that share no vertices.
	left := bodywork.Without(sheet, func(p geom.Vec) bool { return p.X > 10 })
	right := bodywork.Without(sheet, func(p geom.Vec) bool { return p.X < 10 })
	require.Equal(t, 58, rimOf(bodywork.Together(left, right)), "but for the crack's two ends, which look like its sides")
	soup := &mesh.Mesh{}
	for f := range sheet.Faces {
		a, b, c := sheet.Corners(uint32(f))
		n := uint32(len(soup.Vertices))
		soup.Vertices = append(soup.Vertices, a, b, c)
		soup.Faces = append(soup.Faces, [3]uint32{n, n + 1, n + 2})
	}
	require.Zero(t, rimOf(soup))
}

// A patch of a cylinder that is twisted by 1.8 mm at its corners fits a straight one best where it is turned by 0.6 degrees on it: the
// twist over the product of half its sides, times the radius (z = -x²/2R turned by a gains a x y / R). Its edges show it.
func TestATwistedPanelIsNotStraightenedWithoutAWord(t *testing.T) {
	const radius, angle, long, twist = 1500.0, 0.5, 700.0, 1.8
	patch := func(step float64) *mesh.Mesh {
		m := bodywork.CylinderPatch(radius, angle, long, step)
		back := geom.Identity()
		back.T = m.Bounds().Center().Neg()
		return m.Moved(back)
	}
	ref := patch(4)
	half := ref.Bounds().Size().Scale(0.5)
	scan := bodywork.Mapped(patch(3), func(p geom.Vec) geom.Vec {
		p.Z += twist * p.X / half.X * p.Y / half.Y
		return p
	})
	p, err := BestFit(context.Background(), noisy(scan, 0.03, 2), surfaceOf(t, ref), Settings{}, nil)
	require.NoError(t, err)
	expected := twist / (half.X * half.Y) * radius * 180 / math.Pi
	t.Logf("turned by %.2f degrees of %.2f; %q", p.ReferenceFromScan.Angle()*180/math.Pi, expected, p.Notes)
	require.True(t, p.Ambiguous)
	require.Contains(t, strings.Join(p.Notes, " "), "The part's borders would lie along the reference's if the scan were moved")

	straight, err := BestFit(context.Background(), noisy(patch(3), 0.03, 2), surfaceOf(t, ref), Settings{}, nil)
	require.NoError(t, err)
	require.NotContains(t, strings.Join(straight.Notes, " "), "The part's borders would lie")
}

// A raised ring turns about itself; the facets of a coarse reference and noise that neighbours share seem to hold it a degree off. The
// holes and ends of the sheet, which skin and borders together speak for, put it right.
func TestHolesPutATurnRightThatFacetsSeemToHold(t *testing.T) {
	holes := map[geom.Vec]float64{{X: 130, Y: 130}: 25}
	for i := range 5 {
		sin, cos := geom.Sincos(2*math.Pi*float64(i)/5 + 0.3)
		r := 60.0
		if i == 2 {
			r = 61
		}
		holes[geom.Vec{X: 130 + r*cos, Y: 130 + r*sin}] = 8
	}
	ring := func(p geom.Vec) geom.Vec {
		p.Z = 20 / (1 + math.Exp((math.Hypot(p.X-130, p.Y-130)-90)/3))
		return p
	}
	s := surfaceOf(t, bodywork.Mapped(rimmed(bodywork.Plane(260, 260, 4), 4, holes), ring))
	scan := bodywork.Mapped(rimmed(bodywork.Plane(260, 260, 1.6), 1.6, holes), ring)
	for seed := range uint64(3) {
		p, err := BestFit(context.Background(), bodywork.WithSmoothNoise(scan, 0.2, 6, seed), s, Settings{}, nil)
		require.NoError(t, err)
		require.NotEmpty(t, p.Borders)
		require.Less(t, placementError(p.ReferenceFromScan, geom.Identity(), s.Mesh), 1.2, "mm, where the skin alone lies up to 1.7 mm off")
		requireInside(t, &p)
	}
}
