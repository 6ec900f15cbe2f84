package inspection_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

const full = `title = "Left wing, second trial fit"

[scan]
file = "scan.stl"
units = "mm"
noise = 0.03
temperature = 27.0
expansion = 11.5e-6

[reference]
file = "sub/reference.stl"
units = "in"
mirror = "y"

[place]
method = "given"
matrix = [0, -1, 0, 10,  1, 0, 0, 20,  0, 0, 1, 30,  0, 0, 0, 1]
datums = [
  { point = [0, 0, 0], normal = [0, 0, 1] }, { point = [1, 0, 0], normal = [0, 0, 2] },   # the plane
  { point = [0, 1, 0], normal = [0, 0, 1] },
  { point = [2, 0, 0], normal = [0, 1, 0] }, { point = [3, 0, 0], normal = [0, 1, 0] },
  { point = [0, 2, 0], normal = [-1, 0, 0] },
]
pairs = [
  { scan = [1, 2, 3], reference = [4, 5, 6] }, { scan = [1, 2, 4], reference = [4, 5, 7] }, { scan = [1, 3, 3], reference = [4, 6, 6] },
]
region = [ { centre = [1.5, 2, 3], radius = 200 } ]

[surface]
reach = 8
tolerance = [-0.4, 0.6]
share = 0.9
views = ["left", "top"]

[[seam]]
name = "wing to door"
path = [[0,0,0], [0,0,50]]
every = 20.0
window = 28.0
band = 7.0
face = [3, 12]
edges = ["round", "sharp"]
radius = [1.5, 1.2]
master = "B"
gap   = { nominal = 4.0, tolerance = [-1.0, 1.0] }
flush = { nominal = 0.0, tolerance = [-0.75, 0.75] }
taper = { tolerance = [-0.2, 0.2] }
pictures = "all"

[[length]]
name = "overall"
from = [0, 0, 0]
to = [2410, 0, 0]
known = 2410.0
known_uncertainty = 0.2
temperature = 26.0
expansion = 12e-6
allowed = { a = 0.3, per_metre = 0.1 }
`

func written(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "job.toml")
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

func TestReadEveryKey(t *testing.T) {
	path := written(t, full)
	got, err := inspection.Read(path)
	require.NoError(t, err)
	dir := filepath.Dir(path)
	want := &inspection.Inspection{
		Path: path, SHA256: got.SHA256, Title: "Left wing, second trial fit",
		Scan:      inspection.Scan{File: filepath.Join(dir, "scan.stl"), Units: meshio.Millimetre, Noise: 0.03, HasTemperature: true, Temperature: 27, Expansion: 11.5e-6},
		Reference: &inspection.Reference{File: filepath.Join(dir, "sub", "reference.stl"), Units: meshio.Inch, Mirror: "y"},
		Place: inspection.Place{Method: "given", HasMatrix: true, Datums: []align.Datum{
			{Normal: geom.Vec{Z: 1}}, {Point: geom.Vec{X: 1}, Normal: geom.Vec{Z: 2}}, {Point: geom.Vec{Y: 1}, Normal: geom.Vec{Z: 1}},
			{Point: geom.Vec{X: 2}, Normal: geom.Vec{Y: 1}}, {Point: geom.Vec{X: 3}, Normal: geom.Vec{Y: 1}}, {Point: geom.Vec{Y: 2}, Normal: geom.Vec{X: -1}},
		}, Pairs: []align.Pair{
			{Scan: geom.Vec{X: 1, Y: 2, Z: 3}, Reference: geom.Vec{X: 4, Y: 5, Z: 6}},
			{Scan: geom.Vec{X: 1, Y: 2, Z: 4}, Reference: geom.Vec{X: 4, Y: 5, Z: 7}},
			{Scan: geom.Vec{X: 1, Y: 3, Z: 3}, Reference: geom.Vec{X: 4, Y: 6, Z: 6}},
		}, Regions: []align.Region{{Centre: geom.Vec{X: 1.5, Y: 2, Z: 3}, Radius: 200}}, Given: geom.Rigid{
			R: geom.Mat3{{0, -1, 0}, {1, 0, 0}, {0, 0, 1}}, T: geom.Vec{X: 10, Y: 20, Z: 30}}},
		Surface: inspection.Surface{Reach: 8, Tolerance: verdict.Tolerance{Lo: -0.4, Hi: 0.6}, HasShare: true, Share: 0.9, Views: []string{"left", "top"}},
		Seams: []gapflush.Seam{{
			Name: "wing to door", Path: []geom.Vec{{}, {Z: 50}}, Every: 20, Window: 28, Band: 7, Face: [2]float64{3, 12},
			Edges: [2]gapflush.EdgeKind{gapflush.Round, gapflush.Sharp}, Radius: [2]float64{1.5, 1.2}, Master: gapflush.B,
			Gap:   gapflush.Target{Nominal: 4, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true},
			Flush: gapflush.Target{HasNominal: true, Tolerance: verdict.Tolerance{Lo: -0.75, Hi: 0.75}, Judged: true},
			Taper: gapflush.Target{Tolerance: verdict.Tolerance{Lo: -0.2, Hi: 0.2}, Judged: true},
		}},
		SeamPictures: []string{"all"},
		Lengths: []inspection.Length{{
			Name: "overall", To: geom.Vec{X: 2410}, HasKnown: true, Known: 2410, KnownU: 0.2, HasTemperature: true, Temperature: 26,
			Expansion: 12e-6, HasAllowed: true, AllowedA: 0.3, AllowedPerMetre: 0.1,
		}},
	}
	require.Empty(t, cmp.Diff(want, got))
	require.Len(t, got.SHA256, 64)
}

func TestDefaultsAreListed(t *testing.T) {
	i, err := inspection.Read(written(t, "[scan]\nfile=\"a.stl\"\n[reference]\nfile=\"b.stl\"\n[[seam]]\npath=[[0,0,0],[0,0,9]]\n[[length]]\nfrom=[0,0,0]\nto=[1,0,0]\n"))
	require.NoError(t, err)
	require.Equal(t, []string{
		"scan.units = judged from the size", "scan.noise = estimated from the scan",
		"reference.units = judged from the size", "reference.mirror = none",
		"place.method = best-fit",
		"surface.reach = 10.0 mm", "surface.tolerance = [-0.5, 0.5] mm", "surface.share = none (the surface is reported, not judged)",
		`surface.views = ["left", "three-quarter"]`,
		"seam[0].name = seam 1", "seam[0].every = 25.0 mm", "seam[0].window = 30.0 mm", "seam[0].band = 8.0 mm", "seam[0].face = [2.5, 12.5] mm",
		`seam[0].edges = ["round", "round"]`, "seam[0].radius = from the reference", "seam[0].master = A",
		"seam[0].gap.tolerance = none (gap is reported, not judged)", "seam[0].gap.nominal = measured on the reference",
		"seam[0].flush.tolerance = none (flush is reported, not judged)", "seam[0].flush.nominal = measured on the reference",
		"seam[0].taper.tolerance = none (taper is reported, not judged)", "seam[0].pictures = worst",
		"length[0].name = length 1", "length[0].known = none (the length is measured, not compared)",
		"length[0].allowed = none (the error is reported, not judged)",
	}, i.Defaulted)
	require.Equal(t, gapflush.DefaultSeam("seam 1", i.Seams[0].Path), i.Seams[0])
}

func TestGLBStatesItsUnit(t *testing.T) {
	i, err := inspection.Read(written(t, "[scan]\nfile=\"a.GLB\"\n"))
	require.NoError(t, err)
	require.Contains(t, i.Defaulted, "scan.units = m, as GLB says")
}

func TestAxesAreTheVehiclesWhereThatIsKnown(t *testing.T) {
	for text, own := range map[string]bool{
		"":                                true,
		"[reference]\nfile = \"r.stl\"\n": false,
		"[reference]\nfile = \"r.stl\"\nscanned = true\n":                     true,
		"[reference]\nfile = \"r.stl\"\nscanned = true\naxes = \"vehicle\"\n": false,
		"[reference]\nfile = \"r.stl\"\naxes = \"own\"\n":                     true,
	} {
		i, err := inspection.Decode([]byte("[scan]\nfile = \"s.stl\"\n"+text), "x.toml")
		require.NoError(t, err)
		require.Equal(t, own, i.OwnFrame(), text)
	}
}

func TestWithoutReference(t *testing.T) {
	i, err := inspection.Read(written(t, "[scan]\nfile=\"a.stl\"\n"))
	require.NoError(t, err)
	require.Nil(t, i.Reference)
	require.Equal(t, inspection.None, i.Place.Method)
	require.Contains(t, i.Defaulted, "reference = none (seams and lengths only)")
	d := inspection.Default("a.stl", "")
	i.Path, i.SHA256, i.Defaulted, i.Scan.File = "", "", nil, "a.stl"
	require.Empty(t, cmp.Diff(d, i))
}

func TestAbsolutePathsStay(t *testing.T) {
	abs := filepath.Join(t.TempDir(), "x.stl")
	i, err := inspection.Read(written(t, "[scan]\nfile='"+abs+"'\n"))
	require.NoError(t, err)
	require.Equal(t, abs, i.Scan.File)
}

func TestUnreadableFiles(t *testing.T) {
	var open *inspection.OpenError
	_, err := inspection.Read(filepath.Join(t.TempDir(), "none.toml"))
	require.ErrorAs(t, err, &open)
	require.ErrorIs(t, err, os.ErrNotExist)
	require.ErrorContains(t, err, "there is no such file")
	_, err = inspection.Read(t.TempDir())
	require.ErrorAs(t, err, &open)
	require.ErrorContains(t, err, "it is a folder")
	_, err = inspection.Read(os.DevNull)
	require.ErrorAs(t, err, &open)
	require.ErrorContains(t, err, "it is a pipe or a device")
}

func TestDefaultsWithoutAReferencePromiseNone(t *testing.T) {
	i, err := inspection.Decode([]byte("[scan]\nfile = \"a.stl\"\n[[seam]]\npath = [[0,0,0],[0,0,9]]\n"), "job.toml")
	require.NoError(t, err)
	for _, line := range i.Defaulted {
		require.NotContains(t, line, "on the reference")
		require.NotContains(t, line, "from the reference")
	}
	require.Contains(t, i.Defaulted, "seam[0].gap.nominal = none, as there is no reference to measure it on")
}
