package crosscut_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

func cut(t *testing.T, scan, ref *mesh.Mesh, spec crosscut.Spec) *crosscut.Section {
	t.Helper()
	s, err := tryCut(t, scan, ref, spec)
	require.NoError(t, err)
	return s
}

func tryCut(t *testing.T, scan, ref *mesh.Mesh, spec crosscut.Spec) (*crosscut.Section, error) {
	t.Helper()
	ctx := context.Background()
	var on *surface.Surface
	if ref != nil {
		var err error
		on, err = surface.New(ctx, ref, 0, nil)
		require.NoError(t, err)
	}
	m, err := crosscut.NewMaker(ctx, scan, scan.VertexNormals(), on, 10, verdict.Tolerance{Lo: -0.5, Hi: 0.5}, 0)
	require.NoError(t, err)
	return m.Cut(ctx, spec)
}

// A cylinder about Y of 80 mm: cut square to Y its curve is the circle.
func TestACylinderReadsItsRadiusAndTheDifferenceOfTwo(t *testing.T) {
	scan := bodywork.WithNoise(bodywork.CylinderPatch(80.6, 0.8, 60, 1), 0.03, 1)
	ref := bodywork.CylinderPatch(80, 0.9, 80, 0.5)
	top := geom.Vec{Y: 30, Z: 80}
	s := cut(t, scan, ref, crosscut.Spec{Point: geom.Vec{Y: 30}, Normal: geom.Vec{Y: 2}, Radii: []crosscut.RadiusSpec{{Name: "roof", At: top, Within: 40}, {Name: "nowhere", At: geom.Vec{Y: 30}, Within: 5}}})
	require.Equal(t, geom.Vec{Z: 1}, s.Up)
	require.Equal(t, geom.Vec{X: 1}, s.Across)
	r := s.Readings[0]
	require.True(t, r.Scan.OK)
	require.InDelta(t, 80.6, r.Scan.V, r.Scan.U+0.02)
	require.Less(t, r.Scan.U, 0.5)
	require.InDelta(t, 80, r.Reference.V, 0.01)
	require.False(t, s.Readings[1].Scan.OK)
	require.Contains(t, s.Readings[1].Why, "its place lies 80.")
	require.InDelta(t, 0.6, s.Figures.Mean, 0.02, "0.6 mm proud all along")
	require.Greater(t, s.Figures.Measured, s.Figures.Points*9/10)
	require.InDelta(t, 2*0.8*80.6, s.Figures.Length, 1, "arc length r times angle")
	for _, c := range s.Scan {
		for k, p := range c.Points {
			require.InDelta(t, 80.6, math.Hypot(p.H, p.V), 0.2)
			require.Greater(t, p.H*c.Out[k].H+p.V*c.Out[k].V, 0.0, "out is away from the axis")
			if c.State[k] == deviation.Measured {
				require.InDelta(t, 0.6, c.Deviation[k], 0.2)
			}
		}
	}
}

// U covers the truth: of many noisy scans of a known radius, about 95 % lie within it.
func TestTheRadiusUncertaintyHolds(t *testing.T) {
	const runs = 60
	in := 0
	for seed := range uint64(runs) {
		scan := bodywork.WithNoise(bodywork.CylinderPatch(40, 0.6, 20, 1), 0.05, seed)
		s := cut(t, scan, nil, crosscut.Spec{Point: geom.Vec{Y: 10.3}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{{At: geom.Vec{Y: 10.3, Z: 40}, Within: 20}}})
		r := s.Readings[0].Scan
		require.True(t, r.OK, s.Readings[0].Why)
		if math.Abs(r.V-40) <= r.U {
			in++
		}
	}
	require.GreaterOrEqual(t, in, runs*90/100)
}

func roof(slope float64) *mesh.Mesh {
	return bodywork.Mapped(bodywork.Plane(200, 60, 1), func(p geom.Vec) geom.Vec {
		return geom.Vec{X: p.X, Y: p.Y, Z: -slope * math.Abs(p.X-100)}
	})
}

func TestTheAngleBetweenTwoStretches(t *testing.T) {
	slope := math.Tan(20 * math.Pi / 180)
	spec := crosscut.Spec{Point: geom.Vec{Y: 30.2}, Normal: geom.Vec{Y: 1}, Angles: []crosscut.AngleSpec{
		{Name: "ridge", Between: [2]geom.Vec{{X: 60, Y: 30, Z: -40 * slope}, {X: 140, Y: 30, Z: -40 * slope}}, Within: 20},
		{Name: "over the ridge", Between: [2]geom.Vec{{X: 100, Y: 30}, {X: 140, Y: 30, Z: -40 * slope}}, Within: 20},
	}}
	s := cut(t, bodywork.WithNoise(roof(slope), 0.05, 2), roof(slope), spec)
	in := 0
	const runs = 60
	for seed := range uint64(runs) {
		a := cut(t, bodywork.WithNoise(roof(slope), 0.05, seed), nil, spec).Readings[0].Scan
		require.True(t, a.OK)
		require.Less(t, a.U, 0.3*math.Pi/180)
		if math.Abs(a.V-140*math.Pi/180) <= a.U {
			in++
		}
	}
	require.GreaterOrEqual(t, in, runs*90/100, "U covers the truth 95 times of 100")
	require.InDelta(t, 140*math.Pi/180, s.Readings[0].Reference.V, 1e-9)
	require.False(t, s.Readings[1].Scan.OK)
	require.Contains(t, s.Readings[1].Why, "not straight within 20 mm of place 1")
}

func TestAPlaneThatMissesSaysByHowMuch(t *testing.T) {
	m := bodywork.Plane(200, 60, 2)
	_, err := tryCut(t, m, nil, crosscut.Spec{Point: geom.Vec{X: -50}, Normal: geom.Vec{X: 1}})
	require.ErrorIs(t, err, crosscut.ErrMisses)
	require.ErrorContains(t, err, "from 50.0 to 250.0 mm along the plane's normal")
	_, err = tryCut(t, m, nil, crosscut.Spec{Point: geom.Vec{X: 50, Y: 30, Z: 40}, Normal: geom.Vec{X: 1}, Within: 20})
	require.ErrorContains(t, err, "within 20 mm of its point")
	_, err = tryCut(t, m, nil, crosscut.Spec{Point: geom.Vec{}, Normal: geom.Vec{X: 1}})
	require.ErrorContains(t, err, "touches its end: it lies from 0.0 to 200.0 mm")
	apart := bodywork.Together(m, bodywork.Mapped(m, func(p geom.Vec) geom.Vec { return p.Add(geom.Vec{X: 300}) }))
	between := crosscut.Spec{Name: "between", Point: geom.Vec{X: 250}, Normal: geom.Vec{X: 1}, Radii: []crosscut.RadiusSpec{{Name: "r", At: geom.Vec{X: 250, Y: 4}, Within: 3}}}
	_, err = tryCut(t, apart, nil, between)
	require.ErrorContains(t, err, "passes between parts of it")
	none := crosscut.Missed(between, err)
	require.Equal(t, err.Error(), none.Missing)
	require.Len(t, none.Readings, 1)
	require.False(t, none.Readings[0].Scan.OK)
	require.Equal(t, crosscut.Point2{H: 4}, none.Readings[0].At[0])
	// A flat stretch has no radius.
	s := cut(t, m, nil, crosscut.Spec{Point: geom.Vec{Y: 30}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{{At: geom.Vec{X: 100, Y: 30}, Within: 30}}})
	require.False(t, s.Readings[0].Scan.OK)
	require.Contains(t, s.Readings[0].Why, "straight")
	require.False(t, s.HasReference)
}

// Read-outs whose places cannot give what is asked for say why: off the plane, or two stretches that share a part of the curve.
func TestReadOutsSayWhatIsWrongWithTheirPlaces(t *testing.T) {
	m := bodywork.WithNoise(bodywork.CylinderPatch(80, 0.8, 60, 1), 0.03, 1)
	on := func(degrees, y float64) geom.Vec {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return geom.Vec{X: 80 * sin, Y: y, Z: 80 * cos}
	}
	spec := crosscut.Spec{Point: geom.Vec{Y: 30}, Normal: geom.Vec{Y: -3}, Radii: []crosscut.RadiusSpec{{At: on(0, 55), Within: 20}, {At: on(0, 42), Within: 20}},
		Angles: []crosscut.AngleSpec{
			{Between: [2]geom.Vec{on(-20, 30), on(20, 44)}, Within: 6},
			{Between: [2]geom.Vec{on(-3, 30), on(3, 30)}, Within: 6},
			{Between: [2]geom.Vec{on(-3, 30), on(3, 30)}, Within: 4}}}
	s := cut(t, m, nil, spec)
	require.Equal(t, "its place lies 25.0 mm off the plane, and only what lies within 20 mm of it is looked at; put it into the plane", s.Readings[0].Why)
	require.True(t, s.Readings[1].Scan.OK, s.Readings[1].Why)
	require.Contains(t, s.Readings[2].Why, "place 2 lies 14.0 mm off the plane")
	// 6° of 80 mm are 8.4 mm along a chord: stretches of 6 mm either way share a third.
	require.Contains(t, s.Readings[3].Why, "share")
	require.Contains(t, s.Readings[3].Why, "take a within under 4.2 mm")
	require.True(t, s.Readings[4].Scan.OK, s.Readings[4].Why)
	require.InDelta(t, 174*math.Pi/180, s.Readings[4].Scan.V, 2*math.Pi/180)
}

// A cut through a box is closed: its length is the whole way round, and it looks outward at every corner.
func TestAClosedCurveIsMeasuredAllTheWayRound(t *testing.T) {
	at := func(k int) geom.Vec { // corner k of a box of 30 by 20 by 10 mm
		return geom.Vec{X: float64(30 * (k & 1)), Y: float64(20 * (k >> 1 & 1)), Z: float64(10 * (k >> 2))}
	}
	box := &mesh.Mesh{Faces: [][3]uint32{
		{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
		{2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5},
	}}
	for k := range 8 {
		box.Vertices = append(box.Vertices, at(k))
	}
	s := cut(t, box, box, crosscut.Spec{Point: geom.Vec{X: 15, Y: 10, Z: 5}, Normal: geom.Vec{Y: 1}})
	require.Len(t, s.Scan, 1)
	require.True(t, s.Scan[0].Closed)
	require.InDelta(t, 2*(30+10), s.Figures.Length, 1e-9)
	for k, p := range s.Scan[0].Points {
		require.Positive(t, p.H*s.Scan[0].Out[k].H+p.V*s.Scan[0].Out[k].V, "place %d", k)
	}
}

// A row carries its place straight along its axis; where the curve runs otherwise the reason names the place on it, and a section
// with that place reads the radius. The ridge is a cylinder about (1, 1, 0) by its formula: square to Y its cut is wider by the root of 2
// across, so that at its top the radius is 2 r.
func TestWhereARowRunsOffItsCurveThePlaceOnItIsNamed(t *testing.T) {
	const r = 10.0
	m := bodywork.Mapped(bodywork.Plane(120, 120, 0.5), func(p geom.Vec) geom.Vec {
		across := (p.X - p.Y) / math.Sqrt2
		return geom.Vec{X: p.X, Y: p.Y, Z: math.Sqrt(math.Max(0, r*r-across*across))}
	})
	spec := crosscut.Spec{Name: crosscut.InRow("ridge", "y", 80), Point: geom.Vec{Y: 80}, Normal: geom.Vec{Y: 1}, Radii: []crosscut.RadiusSpec{{At: geom.Vec{X: 60, Y: 80, Z: r}, Within: 5}}}
	why := cut(t, m, nil, spec).Readings[0].Why
	require.Contains(t, why, "a row carries its place straight along its axis")
	require.Regexp(t, `nearest place of the curve, \[\d+\.\d, 80\.0, \d+\.\d\]`, why)
	spec.Name, spec.Radii[0].At = "alone", geom.Vec{X: 80, Y: 80, Z: r}
	v := cut(t, m, nil, spec).Readings[0].Scan
	require.True(t, v.OK)
	require.InDelta(t, 2*r, v.V, v.U+0.3)
	spec.Radii[0].At = geom.Vec{X: 40, Y: 80, Z: r}
	require.Contains(t, cut(t, m, nil, spec).Readings[0].Why, "put it on the curve")
}
