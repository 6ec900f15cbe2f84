package app_test

import (
	"bufio"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// dish is a part of 1200 by 800 mm that no motion but one carries onto itself,
// raised by lift mm over all of it.
func dish(lift, scale float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	const nx, ny = 60, 40
	for y := range ny + 1 {
		for x := range nx + 1 {
			u, v := float64(x)*20, float64(y)*20
			z := 60*math.Sin(u/310) + 45*math.Sin(v/170+u/900) + 30*math.Exp(-((u-300)*(u-300)+(v-550)*(v-550))/16000) + lift
			m.Vertices = append(m.Vertices, geom.Vec{X: u, Y: v, Z: z}.Scale(scale))
		}
	}
	at := func(x, y int) uint32 { return uint32(y*(nx+1) + x) }
	for y := range ny {
		for x := range nx {
			m.Faces = append(m.Faces, [3]uint32{at(x, y), at(x+1, y), at(x+1, y+1)}, [3]uint32{at(x, y), at(x+1, y+1), at(x, y+1)})
		}
	}
	return m
}

func stl(t *testing.T, path string, m *mesh.Mesh) string {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	b := bufio.NewWriter(f)
	require.NoError(t, meshio.WriteSTL(b, m))
	require.NoError(t, b.Flush())
	require.NoError(t, f.Close())
	return path
}

func job(t *testing.T, scan, reference *mesh.Mesh) *inspection.Inspection {
	t.Helper()
	dir := t.TempDir()
	ref := ""
	if reference != nil {
		ref = stl(t, filepath.Join(dir, "reference.stl"), reference)
	}
	i := inspection.Default(stl(t, filepath.Join(dir, "scan.stl"), scan), ref)
	i.Surface.Views = nil
	return i
}

func TestInspectFindsThePlacementAndTheLift(t *testing.T) {
	moved := geom.RotationVector(geom.Vec{X: 0.3, Y: -1.1, Z: 0.7})
	moved.T = geom.Vec{X: 500, Y: -200, Z: 90}
	i := job(t, dish(0, 1).Moved(moved), dish(0, 1))
	var seen []string
	o, err := app.Inspect(context.Background(), i, app.Settings{Threads: 1}, func(what string, share float64) {
		if len(seen) == 0 || seen[len(seen)-1] != what {
			seen = append(seen, what)
		}
		require.True(t, share >= 0 && share <= 1, "%s %v", what, share)
	})
	require.NoError(t, err)
	back := o.Placed.Placement.ReferenceFromScan
	require.Less(t, geom.MaxDisplacement(back.After(moved), geom.Identity(), dish(0, 1).Bounds()), 0.05)
	require.Equal(t, verdict.NotJudged, o.Verdict, "no share is wanted")
	require.Contains(t, seen, "comparing the surface")
	require.Len(t, o.Times, 5, "parts, place, surface, trust, seams")

	// Taken as it lies, a part raised by 0.3 mm stands proud by less than that along its normals.
	i = job(t, dish(0.3, 1), dish(0, 1))
	i.Place.Method, i.Surface.HasShare, i.Surface.Share = inspection.None, true, 0.95
	o, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.Conforms, o.Compared.Verdict)
	require.InDelta(t, 0.28, o.Compared.Summary.AreaWeighted.Mean, 0.03)
	i.Surface.Tolerance = verdict.Tolerance{Lo: -0.2, Hi: 0.2}
	o, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.DoesNotConform, o.Verdict)
	i.Scan.Noise = 0.2 // U = 0.4 mm: nothing can be told within 0.2 mm
	o, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, verdict.Undecided, o.Verdict)
}

func TestWithoutAReference(t *testing.T) {
	i := job(t, dish(0, 1), nil)
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Nil(t, o.Compared)
	require.Equal(t, "none", o.Placed.Placement.Method)
	require.Equal(t, [6]bool{true, true, true, true, true, true}, o.Placed.Placement.Free)
	var input *app.InputError
	_, err = app.Compare(context.Background(), i, o.Parts, o.Placed, app.Settings{}, nil)
	require.ErrorAs(t, err, &input)
	require.NoError(t, app.Write(context.Background(), o, filepath.Join(t.TempDir(), "r"), app.WriteOptions{}, nil))
}

func TestUnitsAreJudgedBesideTheReference(t *testing.T) {
	i := job(t, dish(0, 0.001), dish(0, 1)) // metres beside millimetres
	i.Reference.Units = meshio.Millimetre
	parts, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Equal(t, meshio.Metre, parts.Scan.Unit)
	require.Equal(t, "judged", parts.Scan.UnitSource)
	require.NotEmpty(t, parts.Notes)
	require.InDelta(t, 1200, parts.Scan.Mesh.Bounds().Size().X, 0.01)
}

// A slip in a stated unit must not end in a verdict on a speck of the reference.
func TestWrongStatedUnitIsRefused(t *testing.T) {
	i := job(t, dish(0, 0.001), dish(0, 1))
	i.Scan.Units, i.Reference.Units = meshio.Millimetre, meshio.Millimetre
	_, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
	var input *app.InputError
	require.ErrorAs(t, err, &input)
	require.ErrorContains(t, err, `units = "m" in [scan]`)

	i.Scan.Units, i.Reference.Units = meshio.Metre, meshio.Metre
	_, err = app.LoadParts(context.Background(), i, app.Settings{}, nil)
	require.ErrorAs(t, err, &input)
	require.ErrorContains(t, err, `units = "mm" in [reference]`)

	i = job(t, dish(0, 0.001), nil)
	i.Scan.Units = meshio.Millimetre
	parts, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Contains(t, strings.Join(parts.Notes, "\n"), `scan: units = "mm" gives a part of 1.2 x 0.8 x 0.1`)
	require.Contains(t, strings.Join(parts.Notes, "\n"), "check its unit")
}

func TestTheReferenceItselfIsNoScan(t *testing.T) {
	i := job(t, dish(0, 1), dish(0, 1))
	_, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	var input *app.InputError
	require.ErrorAs(t, err, &input)
	require.ErrorContains(t, err, "the same bytes as the reference")
}

// A quarter of the part, however good, says nothing about the rest.
func TestUncoveredReferenceIsUndecided(t *testing.T) {
	whole := dish(0, 1)
	part := &mesh.Mesh{Vertices: whole.Vertices}
	for _, f := range whole.Faces {
		if p := whole.Vertices[f[0]]; p.X < 600 && p.Y < 400 {
			part.Faces = append(part.Faces, f)
		}
	}
	i := job(t, part, whole)
	i.Scan.Units, i.Reference.Units = meshio.Millimetre, meshio.Millimetre
	i.Place.Method, i.Scan.Noise = inspection.None, 0.03
	i.Surface.HasShare, i.Surface.Share = true, 0.95
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Less(t, o.Compared.Field.Covered, 0.5)
	require.Equal(t, verdict.Undecided, o.Compared.Verdict)
	require.Contains(t, strings.Join(o.Compared.Field.Notes, "\n"), "undecided at best")
}

func TestAmbiguousUnitNamesTheKey(t *testing.T) {
	i := job(t, dish(0, 0.1), nil) // 120 units: mm, cm and in are all plausible
	_, err := app.LoadParts(context.Background(), i, app.Settings{}, nil)
	var unit *meshio.UnitError
	require.ErrorAs(t, err, &unit)
	require.ErrorContains(t, err, "the key units in [scan]")
}

func TestMirroredReference(t *testing.T) {
	i := job(t, dish(0, 1).Mirrored(1), dish(0, 1))
	i.Reference.Mirror, i.Place.Method = "y", inspection.None
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.InDelta(t, 0, o.Compared.Summary.Unweighted.Max, 1e-4)
	require.Equal(t, len(dish(0, 1).Vertices), o.Compared.Summary.Count[0])
}

func TestPartsThatDoNotFitTogether(t *testing.T) {
	i := job(t, dish(0, 1), dish(0, 1))
	i.Scan.File = filepath.Join(t.TempDir(), "none.stl")
	_, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.Equal(t, 66, app.ExitStatus(err))

	tiny := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 100}, {Y: 100}}, Faces: [][3]uint32{{0, 1, 2}}}
	i = job(t, tiny, dish(0, 1))
	i.Scan.Units = meshio.Millimetre
	_, err = app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.ErrorIs(t, err, align.ErrTooFew)
	require.Equal(t, 65, app.ExitStatus(err))
}

func TestStopsWhenTold(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	i := job(t, dish(0.01, 1), dish(0, 1))
	_, err := app.Inspect(ctx, i, app.Settings{}, func(what string, _ float64) {
		if what == "comparing the surface" {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
}
