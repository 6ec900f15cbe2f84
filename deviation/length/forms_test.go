package length_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/length"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func measure(t *testing.T, m *mesh.Mesh, k length.Known, s length.Settings) *length.Result {
	t.Helper()
	s.Normals = m.VertexNormals()
	if k.Length == 0 {
		k.Length = 1000
	}
	r, err := length.Measure(context.Background(), m, k, s)
	require.NoError(t, err)
	return r
}

func moved(m *mesh.Mesh, by geom.Rigid) *mesh.Mesh {
	return bodywork.Mapped(m, by.Apply)
}

// off is how far r lies from the truth, in its U.
func off(r *length.Result, truth float64) float64 { return math.Abs(r.Measured.V-truth) / r.Measured.U }

// bar is a ball bar: two thirds of a hemisphere of 25 mm radius at each end, 500 mm apart, slanted.
func bar(noise float64, seed uint64) (m *mesh.Mesh, ends [2]length.End) {
	turn := geom.Rotation(geom.Vec{X: 1, Y: 2, Z: 3}, 0.8)
	dir := turn.ApplyDir(geom.Vec{X: 1})
	one := bodywork.SpherePatch(25, 1.1, 1.0)
	two := moved(one, geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: 500}})
	m = moved(bodywork.WithSmoothNoise(bodywork.Together(one, two), noise, 6, seed), turn)
	ends[0] = length.End{Kind: length.Sphere, At: geom.Vec{X: 2, Y: -1, Z: 1}, Radius: 25}
	ends[1] = length.End{Kind: length.Sphere, At: dir.Scale(500).Add(geom.Vec{Y: 2}), Radius: 25}
	return m, ends
}

// The centre of a sphere lies where it was made, whatever part of it was seen; with noise the truth lies within U in at least 17 of 20.
func TestBallBarBySpheres(t *testing.T) {
	m, ends := bar(0, 1)
	r := measure(t, m, length.Known{Ends: &ends, Length: 500}, length.Settings{})
	require.True(t, r.Measured.OK, r.Why)
	require.InDelta(t, 500, r.Measured.V, 1e-6)
	require.InDelta(t, 25, r.Fits[0].Radius, 1e-6)
	in, sum := 0, 0.0
	const runs = 20
	for seed := range uint64(runs) {
		m, ends := bar(0.03, seed)
		r := measure(t, m, length.Known{Ends: &ends, Length: 500}, length.Settings{})
		require.True(t, r.Measured.OK, r.Why)
		require.Less(t, r.Measured.U, 0.2)
		require.InDelta(t, 25, r.Fits[1].Radius, 3*r.Fits[1].RadiusU)
		if off(r, 500) <= 1 {
			in++
		}
		sum += r.Measured.V - 500
	}
	require.GreaterOrEqual(t, in, 17)
	require.Less(t, math.Abs(sum/runs), 0.03) // no bias
}

// Two flats 1000.25 mm apart, facing opposite ways, one tilted by 0.02 degrees about the patch's middle: distance at the middles.
func TestPlanes(t *testing.T) {
	one := moved(bodywork.Plane(80, 80, 1.5), geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: -40, Y: -40}})
	up := moved(one, geom.Rigid{R: geom.Identity3(), T: geom.Vec{Z: 1000.25}})
	down := moved(one, geom.Rotation(geom.Vec{X: 1}, math.Pi))
	ends := [2]length.End{{Kind: length.Plane, At: geom.Vec{Z: 1}, Radius: 30}, {Kind: length.Plane, At: geom.Vec{Z: 999}, Radius: 30}}
	in := 0
	for seed := range uint64(20) {
		m := bodywork.WithSmoothNoise(bodywork.Together(down, up), 0.03, 6, seed)
		r := measure(t, m, length.Known{Ends: &ends}, length.Settings{})
		require.True(t, r.Measured.OK, r.Why)
		require.Less(t, r.Measured.U, 0.05)
		if off(r, 1000.25) <= 1 {
			in++
		}
	}
	require.GreaterOrEqual(t, in, 17)
	// Inclined by 8 degrees there is no distance.
	m := bodywork.Together(down, moved(up, geom.Rotation(geom.Vec{X: 1}, 8*math.Pi/180)))
	ends[1].At = geom.Rotation(geom.Vec{X: 1}, 8*math.Pi/180).Apply(geom.Vec{Z: 1000})
	r := measure(t, m, length.Known{Ends: &ends}, length.Settings{})
	require.False(t, r.Measured.OK)
	require.Contains(t, r.Why, "inclined to one another by 8.0°")
}

// hole is a hole of radius r in a flat sheet looking along Z: its wall goes deep mm down.
func hole(at geom.Vec, r, deep float64) *mesh.Mesh {
	sheet := bodywork.Without(moved(bodywork.Plane(60, 60, 1), geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: -30, Y: -30}}), func(c geom.Vec) bool {
		return math.Hypot(c.X, c.Y) < r+0.8
	})
	wall := &mesh.Mesh{}
	const round = 48
	rows := uint32(deep/0.5) + 1
	for k := range rows {
		for i := range round {
			s, c := geom.Sincos(2 * math.Pi * float64(i) / round)
			wall.Vertices = append(wall.Vertices, geom.Vec{X: r * c, Y: r * s, Z: -0.5 * float64(k)})
		}
	}
	for k := range rows - 1 {
		for i := range uint32(round) {
			a, b := k*round+i, k*round+(i+1)%round
			wall.Faces = append(wall.Faces, [3]uint32{a, a + round, b}, [3]uint32{b, a + round, b + round})
		}
	}
	return moved(bodywork.Together(sheet, wall), geom.Rigid{R: geom.Identity3(), T: at})
}

// Two holes of 5 mm radius, 400.2 mm apart in a sheet, whose walls are seen 2 mm deep: the axis is the sheet's normal.
func TestHoles(t *testing.T) {
	turn := geom.Rotation(geom.Vec{X: 1, Y: -1}, 0.6)
	body := bodywork.Together(hole(geom.Vec{}, 5, 2), hole(geom.Vec{X: 400.2}, 5, 2))
	ends := [2]length.End{
		{Kind: length.Cylinder, At: turn.Apply(geom.Vec{X: 0.5, Y: 0.3, Z: -0.5}), Radius: 5},
		{Kind: length.Cylinder, At: turn.Apply(geom.Vec{X: 400, Z: -1}), Radius: 5.2},
	}
	in := 0
	for seed := range uint64(20) {
		r := measure(t, moved(bodywork.WithNoise(body, 0.03, seed), turn), length.Known{Ends: &ends, Length: 400}, length.Settings{})
		require.True(t, r.Measured.OK, r.Why)
		require.Less(t, r.Measured.U, 0.15)
		if off(r, 400.2) <= 1 {
			in++
		}
	}
	require.GreaterOrEqual(t, in, 17)
	// A radius of 9 is another hole.
	ends[0].Radius = 9
	r := measure(t, moved(body, turn), length.Known{Ends: &ends, Length: 400}, length.Settings{})
	require.False(t, r.Measured.OK)
	require.NotEmpty(t, r.Why)
}

// Whatever the depth of its wall, a hole in a wide or a narrow sheet has its axis along the wall: where both lie around it, their normals
// together are square to nothing.
func TestHolesOfAnyDepthInSheetsOfAnyWidth(t *testing.T) {
	turn := geom.Rotation(geom.Vec{X: 1, Y: -1}, 0.6)
	for _, deep := range []float64{2, 6, 9, 12, 15, 20} {
		for _, rim := range []float64{4, 7, 10, 15} {
			one := bodywork.Without(hole(geom.Vec{}, 10, deep), func(c geom.Vec) bool { return math.Hypot(c.X, c.Y) > 10+rim })
			body := bodywork.Together(one, moved(one, geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: 400.2}}))
			ends := [2]length.End{
				{Kind: length.Cylinder, At: turn.Apply(geom.Vec{X: 0.5, Y: 0.3, Z: -0.5}), Radius: 10},
				{Kind: length.Cylinder, At: turn.Apply(geom.Vec{X: 400, Z: -1}), Radius: 10.2},
			}
			r := measure(t, moved(bodywork.WithNoise(body, 0.03, 7), turn), length.Known{Ends: &ends, Length: 400}, length.Settings{})
			require.True(t, r.Measured.OK, "%g deep, sheet %g wide: %s", deep, rim, r.Why)
			require.InDelta(t, 400.2, r.Measured.V, 0.1, "%g deep, sheet %g wide", deep, rim)
		}
	}
}

// The farthest of a million noisy points lies some 4.5 of their noise beyond the body; the summits fitted do not: two
// caps of 500 mm radius, 1000 mm from pole to pole, off the axis.
func TestExtremesAreNotBiased(t *testing.T) {
	top := bodywork.SpherePatch(500, 0.25, 1.5)
	body := moved(bodywork.Together(top, moved(top, geom.Rotation(geom.Vec{X: 1}, math.Pi))), geom.Rotation(geom.Vec{X: 1, Y: 1}, 0.05))
	in, sum := 0, 0.0
	const runs = 12
	for seed := range uint64(runs) {
		m := bodywork.WithNoise(body, 0.05, seed)
		r := measure(t, m, length.Known{Axis: geom.Vec{Z: 1}}, length.Settings{})
		require.True(t, r.Measured.OK, r.Why)
		box := m.Bounds()
		require.Greater(t, box.Hi.Z-box.Lo.Z-1000, 0.15, "what the farthest points alone would say")
		if off(r, 1000) <= 1 {
			in++
		}
		sum += r.Measured.V - 1000
		require.Less(t, r.Measured.U, 0.25)
	}
	require.GreaterOrEqual(t, in, 10)
	require.Less(t, math.Abs(sum/runs), 0.03)
}

// A sheet that ends at an edge ends up to a spacing beyond its last point; a speck far off is not the body.
func TestExtremesOfASheet(t *testing.T) {
	m := bodywork.WithNoise(bodywork.Plane(1000.4, 200, 1.5), 0.03, 4)
	speck := uint32(len(m.Vertices))
	m.Vertices = append(m.Vertices, geom.Vec{X: 1300}, geom.Vec{X: 1301}, geom.Vec{X: 1300, Y: 1})
	m.Faces = append(m.Faces, [3]uint32{speck, speck + 1, speck + 2})
	r := measure(t, m, length.Known{Axis: geom.Vec{X: 1}}, length.Settings{})
	require.True(t, r.Measured.OK, r.Why)
	require.InDelta(t, 1000.4+1.5, r.Measured.V, 0.01)
	require.GreaterOrEqual(t, r.Measured.U, 1.2)
	require.LessOrEqual(t, math.Abs(r.Measured.V-1000.4), r.Measured.U, "a mesh that ends on its last points at both edges")
}

func TestWhatIsMissingIsSaidWithItsNumber(t *testing.T) {
	ends := [2]length.End{{Kind: length.Plane, At: geom.Vec{X: 100, Y: 100, Z: 83}, Radius: 10}, {Kind: length.Plane, At: geom.Vec{X: 10}, Radius: 10}}
	m := bodywork.Plane(200, 200, 4)
	r := measure(t, m, length.Known{Ends: &ends}, length.Settings{})
	require.False(t, r.Measured.OK)
	require.Contains(t, r.Why, "the nearest is 83 mm away")
	r = measure(t, walls(), length.Known{From: geom.Vec{X: -300}, To: geom.Vec{X: 1000}}, length.Settings{})
	require.Contains(t, r.Why, "308.2 mm from it")
	for _, temperature := range []float64{-41, 201} {
		k := known()
		k.HasTemperature, k.Temperature = true, temperature
		r = measure(t, walls(), k, length.Settings{})
		require.False(t, r.Measured.OK)
		require.Contains(t, r.Why, "outside -40 to 200 °C")
	}
}

// A cap so small that it holds but a few of the patches over which a scanner's noise hangs together does not show that it does: its U allows for
// that (Student's t). Of 60 distances between two such caps, noise of 0.03 mm shared over 6 mm, nine in ten lie within it; by the points' scatter alone
// 52 did.
func TestSmallCapsAllowForSharedNoise(t *testing.T) {
	cap := bodywork.SpherePatch(15, 0.45, 1.0)
	move := func(x float64) *mesh.Mesh {
		return bodywork.Mapped(cap, func(p geom.Vec) geom.Vec { return p.Add(geom.Vec{X: x}) })
	}
	body := bodywork.Together(move(0), move(300))
	const scans = 60
	inside := 0
	for seed := range uint64(scans) {
		scan := bodywork.WithSmoothNoise(body, 0.03, 6, seed+1)
		ends := [2]length.End{{Kind: length.Sphere, Radius: 15}, {Kind: length.Sphere, At: geom.Vec{X: 300}, Radius: 15}}
		r, err := length.Measure(context.Background(), scan, length.Known{Ends: &ends, Length: 300}, length.Settings{Normals: scan.VertexNormals()})
		require.NoError(t, err)
		require.True(t, r.Measured.OK, r.Why)
		if math.Abs(r.Error.V) <= r.Measured.U {
			inside++
		}
	}
	t.Log(inside)
	require.GreaterOrEqual(t, inside, scans*9/10)
}
