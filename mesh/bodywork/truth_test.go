package bodywork

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Two edge rolls r = 1, centres 6.0 apart along the faces and -0.8 across:
// worked by hand, gap 6-2 = 4, feeler hypot(6, 0.8)-2 = 4.0531, flush -0.8.
func TestMeasureOfTwoRolls(t *testing.T) {
	a := CircleProfile(Point2{0, 1}, Point2{1, 0}, 1)
	b := CircleProfile(Point2{6, 0.2}, Point2{-1, 0}, 1)
	m := Measure([2]Profile{a, b}, 0)
	require.InDelta(t, 4, m.Gap, 1e-12)
	require.InDelta(t, math.Hypot(6, 0.8)-2, m.Feeler, 1e-9)
	require.InDelta(t, -0.8, m.Flush, 1e-12)
	require.InDelta(t, 0, m.Angle, 1e-12)
	require.InDelta(t, math.Pi/2, m.NoseArc[0], 1e-7)
	m = Measure([2]Profile{a, b}, 1)
	require.InDelta(t, 4, m.Gap, 1e-12)
	require.InDelta(t, 0.8, m.Flush, 1e-12)
}

func TestReferenceStationsAsDrawn(t *testing.T) {
	j, err := Van(context.Background(), Options{Size: MinSize, Seed: 1}, nil)
	require.NoError(t, err)
	lo, hi := 9.0, 0.0
	for _, s := range j.ReferenceStations() {
		lo, hi = min(lo, s.Gap), max(hi, s.Gap)
		require.InDelta(t, gapNominal, s.Gap, 1e-3, "%s %d at z %g", s.Seam, s.Index, s.P.Z)
	}
	t.Log(lo, hi)
}

func TestScanStationStates(t *testing.T) {
	j := van(t, Options{Seed: 1})
	stations, err := j.ScanStations(context.Background(), nil)
	require.NoError(t, err)
	states := map[string]int{}
	noses := map[string]int{}
	for _, s := range stations {
		states[s.State]++
		noses[s.NoseState[0]]++
		noses[s.NoseState[1]]++
		if s.Seam == "door to quarter" {
			require.InDelta(t, gapNominal, s.Gap, 1e-3)
			require.InDelta(t, 0, s.Flush, 0.01)
		}
	}
	t.Log(states, noses)
	for _, state := range []string{"measured", "nose-unseen", "no-face", "side-missing", "bridged"} {
		require.Positive(t, states[state], state)
	}
	for _, nose := range []string{"seen", "carried", "unseen"} {
		require.Positive(t, noses[nose], nose)
	}
	// The wing's corner is 1.2 mm too long at z = 900, growing with the square of the height above 350.
	last := stations[33]
	// What stands proud by the twist moves along the door's face too: by the
	// face's slope fx rearward, and by its slope fz along the slanting line.
	u := (last.P.Z - 350) / 550
	_, slant := wingDoorLine.at(last.P.Z)
	_, fx, fz := (&skin{}).height(last.P.X, last.P.Z)
	proud := math.Tan(0.4*math.Pi/180) / 2 * (last.P.Z - 450)
	require.InDelta(t, gapNominal-1.2*u*u-proud*(fx-slant*fz), last.Gap, 0.02)
	// The twist lifts the wing's rear edge by tan(0.4 deg)/2 per mm of height; the door is master, so the wing's flush is the other's.
	first := stations[0]
	require.InDelta(t, math.Tan(0.4*math.Pi/180)/2*(first.P.Z-450), first.Flush, 0.05)
}

// The doors and quarter are as drawn, so what is left of their deviations is the noise.
func TestSurfaceTruthIsTheNoise(t *testing.T) {
	j := van(t, Options{Size: 60_000, Seed: 4})
	surface, err := j.Surface(context.Background(), nil)
	require.NoError(t, err)
	var sum float64
	n, proud, low := 0, 0.0, 0.0
	for i, s := range surface {
		o := j.Origins[i]
		if o.Part.Foreign() {
			require.False(t, s.Measured)
			continue
		}
		if o.Panel == Wing && o.Edge >= 0 {
			continue // beyond the drawn shoulder the corner's extra length counts as well
		}
		if o.Panel == Wing {
			proud, low = max(proud, s.Deviation), min(low, s.Deviation)
			continue
		}
		if o.Part != Return {
			require.True(t, s.Measured || j.Placed(i).Z < 5 || j.Placed(i).Z > 895 || o.Part == Face, "vertex %d", i)
			require.Less(t, math.Abs(s.Deviation), 6*DefaultNoise)
			sum += s.Deviation * s.Deviation
			n++
		}
	}
	require.InEpsilon(t, DefaultNoise, math.Sqrt(sum/float64(n)), 0.02)
	// Twist at the corners is tan(0.4 deg)/2 * 450 = 1.57; the dent is 2.5 deep, where the twist gives it 0.1 either way.
	require.InDelta(t, 1.57, proud, 0.15)
	require.InDelta(t, -2.6, low, 0.2)
}

// The truth against a search that knows nothing of tubes or feet: the nearest
// of densely placed samples of the formula, refined around it.
func TestSurfaceTruthAgainstSearch(t *testing.T) {
	j := van(t, Options{Size: MinSize, Seed: 4})
	surface, err := j.Surface(context.Background(), nil)
	require.NoError(t, err)
	v, tried := j.nominal, 0
	for i := 0; i < len(surface); i += 41 {
		o := j.Origins[i]
		if !surface[i].Measured || !surface[i].Clear || o.Part == Return {
			continue
		}
		p := j.Placed(i)
		best := math.Inf(1)
		search := func(u, z, du, dz float64, at func(u, z float64) (geom.Vec, bool)) {
			for ; du > 1e-8; du, dz = du*0.6, dz*0.6 {
				cu, cz := u, z
				for a := -4; a <= 4; a++ {
					for b := -4; b <= 4; b++ {
						uu, zz := cu+du*float64(a)/4, cz+dz*float64(b)/4
						if q, ok := at(uu, zz); ok && q.Dist(p) < best {
							best, u, z = q.Dist(p), uu, zz
						}
					}
				}
			}
		}
		search(p.X, p.Z, 6, 6, func(x, z float64) (geom.Vec, bool) {
			q, _ := v.skins[o.Panel].at(x, z)
			return q, x >= v.border(int(o.Panel), 0, z) && x <= v.border(int(o.Panel), 1, z)
		})
		if o.Edge >= 0 && o.Arc < 20 {
			e := &v.edges[o.Edge]
			for _, start := range []float64{0.2, 0.9, 1.6, 2.3} {
				search(start, p.Z, 0.8, 3, func(phi, z float64) (geom.Vec, bool) {
					q, _ := e.at(z).roll(phi)
					return q, phi >= 0 && phi <= math.Pi
				})
			}
		}
		require.InDelta(t, best, math.Abs(surface[i].Deviation), 2e-6, "vertex %d %v at %v", i, o, p)
		tried++
	}
	require.Greater(t, tried, 150)
}

// Gap, nose and shoulder of a station against a section cut densely by brute force.
func TestStationTruthAgainstDenseSection(t *testing.T) {
	j := van(t, Options{Size: MinSize, Seed: 1})
	for _, seam := range j.Seams {
		for i, s := range pathStations(seam.Path, StationEvery) {
			if i%6 != 0 {
				continue
			}
			want := j.scanned.stationTruth(seam, i+1, s)
			m, o := seam.Master, 1-seam.Master
			// The master's tangent by differences of the section of its skin.
			sk := &j.scanned.edges[seam.edges[m]]
			on := func(d float64) geom.Vec {
				at := func(z float64) geom.Vec { p, _ := sk.skin.at(sk.shoulderX(z)-sk.side*d, z); return p }
				return at(plane{s.p, want.F}.meet(s.p.Z, at))
			}
			tan := on(0).Sub(on(1e-3)).Unit()
			require.InDelta(t, 0, on(0).Dist(want.Shoulder[m]), 1e-9)
			extreme := func(k int, sign float64) float64 {
				best := math.Inf(-1)
				e := &j.scanned.edges[seam.edges[k]]
				for phi := 0.0; phi < math.Pi; phi += 2e-3 {
					at := func(z float64) geom.Vec { p, _ := e.at(z).roll(phi); return p }
					best = max(best, sign*tan.Dot(at(plane{s.p, want.F}.meet(s.p.Z, at)).Sub(s.p)))
				}
				return best
			}
			gap := -extreme(o, -1) - extreme(m, 1)
			require.InDelta(t, gap, want.Gap, 2e-5, "%s %d", seam.Name, i+1)
			d := want.Shoulder[o].Sub(want.Shoulder[m])
			d = d.AddScaled(-d.Dot(tan), tan).AddScaled(-d.Dot(want.F), want.F)
			require.InDelta(t, d.Norm(), math.Abs(want.Flush), 2e-5)
		}
	}
}
