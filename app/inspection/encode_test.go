package inspection_test

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// sameJob compares inspections apart from where and how they were written.
var sameJob = cmp.Options{
	cmpopts.IgnoreFields(inspection.Inspection{}, "Path", "SHA256", "Defaulted"),
	cmpopts.EquateEmpty(),
}

func TestEncodeReadsBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := anyInspection(t)
		data, err := want.Encode("job")
		require.NoError(t, err)
		got, err := inspection.Decode(data, filepath.Join("job", "job.toml"))
		require.NoError(t, err, string(data))
		require.Empty(t, cmp.Diff(want, got, sameJob), string(data))
		again, err := got.Encode("job")
		require.NoError(t, err)
		require.Equal(t, string(data), string(again))
	})
}

func TestEncodeRefusesWhatCannotBeRead(t *testing.T) {
	i := inspection.Default("s.stl", "r.stl")
	i.Surface.Reach = math.NaN()
	_, err := i.Encode(".")
	require.Error(t, err)
	i = inspection.Default("s.stl", "r.stl")
	i.Seams = []gapflush.Seam{gapflush.DefaultSeam("a", nil)}
	_, err = i.Encode(".")
	require.ErrorContains(t, err, "two different points")
}

// anySum is the SHA-256 of a file, or none.
func anySum(t *rapid.T) string { return rapid.StringMatching(`([0-9a-f]{64})?`).Draw(t, "sha256") }

func anyInspection(t *rapid.T) *inspection.Inspection {
	reference := ""
	if rapid.Bool().Draw(t, "reference") {
		reference = filepath.Join("..", anyName(t), "r.ply")
	}
	i := inspection.Default(filepath.Join("meshes", anyName(t)+".stl"), reference)
	i.Title = rapid.StringMatching(`[a-zA-Z"\\ #=é√-]{0,12}`).Draw(t, "title")
	i.Scan.Units, i.Scan.SHA256 = anyUnit(t), anySum(t)
	i.Scan.Noise = rapid.Float64Range(0, 2).Draw(t, "noise")
	if rapid.Bool().Draw(t, "has travelled") {
		i.Scan.Travelled = rapid.Float64Range(1, 1e6).Draw(t, "travelled")
	}
	i.Scan.HasTemperature, i.Scan.Temperature, i.Scan.Expansion = anyWarmth(t)
	if i.Reference != nil {
		i.Reference.Units, i.Reference.SHA256 = anyUnit(t), anySum(t)
		i.Reference.Axes = rapid.SampledFrom([]string{"", inspection.AxesVehicle, inspection.AxesOwn}).Draw(t, "axes")
		i.Reference.Mirror = rapid.SampledFrom([]string{"none", "x", "y", "z", "find", "plane"}).Draw(t, "mirror")
		if i.Reference.Mirror == "plane" {
			i.Reference.MirrorPlane = align.MirrorPlane{Point: anyPoint(t), Normal: anyPoint(t).Add(geom.Vec{Z: 9999})}
		}
		i.Surface.HasShare = rapid.Bool().Draw(t, "judged")
		if i.Surface.HasShare {
			i.Surface.Share = rapid.Float64Range(0.001, 1).Draw(t, "share")
		}
		i.Place = anyPlace(t)
	}
	if i.Place.HasMatrix {
		i.Place.Given = geom.RotationVector(anyPoint(t))
		i.Place.Given.T = anyPoint(t)
	}
	i.Surface.Tolerance = anyTolerance(t)
	i.Surface.Reach = rapid.Float64Range(1e-3, 1e3).Filter(func(v float64) bool {
		return v > max(math.Abs(i.Surface.Tolerance.Lo), math.Abs(i.Surface.Tolerance.Hi))
	}).Draw(t, "reach")
	i.Surface.Views = rapid.SliceOfNDistinct(rapid.SampledFrom(shade.ViewNames()), 0, 4, rapid.ID).Draw(t, "views")
	for k := range rapid.IntRange(0, 3).Draw(t, "seams") {
		i.Seams = append(i.Seams, anySeam(t, fmt.Sprintf("%s %d", anyName(t), k)))
		i.SeamPictures = append(i.SeamPictures, rapid.SampledFrom([]string{"worst", "none", "all"}).Draw(t, "pictures"))
	}
	for k := range rapid.IntRange(0, 2).Draw(t, "lengths") {
		i.Lengths = append(i.Lengths, anyLength(t, fmt.Sprintf("%s %d", anyName(t), k)))
	}
	i.Surface.DriftTakenOut = i.Reference != nil && rapid.Bool().Draw(t, "drift taken out")
	if rapid.Bool().Draw(t, "plan") {
		i.Plan = &inspection.Plan{Wanted: rapid.Float64Range(0.01, 10).Draw(t, "wanted")}
		if rapid.Bool().Draw(t, "path") {
			i.Plan.Path = 54_000
			i.Plan.Seen = []scanplan.Seen{{Path: 54_000, Error: rapid.Float64Range(0.01, 300).Draw(t, "off")}, {Path: 1e4, Error: 1}}
		}
	}
	if i.Reference != nil {
		for k := range rapid.IntRange(0, 2).Draw(t, "points") {
			p := inspection.Point{Name: fmt.Sprintf("%s %d", anyName(t), k), At: anyPoint(t), Radius: rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0.1, 100)).Draw(t, "radius")}
			if p.HasTolerance = rapid.Bool().Draw(t, "toleranced"); p.HasTolerance {
				p.Tolerance = anyTolerance(t)
			}
			i.Points = append(i.Points, p)
		}
	}
	return i
}

func anyPlace(t *rapid.T) inspection.Place {
	p := inspection.Place{Given: geom.Identity()}
	p.Method = rapid.SampledFrom([]string{inspection.BestFit, inspection.Datums, inspection.Pairs, inspection.Given, inspection.None}).Draw(t, "method")
	p.HasMatrix = p.Method == inspection.Given || rapid.Bool().Draw(t, "matrix")
	if p.Method == inspection.Datums || rapid.Bool().Draw(t, "datums") {
		for range 6 {
			p.Datums = append(p.Datums, align.Datum{Point: anyPoint(t), Normal: anyPoint(t).Add(geom.Vec{X: 9999})})
		}
	}
	if p.Method == inspection.Pairs || rapid.Bool().Draw(t, "pairs") {
		for range rapid.IntRange(3, 6).Draw(t, "n") {
			p.Pairs = append(p.Pairs, align.Pair{Scan: anyPoint(t), Reference: anyPoint(t)})
		}
	}
	for range rapid.IntRange(0, 2).Draw(t, "regions") {
		p.Regions = append(p.Regions, align.Region{Centre: anyPoint(t), Radius: rapid.Float64Range(0.1, 900).Draw(t, "radius")})
	}
	return p
}

func anySeam(t *rapid.T, name string) gapflush.Seam {
	from := anyPoint(t)
	s := gapflush.DefaultSeam(name, []geom.Vec{from, from.Add(geom.Vec{X: 10}), anyPoint(t)})
	s.Every = rapid.Float64Range(2, 100).Draw(t, "every")
	s.Face[1] = rapid.Float64Range(5, 30).Draw(t, "face")
	s.Edges[1] = gapflush.EdgeKind(rapid.IntRange(0, 2).Draw(t, "edge"))
	if rapid.Bool().Draw(t, "radii") {
		s.Radius = [2]float64{rapid.Float64Range(0.01, 9).Draw(t, "ra"), rapid.Float64Range(0.01, 9).Draw(t, "rb")}
	}
	s.Master = gapflush.Side(rapid.IntRange(0, 1).Draw(t, "master"))
	s.Gap, s.Flush, s.Taper = anyTarget(t), anyTarget(t), anyTarget(t)
	s.Taper.Nominal, s.Taper.HasNominal = 0, false
	return s
}

func anyTarget(t *rapid.T) (g gapflush.Target) {
	if g.HasNominal = rapid.Bool().Draw(t, "nominal"); g.HasNominal {
		g.Nominal = rapid.Float64Range(-9, 9).Draw(t, "value") + 0
	}
	if g.Judged = rapid.Bool().Draw(t, "toleranced"); g.Judged {
		g.Tolerance = anyTolerance(t)
		if x := g.Tolerance; g.HasNominal && (x.Lo > 0 || x.Hi < 0) && x.Lo <= g.Nominal && g.Nominal <= x.Hi {
			g.Nominal = x.Hi + 1 // limits themselves in place of distances from the nominal are refused
		}
	}
	return g
}

func anyLength(t *rapid.T, name string) inspection.Length {
	from := anyPoint(t)
	l := inspection.Length{Name: name, From: from, To: from.Add(geom.Vec{Y: 100})}
	switch rapid.IntRange(0, 2).Draw(t, "ends") {
	case 1:
		l.Extremes, l.From, l.To = rapid.SampledFrom([]string{"x", "y", "z"}).Draw(t, "axis"), geom.Vec{}, geom.Vec{}
	case 2:
		l.Ends = &[2]length.End{
			{Kind: length.Plane, At: l.From, Radius: rapid.Float64Range(0.1, 100).Draw(t, "radius")},
			{Kind: rapid.SampledFrom([]length.EndKind{length.Cylinder, length.Sphere}).Draw(t, "form"), At: l.To, Radius: 5},
		}
		if l.Ends[1].Kind == length.Cylinder && rapid.Bool().Draw(t, "axis") {
			l.Ends[1].Axis = geom.Vec{X: 0.5, Z: 1}
		}
		l.From, l.To = geom.Vec{}, geom.Vec{}
	}
	l.HasTemperature, l.Temperature, l.Expansion = anyWarmth(t)
	if l.HasKnown = rapid.Bool().Draw(t, "known"); l.HasKnown {
		l.Known = rapid.Float64Range(1, 9000).Draw(t, "length")
		l.KnownU = rapid.Float64Range(0, 1).Draw(t, "U")
		if l.HasAllowed = rapid.Bool().Draw(t, "allowed"); l.HasAllowed {
			l.AllowedA = rapid.Float64Range(0.01, 1).Draw(t, "a")
			l.AllowedPerMetre = rapid.Float64Range(0, 1).Draw(t, "per metre")
		}
	}
	return l
}

func anyWarmth(t *rapid.T) (bool, float64, float64) {
	if !rapid.Bool().Draw(t, "warm") {
		return false, 0, inspection.DefaultExpansion
	}
	return true, rapid.Float64Range(-40, 90).Draw(t, "temperature") + 0, rapid.Float64Range(0, 1e-4).Draw(t, "expansion")
}

func anyTolerance(t *rapid.T) verdict.Tolerance {
	lo := rapid.Float64Range(-9, 9).Draw(t, "lo") + 0
	return verdict.Tolerance{Lo: lo, Hi: lo + rapid.Float64Range(0.001, 9).Draw(t, "width")}
}

func anyPoint(t *rapid.T) geom.Vec {
	x := rapid.Float64Range(-4000, 4000)
	return geom.Vec{X: x.Draw(t, "x") + 0, Y: x.Draw(t, "y") + 0, Z: x.Draw(t, "z") + 0}
}

func anyName(t *rapid.T) string {
	return rapid.StringMatching(`[a-zé][a-z0-9 _-]{0,8}[a-z]`).Draw(t, "name")
}

func anyUnit(t *rapid.T) meshio.Unit {
	return rapid.SampledFrom([]meshio.Unit{meshio.UnitUnknown, meshio.Millimetre, meshio.Centimetre, meshio.Metre, meshio.Inch}).Draw(t, "unit")
}
