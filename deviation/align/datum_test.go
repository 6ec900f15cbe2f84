package align

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Six targets with the turn and shift that take their deviations back, worked by
// hand (three equations on z give the tilt, two on y the spin, one on x the
// slide) and printed to seven digits; also what the shift does at two far points.
func TestDatumStepMatchesTheWorkedExample(t *testing.T) {
	at := []geom.Vec{{}, {X: 1000}, {X: 500, Y: 800}, {X: 100}, {X: 900}, {Y: 400}}
	x, y, z := geom.Vec{X: 1}, geom.Vec{Y: 1}, geom.Vec{Z: 1}
	w, shift, ok := datumStep(at, []geom.Vec{z, z, z, y, y, x}, []float64{0.10, -0.20, 0.30, 0.05, -0.15, 0.25})
	require.True(t, ok)
	require.InDelta(t, 0, w.Dist(geom.Vec{X: -0.0004375, Y: -0.0003000, Z: 0.0002500}), 1e-15)
	require.InDelta(t, 0, shift.Dist(geom.Vec{X: -0.150, Y: -0.075, Z: -0.100}), 1e-12)
	for p, want := range map[geom.Vec]geom.Vec{
		{X: 1000, Y: 800}: {X: -0.350, Y: 0.175, Z: -0.150},
		{X: 500, Y: 1600}: {X: -0.550, Y: 0.050, Z: -0.650},
	} {
		require.InDelta(t, 0, w.Cross(p).Add(shift).Dist(want), 1e-12, p)
	}
}

func TestInverseOfSix(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	var a [6]vec6
	for r := range a {
		for c := range 6 {
			a[r][c] = rng.NormFloat64()
		}
	}
	inverse, ok := invert6(a)
	require.True(t, ok)
	for r := range 6 {
		for c := range 6 {
			s := 0.0
			for k := range 6 {
				s += a[r][k] * inverse[k][c]
			}
			want := 0.0
			if r == c {
				want = 1
			}
			require.InDelta(t, want, s, 1e-12)
		}
	}
	_, ok = invert6([6]vec6{})
	require.False(t, ok)
}

// van is a job whose wing is wrong, with the truth by formula, made once.
var van = sync.OnceValues(func() (*bodywork.Job, error) {
	return bodywork.Van(context.Background(), bodywork.Options{Size: 150_000, Seed: 4}, nil)
})

// vanDatums are six targets on the door and the quarter, which are as drawn:
// corners of the drawing's triangles, which lie on its formula. Three on the skin,
// two on the door's front hem, one on a flank of the character line.
func vanDatums(j *bodywork.Job) []Datum {
	normals := j.Reference.VertexNormals()
	at := func(x, z float64, n geom.Vec) Datum {
		best, near := 0, math.Inf(1)
		for i, p := range j.Reference.Vertices {
			d := math.Hypot(p.X-x, p.Z-z) + 20*(1-normals[i].Dot(n.Unit()))
			if normals[i].Dot(n.Unit()) > 0.99 && d < near {
				best, near = i, d
			}
		}
		return Datum{j.Reference.Vertices[best], n}
	}
	out, front := geom.Vec{Y: -1}, geom.Vec{X: -1, Y: -0.5} // hems are seen past their noses only by a little
	return []Datum{
		at(900, 80, geom.Vec{Y: -1, Z: -0.15}), at(1000, 850, geom.Vec{Y: -1, Z: 0.2}), at(2200, 430, out),
		at(752, 200, front), at(777, 690, front), at(1100, 578, geom.Vec{Y: -1, Z: 0.1}),
	}
}

// Truth is the generator's motion. The wing is wrong and the datums do not touch
// it, so the datums must find the truth within their own U (k = 2), direction by direction,
// with three times the standard uncertainty allowed since there are six of them.
func TestDatumsFindTheVansTruth(t *testing.T) {
	j, err := van()
	require.NoError(t, err)
	p, err := NewPlacer(context.Background(), j.Scan, surfaceOf(t, j.Reference), Settings{Noise: 0.03})
	require.NoError(t, err)
	got, err := p.Datums(context.Background(), vanDatums(j), nil)
	require.NoError(t, err)
	require.Equal(t, "datums", got.Method)
	require.LessOrEqual(t, got.Datums.LastStep, datumSettled)
	for k, m := range got.Datums.Met {
		require.InDelta(t, 0, m.Left, datumSettled, k)
		require.Less(t, math.Abs(m.Start), 0.1, k)
		require.Greater(t, m.Sigma, 0.0, k)
	}
	require.Empty(t, got.NoSigma)
	require.Equal(t, [6]bool{}, got.Free)
	along := got.Along(got.ReferenceFromScan.After(j.ReferenceFromScan.Inverse()))
	for k, d := range got.Directions {
		require.Less(t, math.Abs(along[k]), 3*d.Sigma, k)
	}
}

// block is a block of 600 by 400 by 250 mm whose sides are sheets of their own.
// Its truth is exact: the sides are planes.
func block(step float64) *mesh.Mesh {
	x, y, z := geom.Vec{X: 600}, geom.Vec{Y: 400}, geom.Vec{Z: 250}
	o, far := geom.Vec{}, geom.Vec{X: 600, Y: 400, Z: 250}
	return bodywork.Together(sheet(o, y, x, step), sheet(o, x, z, step), sheet(o, z, y, step),
		sheet(far, x.Neg(), y.Neg(), step), sheet(far, z.Neg(), x.Neg(), step), sheet(far, y.Neg(), z.Neg(), step))
}

// tapered is where a point of the block lies on the wedge: lower and narrower
// toward its end, so that it fits itself in one pose only and its sides are planes still.
func tapered(p geom.Vec) geom.Vec {
	p.Z += float64((250 - p.Z) * p.X * 0.1 / 600)
	p.Y *= 1 - float64(p.X*0.15/600)
	return p
}

// wedge is the block tapered.
func wedge(step float64) *mesh.Mesh { return bodywork.Mapped(block(step), tapered) }

// blockDatums lie on the wedge's top, front (y = 0) and left (x = 0).
func blockDatums() []Datum {
	up, front, left := geom.Vec{Z: 1}, geom.Vec{Y: -1}, geom.Vec{X: -1}
	return []Datum{
		{tapered(geom.Vec{X: 60, Y: 60, Z: 250}), up}, {tapered(geom.Vec{X: 540, Y: 70, Z: 250}), up}, {tapered(geom.Vec{X: 300, Y: 350, Z: 250}), up},
		{geom.Vec{X: 80, Z: 120}, front}, {geom.Vec{X: 520, Z: 130}, front}, {geom.Vec{Y: 200, Z: 100}, left},
	}
}

// blockScan is the wedge as scanned: noise, and a bump 3 mm high between the top's
// datums, over a third of it. At the pose given.
func blockScan(step, noise float64, seed uint64, scanFromReference geom.Rigid) *mesh.Mesh {
	m := bodywork.Mapped(block(step), func(p geom.Vec) geom.Vec {
		if p.Z == 250 {
			u, v := (p.X-300)/150, (p.Y-180)/100
			if q := 1 - float64(u*u) - float64(v*v); q > 0 {
				p.Z += 3 * q * q
			}
		}
		return tapered(p)
	})
	return bodywork.WithNoise(m, noise, seed).Moved(scanFromReference)
}

// Over many scans the errors along the six directions, divided by their stated
// uncertainties, must have the size that is stated. Truth: planes by formula.
// 8 scans of 6 directions give a mean square of 1 with a standard deviation of
// sqrt(2/48) = 0.2 where the uncertainties are exact; over 40 scans it was 0.90
// with independent noise and 0.91 with noise that is alike over 8 mm.
func TestDatumUncertaintyIsHonest(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: -2, Z: 0.5}, 1.1)
	scanFromReference.T = geom.Vec{X: 300, Y: -200, Z: 90}
	for name, made := range map[string]func(seed uint64) *mesh.Mesh{
		"independent": func(seed uint64) *mesh.Mesh { return blockScan(5.3, 0.05, seed, scanFromReference) },
		"alike over 8 mm": func(seed uint64) *mesh.Mesh {
			return bodywork.WithSmoothNoise(blockScan(5.3, 0, seed, scanFromReference), 0.05, 8, seed)
		},
	} {
		t.Run(name, func(t *testing.T) {
			squares, n := 0.0, 0.0
			for seed := range uint64(8) {
				got := metFrom(t, made(seed), scanFromReference, Settings{Noise: 0.05})
				along := got.Along(got.ReferenceFromScan.After(scanFromReference))
				for k, d := range got.Directions {
					squares += along[k] / d.Sigma * (along[k] / d.Sigma)
					n++
				}
			}
			require.InDelta(t, 1, squares/n, 0.6)
		})
	}
}

// A best fit spreads the bump over the part; the datums do not touch it. The test of
// the difference: the best fit lies off the truth by more than the datums do.
func TestDatumsIgnoreWhatTheyDoNotTouch(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: 1}, 2)
	scanFromReference.T = geom.Vec{X: 300, Y: -200, Z: 90}
	ref := wedge(20)
	p, err := NewPlacer(context.Background(), blockScan(7, 0.02, 3, scanFromReference), surfaceOf(t, ref), Settings{Noise: 0.02})
	require.NoError(t, err)
	got, err := p.Datums(context.Background(), blockDatums(), nil)
	require.NoError(t, err)
	require.Less(t, placementError(got.ReferenceFromScan, scanFromReference, ref), 0.06)
	require.Greater(t, got.ShareUsed, 0.5)
	require.True(t, got.RMSKnown)
}

func TestDatumsSayWhatIsWrong(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: 1}, 2)
	scan := bodywork.Without(blockScan(8, 0.02, 3, scanFromReference), func(c geom.Vec) bool {
		q := scanFromReference.Inverse().Apply(c)
		return q.X < 1 && q.Dist(geom.Vec{Y: 200, Z: 100}) < 45 // a hole around the last datum
	})
	p, err := NewPlacer(context.Background(), scan, surfaceOf(t, wedge(20)), Settings{Noise: 0.02})
	require.NoError(t, err)
	changed := func(change func(d []Datum)) []Datum {
		d := blockDatums()
		change(d)
		return d
	}
	for name, c := range map[string]struct {
		datums []Datum
		says   []string
	}{
		"five":           {blockDatums()[:5], []string{"there are 5 datums", "exactly 6"}},
		"seven":          {append(blockDatums(), Datum{tapered(geom.Vec{X: 300, Y: 200, Z: 250}), geom.Vec{Z: 1}}), []string{"there are 7 datums"}},
		"none":           {nil, []string{"there are 0 datums"}},
		"direction":      {changed(func(d []Datum) { d[2].Normal = geom.Vec{} }), []string{"datum 3", "no length"}},
		"repeated":       {changed(func(d []Datum) { d[1].Point = d[0].Point.Add(geom.Vec{X: 0.4}) }), []string{"datums 1 and 2 are the same twice: 0.4 mm apart"}},
		"collinear":      {changed(func(d []Datum) { d[2].Point = tapered(geom.Vec{X: 300, Y: 67, Z: 250}) }), []string{"datums 1, 2 and 3, which set the plane, lie on one line: datum 3 is only 2", "a turn about an axis along X"}},
		"line coincides": {changed(func(d []Datum) { d[4].Point = geom.Vec{X: 81, Z: 170} }), []string{"datums 4 and 5, which set the line, coincide: they lie only 1 mm apart", "a turn about an axis along Z"}},
		"a slide left":   {changed(func(d []Datum) { d[5] = Datum{geom.Vec{X: 300, Z: 60}, geom.Vec{Y: -1}} }), []string{"hold only 5 of the 6 motions", "slide along X"}},
		"off":            {changed(func(d []Datum) { d[1].Point.Z += 7 }), []string{"datum 2 at (540, 60.55, 257) lies 7 mm off the reference"}},
		"slanted":        {changed(func(d []Datum) { d[1].Normal = geom.Vec{X: 3, Z: 1} }), []string{"datum 2", "leans 72 degrees", "at most 60"}},
		"hole":           {blockDatums(), []string{"datum 6: no scan surface lies within 25 mm of it", "faces like the reference is 4"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := p.Datums(context.Background(), c.datums, nil)
			require.ErrorIs(t, err, ErrDatums)
			for _, s := range c.says {
				require.ErrorContains(t, err, s)
			}
		})
	}
}

// metFrom meets the block's datums from a start some millimetres off.
func metFrom(t *testing.T, scan *mesh.Mesh, scanFromReference geom.Rigid, s Settings) Placement {
	t.Helper()
	f, err := newFit(context.Background(), scan, surfaceOf(t, wedge(20)), s)
	require.NoError(t, err)
	met, outward, err := f.onReference(blockDatums())
	require.NoError(t, err)
	off := moveBy(scanFromReference.Inverse(), vec6{0.8, -0.5, 1.2, 0.6, 0.3, -0.9}, f.ref.centre, f.ref.diag/2)
	got, err := f.meetDatums(context.Background(), off, met, outward)
	require.NoError(t, err)
	return got
}

// The same bits for any number of threads.
func TestDatumsDoNotDependOnThreads(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{Y: 1}, 0.7)
	scan := blockScan(9, 0.02, 9, scanFromReference)
	require.Equal(t, metFrom(t, scan, scanFromReference, Settings{Noise: 0.02, Threads: 1}), metFrom(t, scan, scanFromReference, Settings{Noise: 0.02, Threads: 3}))
}

// A scan of points alone is met too, with normals or without.
func TestDatumsOnPointsAlone(t *testing.T) {
	scanFromReference := geom.Rotation(geom.Vec{X: 1, Y: 1}, 2)
	scan := blockScan(7, 0.02, 3, scanFromReference)
	for _, m := range []*mesh.Mesh{{Vertices: scan.Vertices, Normals: scan.VertexNormals()}, {Vertices: scan.Vertices}} {
		got := metFrom(t, m, scanFromReference, Settings{Noise: 0.02})
		require.Less(t, placementError(got.ReferenceFromScan, scanFromReference, wedge(20)), 0.06)
	}
}
