package gapflush

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// hemmed are the points of a flat face and a roll of radius r seen over so many degrees, 0.8 mm apart over a band of 8 mm, with
// noise; off is how far along their normals they lie at a place, mm along the edge from its shoulder on.
func hemmed(r, degrees, sigma float64, off func(v float64) float64, rng *rand.Rand) (pts []zonePoint) {
	const spacing = 0.8
	end := r * degrees * math.Pi / 180
	for x := -8 + spacing/2; x < 8; x += spacing {
		for v := -14 + spacing*rng.Float64(); v < end; v += spacing {
			d := off(v) + sigma*rng.NormFloat64()
			sin, cos := math.Sincos(max(v, 0) / r)
			pts = append(pts, zonePoint{x: x, y: min(v, 0) + (r+d)*sin, h: (r+d)*cos - r, ny: sin, nh: cos})
		}
	}
	return pts
}

// fittedSeam fits the roll of as many stations, of whose radius nothing is known but that it may be r.
func fittedSeam(t *testing.T, stations int, r, degrees, sigma float64, off func(v float64) float64, rng *rand.Rand) (seen []*formSeen, noses []float64) {
	scratch, g := new(faceRoom), new(rollFit)
	kn := &known{givenU: [2]float64{defaultRadiusU, defaultRadiusU}}
	for range stations {
		pts := hemmed(r, degrees, sigma, off, rng)
		f, ok := fitFace(scratch, pts, &curve{}, line{}, 0, [2]float64{2.5, 12.5}, 0, sigma, 8, 0.8, nil)
		require.True(t, ok)
		e := g.fitRound(pts, rollTask{face: &f, r: r, ur: defaultRadiusU, noise: sigma, pitch: 0.8, band: 8})
		if !e.found {
			continue
		}
		seen = append(seen, g.form(&e, 0, A, kn))
		noses = append(noses, e.s+e.r-r)
	}
	return seen, noses
}

func mean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}

// A bead or a scratch, a Gaussian bump along the edge, moves the noses of all stations alike: by the fit's own account, from what
// it leaves of the bump, they may be out by as much as they are. The truth is the roll without the bump: its nose is at r. A bump
// as wide as what is seen of a roll leaves next to nothing, and is not told.
func TestAFormThatAllStationsShareIsTold(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	inside, told, seams := 0, 0, 0
	for i := range 100 {
		r, degrees, height := between(1, 2.5), between(56, 105), between(0.05, 0.2)
		at, width := between(-0.3, 1.3), between(0.2, 0.5)
		if i%2 == 0 {
			height = -height
		}
		bump := func(v float64) float64 { return height * math.Exp(-(v-at)*(v-at)/(2*width*width)) }
		seen, noses := fittedSeam(t, 12, r, degrees, 0.03, bump, rng)
		m, ok := meanForm(seen)
		if !ok {
			continue // hardly any station has a roll
		}
		seams++
		by, ok := m.moves()
		if !ok {
			continue
		}
		told++
		out, u := math.Abs(mean(noses)), 2*nose(by)
		require.LessOrEqual(t, out, 3*u, "a roll of %.2f mm over %.0f°, a bump of %.2f mm at %.2f mm, %.2f mm wide", r, degrees, height, at, width)
		if out <= u {
			inside++
		}
	}
	require.Greater(t, seams, 90)
	require.GreaterOrEqual(t, 100*told, 90*seams)
	require.GreaterOrEqual(t, 100*inside, 95*told)
}

// Rolls that are round have no form of their own, whatever their noise, so that nothing is added to their uncertainty: of
// forty seams one at most by chance.
func TestRoundEdgesShareNoForm(t *testing.T) {
	told := 0
	for i := range 40 {
		rng := rand.New(rand.NewPCG(uint64(i), 6))
		sigma, r, degrees := []float64{0, 0.02, 0.05}[i%3], 1+1.5*rng.Float64(), 55+50*rng.Float64()
		seen, _ := fittedSeam(t, 8, r, degrees, sigma, func(float64) float64 { return 0 }, rng)
		if m, ok := meanForm(seen); ok {
			if _, ok := m.moves(); ok {
				told++
			}
		}
	}
	require.LessOrEqual(t, told, 1)
}

// What all stations share does not average out: four times as many say the same of it.
func TestASharedFormDoesNotAverageOut(t *testing.T) {
	u := func(stations int) float64 {
		bump := func(v float64) float64 { return 0.12 * math.Exp(-(v-0.7)*(v-0.7)/(2*0.3*0.3)) }
		seen, _ := fittedSeam(t, stations, 1.5, 70, 0.02, bump, rand.New(rand.NewPCG(7, 7)))
		m, ok := meanForm(seen)
		require.True(t, ok)
		by, ok := m.moves()
		require.True(t, ok)
		return nose(by)
	}
	few, many := u(8), u(32)
	require.Greater(t, many, 0.6*few)
}

// A stray station says nothing of a seam: the others scatter about its points.
func TestOneStationsCrumbIsNoFormOfTheSeam(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	seen, _ := fittedSeam(t, 7, 1.5, 80, 0.02, func(float64) float64 { return 0 }, rng)
	crumb, _ := fittedSeam(t, 1, 1.5, 80, 0.02, func(v float64) float64 { return 0.15 * math.Exp(-(v-0.7)*(v-0.7)/0.08) }, rng)
	m, ok := meanForm(append(seen, crumb...))
	require.True(t, ok)
	_, ok = m.moves()
	require.False(t, ok)
}

// The factor, the determinant and the solution of ((4, 2), (2, 3)): 8; of (2, 1) it is (1/2, 0).
func TestPositive(t *testing.T) {
	c := newPositive(2)
	c.a[0][0], c.a[1][0], c.a[1][1] = 4, 2, 3
	det, ok := c.factor()
	require.True(t, ok)
	require.InDelta(t, math.Log(8), det, 1e-15)
	x := make([]float64, 2)
	c.solve([]float64{2, 1}, x)
	require.InDeltaSlice(t, []float64{0.5, 0}, x, 1e-15)
	c.a[0][0], c.a[1][0], c.a[1][1] = 1, 2, 3
	_, ok = c.factor()
	require.False(t, ok)
}

// A bead of sealant lies on an edge and ends in a roll of its own: what a web seems to leave is none of the face's
// roll where it scatters by much more than noise, or begins below the face.
func TestABeadIsNoRoll(t *testing.T) {
	const noise = 0.05
	of := func(seen, misses, off, height float64, webbed bool) bool {
		s := sideState{off: off, edge: edge{kind: Round, found: true, webbed: webbed, seen: seen * math.Pi / 180, misses: misses}}
		s.carry.height = height
		s.rag(nil, 0, noise, true)
		return s.edge.found
	}
	require.True(t, of(90, 0.05, 0, 0, true))
	require.True(t, of(90, 0.12, 0, 0, false), "no point left it")
	require.False(t, of(90, 0.13, 0, 0, false), "none left it, but they lie on no roll")
	require.False(t, of(90, 0.05, 0.13, 0.26, false), "what lies before it is none of the face")
	require.True(t, of(60, 0.12, 0, 0, true), "too little of it was seen")
	require.True(t, of(90, 0.05, 0.08, 0.16, true), "a crumb on the face")
	require.False(t, of(90, 0.12, 0, 0, true))
	require.True(t, of(90, 0.05, 0.08, -0.16, true), "a dent before a roll on which points lie")
	require.False(t, of(90, 0.065, 0.08, -0.16, true))
	require.False(t, of(90, 0.08, 0.03, -0.06, true))
}
