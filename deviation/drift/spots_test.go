package drift

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// A plate of strips 20 mm wide that tilt to and fro by 0.1 is plain in the mean of each cell of 80 mm, so that the means tell nothing of a
// shear in its plane, u = g/2 (y, x): 1 mm of it moves a strip at x by ±0.1·0.5 x/L along its normal. By the textbook's least squares
// its standard deviation is then that of a sample over the root of the sum of the squares of that, less a fifth that looks like a plane over the
// cell: strips at -30, -10, 10, 30 mm that go +, -, +, - have (Σ s v)² / Σ v² = 1600/2000 of their 4.
func TestPartsTellWhatTurnsInsideACell(t *testing.T) {
	const long, wide, h, noise, tilt, shear = 1600.0, 800.0, 80.0, 0.05, 0.1, 0.4
	f := Frame{Axes: [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Size: [3]float64{long, wide, 20}}
	random := rand.New(rand.NewPCG(1, 2))
	var list []sample
	squares := 0.0
	for x := -long/2 + 5; x < long/2; x += 10 {
		for y := -wide/2 + 5; y < wide/2; y += 10 {
			n := geom.Vec{Y: tilt, Z: 1}
			if int(math.Floor(y/20))%2 == 0 {
				n.Y = -tilt
			}
			s := sample{ok: true, area: 100, q: geom.Vec{X: x, Y: y}, n: n}
			j := f.rowAt(s.q, s.n)
			s.d = shear*j[ShearLongMiddle] + 0.3*j[Twist] + noise*random.NormFloat64()
			squares += math.Pow(0.5*tilt*x/long, 2)
			list = append(list, s)
		}
	}
	cells := cellsOf(list, &f, h, noise, nil)
	_, w, err := finely(context.Background(), list, cells, &f, h, nil, 1)
	require.NoError(t, err)
	require.InEpsilon(t, noise, math.Sqrt(w.variance), 0.03)
	sd := math.Sqrt(w.variance / w.a[ShearLongMiddle][ShearLongMiddle])
	require.InEpsilon(t, noise/math.Sqrt(0.8*squares), sd, 0.03)
	require.InDelta(t, shear, w.b[ShearLongMiddle]/w.a[ShearLongMiddle][ShearLongMiddle], 3*sd)
	// What is plane over a cell is the means' to tell.
	require.Less(t, w.a[BendShort][BendShort], 1e-3*float64(len(list)))
	_, none, err := finely(context.Background(), list[:50], cells, &f, h, nil, 1)
	require.NoError(t, err)
	require.Zero(t, none.variance)
}

// A wing that is wrong takes nothing of the door beside it along, behind the gap; of one panel what lies beside goes with it.
func TestWhatIsSetAsideEndsAtTheGap(t *testing.T) {
	const h = 80.0
	cellsWith := func(door uint32) (cells []cell) {
		for i := range 10 {
			for k := range 8 {
				c := cell{area: h * h, at: geom.Vec{X: h * float64(i), Y: h * float64(k)}, n: 50}
				if i < 3 {
					c.d = 1
				} else {
					c.key.piece = door
				}
				cells = append(cells, c)
			}
		}
		return cells
	}
	beyond := func(cells []cell) (n int) {
		var none row
		setAside(cells, &none, 0.1, h)
		for _, c := range cells {
			if c.out && c.d == 0 {
				n++
			}
		}
		return n
	}
	require.Zero(t, beyond(cellsWith(1)))
	require.NotZero(t, beyond(cellsWith(0)))
	cells := cellsWith(1)
	beyond(cells)
	require.Zero(t, rimmedShare(cells))
	cells = cellsWith(0)
	beyond(cells)
	require.Greater(t, rimmedShare(cells), 0.25)
}

// A cell of three samples may lie off by more than one of fifty before it counts as another panel.
func TestCellsOfFewSamplesMayScatter(t *testing.T) {
	var cells []cell
	for range 20 {
		cells = append(cells, cell{area: 6400, noise: 0.04 * 0.04 / 50})
	}
	cells = append(cells, cell{area: 90, noise: 0.04 * 0.04 / 3})
	l := limits(cells, 0.03)
	require.InDelta(t, 0.03, l[0], 1e-12)
	require.InDelta(t, math.Hypot(0.03, tukeyTuning*0.04*math.Sqrt(1.0/3-1.0/50)), l[20], 1e-9)
}

// The mean of three spots far apart, each of four samples that share a share of their variance, varies by (share + (1 - share)/4)/3 of a
// sample's; of spots on one place that share all of it by as much as one does.
func TestNoiseThatSpotsShareIsNotTakenForMore(t *testing.T) {
	const share, reach = 0.6, 5.0
	var apart, together []spot
	for k := range 3 {
		s := spot{n: 4, d: float64(k), at: geom.Vec{X: 100 * float64(k), Y: 80 * float64(k*k)}}
		apart = append(apart, s)
		s.at = s.at.Scale(1e-9)
		together = append(together, s)
	}
	c := cell{key: cellKey{side: 2}}
	one := tell(apart, &c, sharing{share, reach}, false)
	require.True(t, one.ok)
	require.InDelta(t, (share+(1-share)/4)/3, one.own, 1e-12)
	require.InDelta(t, 1, one.d, 1e-12)
	one = tell(together, &c, sharing{share, reach}, false)
	require.InDelta(t, share+(1-share)/12, one.own, 1e-9)
}

// Noise of which a known share hangs together over a known distance is told as such, to the nearest of what is tried; and the standard
// deviation that follows for a mean is true: the means of n cells of such noise scatter by it to 1 in √(2n).
func TestHowNoiseIsSharedIsTold(t *testing.T) {
	const h, step, white, shared, length = 64.0, 2.5, 0.03, 0.03, 8.0
	m := bodywork.Plane(14*h, 14*h, step)
	shaken := bodywork.WithSmoothNoise(bodywork.WithNoise(m, white, 3), shared, length, 4)
	f := Frame{Axes: [3]geom.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Size: [3]float64{14 * h, 14 * h, 20}}
	var list []sample
	for i, p := range shaken.Vertices {
		at := m.Vertices[i]
		list = append(list, sample{ok: true, area: step * step, p: p, q: geom.Vec{X: at.X, Y: at.Y}, n: geom.Vec{Z: 1}, d: p.Z - at.Z})
	}
	cells := cellsOf(list, &f, h, white, nil)
	ctx := context.Background()
	spots, err := spotsOf(ctx, list, cells, &f, h, nil, 2)
	require.NoError(t, err)
	how, err := sharingOf(ctx, spots, cells, h, 2)
	require.NoError(t, err)
	require.InDelta(t, length, how.reach, 2.5)
	require.InDelta(t, 0.5, how.share, 0.21)
	fine, in, err := refined(ctx, spots, cells, how, 2)
	require.NoError(t, err)
	require.InEpsilon(t, math.Hypot(white, shared), math.Sqrt(in.variance), 0.1)
	sum, n := 0.0, 0.0
	for i := range fine {
		if len(spots[i]) > 100 { // whole ones
			sum += fine[i].d * fine[i].d / (in.variance * fine[i].own)
			n++
		}
	}
	require.Greater(t, n, 150.0)
	require.InDelta(t, 1, math.Sqrt(sum/n), 3/math.Sqrt(2*n))
}
