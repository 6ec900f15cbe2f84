package gapflush

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Where paths are walked against themselves, as drawn here; corners, loops and
// neighbouring gaps are not.
func TestWalkedAgainstItself(t *testing.T) {
	var ring []geom.Vec
	for i := range 73 {
		sn, cs := math.Sincos(float64(i) * 5 * math.Pi / 180)
		ring = append(ring, geom.Vec{X: 60 * cs, Y: 60 * sn})
	}
	for name, c := range map[string]struct {
		path []geom.Vec
		back [][2]float64 // stretches in mm, from and to
	}{
		"straight":                      {[]geom.Vec{{}, {Y: 300}}, nil},
		"there and back":                {[]geom.Vec{{}, {Y: 300}, {}}, [][2]float64{{300, 600}}},
		"back farther than it began":    {[]geom.Vec{{Y: 100}, {Y: 200}, {Y: 0}}, [][2]float64{{100, 300}}},
		"back for a stretch":            {[]geom.Vec{{}, {Y: 200}, {Y: 150}, {Y: 400}}, [][2]float64{{200, 250}}},
		"two gaps 20 mm apart":          {[]geom.Vec{{}, {Y: 200}, {X: 20, Y: 200}, {X: 20}}, nil},
		"a corner of 60 degrees":        {[]geom.Vec{{}, {Y: 200}, {X: 200 * math.Sqrt(3) / 2, Y: 100}}, nil},
		"twice round, the same way":     {append(append([]geom.Vec{}, ring...), ring[1:]...), nil},
		"one point 200 mm aside":        {[]geom.Vec{{}, {Y: 150}, {X: 200, Y: 180}, {Y: 200}, {Y: 400}}, nil},
		"two points 200 mm aside":       {[]geom.Vec{{}, {Y: 50}, {X: 200, Y: 60}, {Y: 80}, {Y: 200}, {X: -200, Y: 200}, {Y: 230}, {Y: 400}}, nil},
		"back, and a point aside":       {[]geom.Vec{{}, {Y: 300}, {Y: 200}, {X: 150, Y: 180}, {Y: 160}, {}}, [][2]float64{{300, 398}, {398, 705}, {705, 900}}},
		"a step back of 3 mm by a slip": {[]geom.Vec{{}, {Y: 100}, {Y: 97}, {Y: 200}}, nil},
	} {
		p, err := newPolyline(c.path)
		require.NoError(t, err)
		w, err := walk(context.Background(), p)
		require.NoError(t, err)
		for s := 0.5; s < p.full; s++ {
			want, near := false, false
			for _, b := range c.back {
				want = want || s > b[0] && s < b[1]
				near = near || math.Abs(s-b[0]) < 6 || math.Abs(s-b[1]) < 6
			}
			if !near {
				require.Equal(t, want, w.against(s), "%s, at %g mm", name, s)
			}
		}
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	p, err := newPolyline([]geom.Vec{{}, {Y: 300}})
	require.NoError(t, err)
	_, err = walk(stopped, p)
	require.ErrorIs(t, err, context.Canceled)
}

// A path over the edge of a body keeps its outward direction: along X on the top, then
// down the front, which looks along X.
func TestOutwardTurnsWithThePath(t *testing.T) {
	r := frame{f: geom.Vec{X: 1}, u: geom.Vec{Z: 1}}
	got := carriedTo(geom.Vec{Z: -1}, &r)
	require.InDelta(t, 0, got.Dist(geom.Vec{X: 1}), 1e-12)
	require.Equal(t, r.u, carriedTo(r.f, &r))
	require.Equal(t, geom.Vec{}, carriedTo(geom.Vec{X: -1}, &r))
	raws := make([]raw, 8)
	for i := range raws {
		raws[i] = raw{outU: true, state: Measured, frame: r}
		if i >= 4 {
			raws[i].frame = frame{f: geom.Vec{Z: -1}, u: geom.Vec{X: 1}}
		}
	}
	raws[2].frame.u = geom.Vec{Z: -1}
	refuseTurned(raws, 1)
	for i := range raws {
		if i == 2 {
			require.Equal(t, TwoSkins, raws[i].state)
			continue
		}
		require.Equal(t, Measured, raws[i].state, "station %d", i+1)
	}
}

// A path that crosses itself is told where, one that comes along its own start again too; a
// closed one round a door neither crosses itself nor comes anywhere twice.
func TestPathsThatComeBack(t *testing.T) {
	walkOn := func(pts ...geom.Vec) *walked {
		p, err := newPolyline(pts)
		require.NoError(t, err)
		w, err := walk(context.Background(), p)
		require.NoError(t, err)
		return w
	}
	cross := walkOn(geom.Vec{}, geom.Vec{X: 200}, geom.Vec{X: 200, Y: 100}, geom.Vec{X: 100, Y: 100}, geom.Vec{X: 100, Y: -100})
	require.InDelta(t, 100, cross.crossing[0], 10)
	require.InDelta(t, 500, cross.crossing[1], 10)
	door := walkOn(geom.Vec{}, geom.Vec{X: 200}, geom.Vec{X: 200, Y: 100}, geom.Vec{Y: 100}, geom.Vec{})
	require.Zero(t, door.crossing[1])
	twice := walkOn(geom.Vec{}, geom.Vec{X: 200}, geom.Vec{X: 200, Y: 100}, geom.Vec{Y: 100}, geom.Vec{}, geom.Vec{X: 150})
	for s := 5.0; s < 600; s += 10 {
		require.False(t, door.again(s), "%g", s)
		require.False(t, twice.again(s), "%g", s)
	}
	require.True(t, twice.again(700))
}
