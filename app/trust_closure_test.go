package app_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/scanpath"
)

// frontScan writes a scan of the made-up van's front, whose end lies over its start moved by the creep, and returns
// an inspection of it.
func frontScan(t *testing.T, creep scanpath.Creep, travelled float64) *inspection.Inspection {
	t.Helper()
	s, err := scanpath.New(context.Background(), scanpath.Options{
		Spacing: 4, Creep: creep, Still: true, Noise: 0.03,
		Window: scanpath.Window{FromU: scanpath.Round - 400, ToU: 400, FromV: 100, ToV: 1100},
	}, nil)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "front.stl")
	f, err := os.Create(path)
	require.NoError(t, err)
	require.NoError(t, meshio.WriteSTL(f, s.Pieces[0].Mesh))
	require.NoError(t, f.Close())
	i := inspection.Default(path, "")
	i.Scan.Units, i.Place.Method = "mm", "none"
	i.Scan.Travelled = travelled
	return i
}

// The truth is the creep that the scan was made with: 3 mm at the end of the path.
func TestClosureReachesTheResults(t *testing.T) {
	i := frontScan(t, scanpath.Creep{Shift: geom.Vec{X: 1, Y: 2, Z: -2}}, 50_000)
	o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, o.Closure.Closures, 1)
	c := &o.Closure.Closures[0]
	require.InDelta(t, 3, c.Displacement.V, 0.15)
	require.InDelta(t, 3.0/50, c.PerMetre, 0.003)
	card, ok := words.Writer{}.Closure(o.Closure)
	require.True(t, ok)
	require.Equal(t, "The scan lies over itself at one place", card.Headline)
	require.Contains(t, card.Found[0].Text, "0.059 mm for each metre travelled")
	var seen bool
	for _, x := range o.Growth.Tellers {
		seen = seen || strings.HasPrefix(x.Name, "closure")
	}
	require.True(t, seen, "what the closure shows counts in what the scan is worth")

	dir := filepath.Join(t.TempDir(), "results")
	require.NoError(t, app.Write(context.Background(), o, dir, app.WriteOptions{}, nil))
	table, err := os.ReadFile(filepath.Join(dir, "closure.csv"))
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(string(table), "\n"))
	require.FileExists(t, filepath.Join(dir, "closure-steps.csv"))
	results, err := os.ReadFile(filepath.Join(dir, "results.json"))
	require.NoError(t, err)
	require.Contains(t, string(results), `"travelled_mm": 50000`)
}

// A placement that turns and shifts the scan turns what is found with it, and changes nothing of what is held and how large it is.
func TestClosureDependsOnTheScanAlone(t *testing.T) {
	i := frontScan(t, scanpath.Creep{Shift: geom.Vec{X: 1, Y: 2, Z: -2}}, 0)
	plain, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	g := geom.RotationVector(geom.Vec{X: 0.3, Y: -0.9, Z: 0.5})
	g.T = geom.Vec{X: 213, Y: -71, Z: 1018}
	i.Place.Method, i.Place.Given = "given", g
	turned, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, plain.Closure.Closures, 1)
	require.Len(t, turned.Closure.Closures, 1)
	a, b := &plain.Closure.Closures[0], &turned.Closure.Closures[0]
	require.Equal(t, a.Displacement, b.Displacement)
	require.Equal(t, a.Turned, b.Turned)
	require.Equal(t, a.Step, b.Step)
	require.Len(t, b.Free, len(a.Free))
	const rounding = 1e-9 // mm
	require.Less(t, b.Shift.Dist(g.ApplyDir(a.Shift)), rounding)
	require.Less(t, b.Centre.Dist(g.Apply(a.Centre)), rounding)
	// The motion about the turned centre is the turned motion.
	require.Less(t, b.StartFromEnd.Apply(g.Apply(a.Centre)).Dist(g.Apply(a.StartFromEnd.Apply(a.Centre))), rounding)
	for k := range a.Patches {
		require.Less(t, b.Patches[k].At.Dist(g.Apply(a.Patches[k].At)), rounding)
	}
}

func TestAPathShorterThanThePartIsSaid(t *testing.T) {
	creep := scanpath.Creep{Shift: geom.Vec{X: 1}}
	o, err := app.Inspect(context.Background(), frontScan(t, creep, 500), app.Settings{}, nil)
	require.NoError(t, err)
	// What the skins show does not rest on the path, and counts all the same: without it the scan would seem better than it is.
	without, err := app.Inspect(context.Background(), frontScan(t, creep, 0), app.Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, o.Closure.Closures, 1)
	require.Equal(t, without.Closure.Closures, o.Closure.Closures)
	require.Equal(t, without.Growth, o.Growth)
	require.Zero(t, o.Closure.Closures[0].PerMetre)
	card, ok := words.Writer{}.Closure(o.Closure)
	require.True(t, ok)
	require.Contains(t, card.Found[len(card.Found)-1].Text, "0.5 m long")
	dir := filepath.Join(t.TempDir(), "results")
	require.NoError(t, app.Write(context.Background(), o, dir, app.WriteOptions{}, nil))
	table, err := os.ReadFile(filepath.Join(dir, "closure.csv"))
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(string(table), "\n"))
	results, err := os.ReadFile(filepath.Join(dir, "results.json"))
	require.NoError(t, err)
	require.Contains(t, string(results), `"travelled_why": "the scanner's path is said to be 0.5 m long`)
}
