package app_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// bothSides is a body of two pieces with one seam each, at y = -800 and y = 800, of which
// the left gap widens from 4 mm by 1 mm over 300 mm more than the right one does, which is 3.6 mm everywhere.
func bothSides(t *testing.T) *mesh.Mesh {
	piece := func(gap float64, seed uint64) *mesh.Mesh {
		return bodywork.NewJoint(bodywork.JointOptions{
			Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: gap, Flush: 0.4, Length: 300, Width: 50, Spacing: 1.2, Noise: 0.02, Jitter: 0.2, Seed: seed,
		}).Mesh
	}
	// Along +Y, outside +Z, A at -X: stood up on the left side, outside -Y, A in front.
	stand := func(p geom.Vec) geom.Vec { return geom.Vec{X: 1000 + p.X, Y: -800 - p.Z, Z: 500 + p.Y} }
	left := bodywork.Mapped(piece(4, 1), func(p geom.Vec) geom.Vec {
		if p.X > 0 {
			p.X += p.Y / 300
		}
		return stand(p)
	})
	right := bodywork.Mapped(piece(3.6, 2), stand).Mirrored(1)
	return bodywork.Together(left, right)
}

func bothMeasured(t *testing.T, m *mesh.Mesh, file string) (*app.Outcome, error) {
	i, err := inspection.Decode([]byte("[scan]\nfile = \"a.stl\"\nnoise = 0.02\n"+file), "a.toml")
	require.NoError(t, err)
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: m}, ScanAreas: m.VertexAreas()}
	return app.InspectParts(context.Background(), i, parts, app.Settings{}, nil)
}

// The truth is the generator's: at height s over the left seam's start its gap is 4 + s/300,
// the other side's is 3.6, with a flush of 0.4 mm on both.
func TestTheOtherSideGivesTheNominal(t *testing.T) {
	m := bothSides(t)
	for name, file := range map[string]string{
		"by name, paths typed mirrored and reversed": `
[[seam]]
name = "left"
path = [[1000, -800, 505], [1000.5, -800, 795]]
gap = { nominal_from = "right", tolerance = [-1.0, 1.0] }
flush = { nominal_from = "right", tolerance = [-0.5, 0.5] }
radius = [1.5, 1.5]
[[seam]]
name = "right"
path = [[1000, 800, 795], [1000, 800, 505]]
radius = [1.5, 1.5]
`,
		"found on both sides": `
[[seam]]
find = true
radius = [1.5, 1.5]
gap = { nominal_from = "other side", tolerance = [-1.0, 1.0] }
flush = { nominal_from = "other side", tolerance = [-0.5, 0.5] }
`} {
		o, err := bothMeasured(t, m, file)
		require.NoError(t, err, name)
		require.Len(t, o.Seams, 2, name)
		left := o.Seams[0]
		if left.Stations[0].P.Y > 0 {
			left = o.Seams[1]
		}
		require.GreaterOrEqual(t, left.Measured, 10, name)
		for _, s := range left.Stations {
			up := s.P.Z - 500
			require.True(t, s.GapNominal.OK, name)
			require.InDelta(t, 3.6, s.GapNominal.V, s.GapNominal.U+0.02, "%s at %.0f mm", name, s.Along)
			require.Greater(t, s.GapNominal.U, 0.0, "a measured nominal has a U")
			require.InDelta(t, 0.4, s.FlushNominal.V, s.FlushNominal.U+0.02, name)
			require.Equal(t, verdict.Conforms, s.FlushVerdict, name)
			// 0.4 + up/300 over the nominal, allowed 1: decided but for a band of both U.
			over, u := 0.4+up/300-1, math.Hypot(s.Gap.U, s.GapNominal.U)
			switch {
			case over < -u-0.05:
				require.Equal(t, verdict.Conforms, s.GapVerdict, "%s at %.0f mm", name, up)
			case over > u+0.05:
				require.Equal(t, verdict.DoesNotConform, s.GapVerdict, "%s at %.0f mm", name, up)
			}
		}
		require.Equal(t, verdict.DoesNotConform, left.Verdict, name)
		require.Equal(t, verdict.DoesNotConform, o.Verdict, name)
		// Taken once more, as in the window when another seam has changed, it says the same once.
		again, err := app.TakeNominals(o.Inspection, o.Seams)
		require.NoError(t, err)
		for k := range again {
			require.Equal(t, o.Seams[k].Notes, again[k].Notes, name)
		}
	}
}

// A third seam, on the left side only, has no partner: that is told of it, and the others are judged all the same.
func TestAFoundSeamWithoutAPartnerGoesWithoutItsNominal(t *testing.T) {
	lone := bodywork.Mapped(bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4, Flush: 0.4, Length: 300, Width: 50, Spacing: 1.2, Noise: 0.02, Jitter: 0.2, Seed: 3,
	}).Mesh, func(p geom.Vec) geom.Vec { return geom.Vec{X: 2000 + p.X, Y: -800 - p.Z, Z: 500 + p.Y} })
	o, err := bothMeasured(t, bodywork.Together(bothSides(t), lone), `
[[seam]]
find = true
radius = [1.5, 1.5]
gap = { nominal_from = "other side", tolerance = [-3.0, 3.0] }
`)
	require.NoError(t, err)
	require.Len(t, o.Seams, 3)
	for _, r := range o.Seams {
		if r.Stations[0].P.X > 1500 {
			require.Contains(t, r.Notes[len(r.Notes)-1], "Its gap has no nominal from another seam: no seam lies within 40 mm of this one mirrored in the plane y = 0.")
			require.Equal(t, verdict.Undecided, r.Verdict)
			require.False(t, r.Stations[3].GapNominal.OK)
			continue
		}
		require.Equal(t, verdict.Conforms, r.Verdict, r.Seam.Name)
		require.Contains(t, r.Notes[len(r.Notes)-1], "The nominal gap is that of seam")
	}
}

func TestNominalsSayWhyTheyCannotBeTaken(t *testing.T) {
	seam := func(name string, master gapflush.Side, path ...geom.Vec) *gapflush.Result {
		s := gapflush.DefaultSeam(name, path)
		s.Master = master
		return &gapflush.Result{Seam: s, Stations: []gapflush.Station{{Along: 12.5, P: path[0].AddScaled(12.5, path[1].Sub(path[0]).Unit())}}}
	}
	up := geom.Vec{Z: 300}
	a, b := geom.Vec{X: 1000, Y: -800}, geom.Vec{X: 1000, Y: 800}
	for _, c := range []struct {
		from  string
		other *gapflush.Result
		says  string
	}{
		{"other side", seam("b", gapflush.A, geom.Vec{X: 500, Y: 800}, geom.Vec{X: 500, Y: 800, Z: 300}), "no seam lies within 40 mm of this one mirrored"},
		{"b", seam("b", gapflush.B, b.Add(up), b), "has the other side as its master"},
		{"c", seam("b", gapflush.A, b.Add(up), b), `there is no seam "c"`},
		{"b", seam("b", gapflush.A, geom.Vec{}, geom.Vec{Z: 200}), "neither this one's mirror picture nor as long (300 and 200 mm)"},
	} {
		i := &inspection.Inspection{Nominals: []inspection.NominalFrom{{Seam: "a", From: c.from}}}
		_, err := app.TakeNominals(i, []*gapflush.Result{seam("a", gapflush.A, a, a.Add(up)), c.other})
		require.ErrorContains(t, err, c.says)
	}
}

// Worked by hand: of a seam standing along z on the left, outside -y and A in front (-x), the pictures below are the same seam
// farther back, its mirror picture about a middle that is not y = 0, and one higher up, of which nobody knows. The
// other seam's gap is 3 mm at its start and grows by 1/300 for each mm along it.
func TestSeamsArePairedByWhichWayTheyLie(t *testing.T) {
	seam := func(name string, from, to, u, a geom.Vec) *gapflush.Result {
		r := &gapflush.Result{Seam: gapflush.DefaultSeam(name, []geom.Vec{from, to})}
		for at := 12.5; at < from.Dist(to); at += 25 {
			r.Stations = append(r.Stations, gapflush.Station{Along: at, P: from.AddScaled(at, to.Sub(from).Unit()), U: u, A: a,
				State: gapflush.Measured, Gap: verdict.Value{V: 3 + at/300, U: 0.1, OK: true}, Flush: verdict.Value{V: 1, U: 0.1, OK: true}})
		}
		return r
	}
	y, x := geom.Vec{Y: 1}, geom.Vec{X: 1}
	own := func() *gapflush.Result { return seam("own", geom.Vec{Y: 50}, geom.Vec{Y: 50, Z: 300}, y.Scale(-1), x) }
	for _, c := range []struct {
		name  string
		other *gapflush.Result
		same  bool
		says  string
	}{
		{"farther back", seam("o", geom.Vec{X: 900, Y: 60}, geom.Vec{X: 900, Y: 60, Z: 300}, y.Scale(-1), x), true, "lying the same way"},
		{"on the other side", seam("o", geom.Vec{Y: 1650, Z: 300}, geom.Vec{Y: 1650}, y, x), false, "mirror picture: the first station here stands across from the last there"},
		{"the door's other end, the door as side B of both", seam("o", geom.Vec{X: 900, Y: 50, Z: 300}, geom.Vec{X: 900, Y: 50}, y.Scale(-1), x.Scale(-1)), false, "mirror picture: the first"},
	} {
		i := &inspection.Inspection{Nominals: []inspection.NominalFrom{{Seam: "own", From: "o"}, {Seam: "own", From: "o", Flush: true}}}
		taken, err := app.TakeNominals(i, []*gapflush.Result{own(), c.other})
		require.NoError(t, err, c.name)
		require.Contains(t, taken[0].Notes[0], c.says, c.name)
		for _, s := range taken[0].Stations {
			want := 3 + s.Along/300
			if !c.same {
				want = 3 + (300-s.Along)/300
			}
			require.InDelta(t, want, s.GapNominal.V, 1e-9, c.name)
		}
	}
	i := &inspection.Inspection{Nominals: []inspection.NominalFrom{{Seam: "own", From: "o"}}}
	_, err := app.TakeNominals(i, []*gapflush.Result{own(), seam("o", geom.Vec{Y: 50, Z: 500}, geom.Vec{Y: 50, Z: 800}, y.Scale(-1), x)})
	require.ErrorContains(t, err, "cannot be told", "higher up")
	// About y = 0, but typed from below on both sides: side A is the front panel of one and the rear panel of the other.
	i.Nominals[0].Flush = true
	_, err = app.TakeNominals(i, []*gapflush.Result{own(), seam("o", geom.Vec{Y: -50}, geom.Vec{Y: -50, Z: 300}, y, x.Scale(-1))})
	require.ErrorContains(t, err, "is the panel that is side B here")
}

// Worked by hand: the other side's gap grows by 1 mm over its 300 mm from below; its path runs the other way
// and is parted in two stretches. Across from height z stands 3 + z/300.
func TestStretchesOfASeamAreOneAcross(t *testing.T) {
	seam := func(name, whole string, y, from, to float64) *gapflush.Result {
		s := gapflush.DefaultSeam(name, []geom.Vec{{Y: y, Z: from}, {Y: y, Z: to}})
		s.Whole = whole
		r := &gapflush.Result{Seam: s}
		for at := 12.5; at < math.Abs(to-from); at += 25 {
			z := from + at
			if to < from {
				z = from - at
			}
			r.Stations = append(r.Stations, gapflush.Station{Along: at, P: geom.Vec{Y: y, Z: z}, State: gapflush.Measured, Gap: verdict.Value{V: 3 + z/300, U: 0.1, OK: true}})
		}
		return r
	}
	left := []*gapflush.Result{seam("left", "", -800, 0, 300)}
	leftParts := []*gapflush.Result{seam("left, 0 to 100 mm", "left", -800, 0, 100), seam("left, 100 to 300 mm", "left", -800, 100, 300)}
	right := []*gapflush.Result{seam("right, 0 to 200 mm", "right", 800, 300, 100), seam("right, 200 to 300 mm", "right", 800, 100, 0)}
	for _, own := range [][]*gapflush.Result{left, leftParts} {
		for _, from := range []string{"right", inspection.OtherSide} {
			i := &inspection.Inspection{}
			for _, r := range own {
				i.Nominals = append(i.Nominals, inspection.NominalFrom{Seam: r.Seam.Name, From: from})
			}
			taken, err := app.TakeNominals(i, append(append([]*gapflush.Result{}, own...), right...))
			require.NoError(t, err)
			for _, r := range taken[:len(own)] {
				require.Contains(t, r.Notes[0], `that of seam "right"`)
				for _, s := range r.Stations {
					require.True(t, s.GapNominal.OK, "%s at %g mm", r.Seam.Name, s.Along)
					require.InDelta(t, 3+s.P.Z/300, s.GapNominal.V, 1e-9, "%s at %g mm", r.Seam.Name, s.Along)
				}
			}
		}
	}
	i := &inspection.Inspection{Nominals: []inspection.NominalFrom{{Seam: "left, 0 to 100 mm", From: "left"}}}
	_, err := app.TakeNominals(i, leftParts)
	require.ErrorContains(t, err, "a seam is no nominal for itself")
}

// A good vehicle's scan as the reference: the truth is the generator's, 4 mm and 0.4 mm.
func TestAScanOfAGoodVehicleGivesNominalsWithAnUncertainty(t *testing.T) {
	piece := func(gap float64, seed uint64) *mesh.Mesh {
		return bodywork.NewJoint(bodywork.JointOptions{
			Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: gap, Flush: 0.4, Length: 300, Width: 50, Spacing: 1.2, Noise: 0.03, Jitter: 0.2, Seed: seed,
		}).Mesh
	}
	i, err := inspection.Decode([]byte(`
[scan]
file = "a.stl"
[reference]
file = "good.stl"
scanned = true
[place]
method = "none"
[[seam]]
name = "seam"
path = [[0, 5, 0], [0, 295, 0]]
radius = [1.5, 1.5]
gap = { tolerance = [-0.5, 0.5] }
flush = { nominal = 0.4, tolerance = [-0.5, 0.5] }
`), "a.toml")
	require.NoError(t, err)
	good, own := piece(4, 1), piece(4.5, 2)
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: own}, Mirrored: good}
	r, err := app.MeasureSeam(context.Background(), i, i.Seams[0], parts, &app.Placed{Mesh: own}, app.Settings{}, nil)
	require.NoError(t, err)
	require.Greater(t, r.Measured, 8)
	undecided := 0
	for _, s := range r.Stations {
		require.InDelta(t, 4, s.GapNominal.V, s.GapNominal.U+0.02)
		require.Greater(t, s.GapNominal.U, 0.0)
		require.Equal(t, verdict.Value{V: 0.4, OK: true}, s.FlushNominal, "typed ones stay")
		require.Equal(t, verdict.Conforms, s.FlushVerdict)
		if s.GapVerdict == verdict.Undecided {
			undecided++
		}
	}
	require.Equal(t, len(r.Stations), undecided, "0.5 mm over the good one at a limit of 0.5 mm cannot be decided")
	require.Contains(t, r.Notes[len(r.Notes)-1], "The reference is a scan")
}
