package app_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/scanpath"
	"shutline/mesh/surface"
)

// A scanner that comes back some 150 mm off reads the van's lengths tens of millimetres wrong. What it reads is no length of the body to a tenth, and
// the line does not meet the places that were meant: the truths, from the simulator, lie within what is said all the same.
func TestDriftIsInTheLengths(t *testing.T) {
	ctx := context.Background()
	ref, _, err := scanpath.Reference(ctx, 40_000, 0)
	require.NoError(t, err)
	skin, err := surface.New(ctx, ref, 0, nil)
	require.NoError(t, err)
	for _, drift := range []scanpath.Drift{scanpath.GoodScanner(), scanpath.GoodScanner().Times(8)} {
		s, err := scanpath.New(ctx, scanpath.Options{Triangles: 40_000, Seed: 1, Still: true, Drift: drift}, nil)
		require.NoError(t, err)
		from := scanpath.Place{Sheet: scanpath.Wall, U: 400, V: 700}
		to := scanpath.Place{Sheet: scanpath.Wall, U: scanpath.Round/2 - 400, V: 700}
		p, _ := s.Drawn.At(from)
		q, _ := s.Drawn.At(to)
		pc, _ := s.Carried(0, from)
		qc, _ := s.Carried(0, to)

		i := inspection.Default("scan.stl", "reference.stl")
		i.Surface.Reach = 30
		l := inspection.Length{Name: "overall", From: p, To: q, HasKnown: true, Known: p.Dist(q), KnownU: 0.1, HasAllowed: true, AllowedA: 0.5, AllowedPerMetre: 0.1}
		unknown := l
		unknown.HasKnown, unknown.HasAllowed = false, false
		i.Lengths = []inspection.Length{l, unknown}
		m := s.Pieces[0].Mesh
		parts := &app.Parts{Scan: &meshio.Loaded{Mesh: m}, Reference: &meshio.Loaded{Mesh: ref}, Mirrored: ref, Surface: skin, ScanAreas: m.VertexAreas()}
		placed := &app.Placed{Placement: align.Placement{ReferenceFromScan: geom.Identity()}, Mesh: m, Normals: m.VertexNormals()}
		compared, err := app.Compare(ctx, i, parts, placed, app.Settings{}, nil)
		require.NoError(t, err)
		r, err := app.LookForTrust(ctx, i, parts, placed, compared, app.Settings{}, nil)
		require.NoError(t, err)

		known := r.Lengths[0]
		require.True(t, known.Grown)
		require.InDelta(t, p.Dist(q), known.Measured.V, known.Measured.U, "the body")
		require.InDelta(t, pc.Dist(qc)-p.Dist(q), known.Error.V, known.Error.U, "the scan")
		require.Less(t, known.Error.U, known.Measured.U, "the drift is no uncertainty of what it is seen by")
		require.InDelta(t, p.Dist(q), r.Lengths[1].Measured.V, r.Lengths[1].Measured.U, "a length that the world does not know")
		sum := 0.0
		for _, b := range known.Budget {
			sum += b.U * b.U
		}
		require.InDelta(t, known.Measured.U*known.Measured.U/4, sum, 1e-9*sum, "the budget adds up")
	}
}

// Where nothing else tells, a known length's own error is in the U of its length, and not in that of its error, which is judged.
func TestALengthIsNotExcusedByItself(t *testing.T) {
	l := app.Length{
		Spec: inspection.Length{HasKnown: true, Known: 2000, HasAllowed: true, AllowedA: 1}, Judged: true, Allowed: 1, Verdict: verdict.DoesNotConform,
		Measured: verdict.Value{V: 2010, U: 0.2, OK: true}, Reading: verdict.Value{V: 2010, U: 0.2, OK: true}, Error: verdict.Value{V: 10, U: 0.3, OK: true},
	}
	g := worth.Estimate([]worth.Teller{{Kind: worth.Length, Error: 10, U: 0.3, Over: 2000}}, worth.Settings{Size: 2000})
	i := inspection.Default("scan.stl", "reference.stl")
	out, err := app.GrowLengths(context.Background(), i, &app.Placed{}, []app.Length{l}, &g, app.Settings{})
	require.NoError(t, err)
	require.Equal(t, l.Error, out[0].Error)
	require.Equal(t, l.Reading, out[0].Reading)
	require.Equal(t, verdict.DoesNotConform, out[0].Verdict)
	require.InDelta(t, 12.706*10, out[0].Measured.U, 1, "Student's t of one draw")
	require.True(t, out[0].Alone)
}

// A scan whose noise nobody stated, with nothing to compare it with, is not one without noise.
func TestWithoutAReferenceTheNoiseIsTheScansOwn(t *testing.T) {
	m := bodywork.WithNoise(bodywork.SpherePatch(300, 0.5, 2), 0.05, 1)
	i := inspection.Default("scan.stl", "")
	i.Reference = nil
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: m}, ScanAreas: m.VertexAreas()}
	placed := &app.Placed{Placement: align.Placement{ReferenceFromScan: geom.Identity()}, Mesh: m, Normals: m.VertexNormals()}
	r, err := app.LookForTrust(context.Background(), i, parts, placed, nil, app.Settings{}, nil)
	require.NoError(t, err)
	require.InDelta(t, 2*math.Sqrt2*0.05, r.Growth.A, 0.02)
	i.Scan.Noise = 0.02
	r, err = app.LookForTrust(context.Background(), i, parts, placed, nil, app.Settings{}, nil)
	require.NoError(t, err)
	require.InDelta(t, 2*math.Sqrt2*0.02, r.Growth.A, 1e-9)
}
