package app_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// A plate beside itself conforms, one moved by 2 mm does not; where a second placement explains the scan as well,
// neither the surface nor a point says so, in any of the results.
func TestAnAmbiguousPlacementDecidesNothing(t *testing.T) {
	ctx := context.Background()
	plate := bodywork.Plane(200, 100, 4)
	s, err := surface.New(ctx, plate, 0, nil)
	require.NoError(t, err)
	i, err := inspection.Decode([]byte("[scan]\nfile = \"a.stl\"\nnoise = 0.01\n[reference]\nfile = \"b.stl\"\n[surface]\nshare = 0.9\n[[point]]\nname = \"judged\"\nat = [0, 0, 0]\nradius = 20\ntolerance = [-1, 1]\n[[point]]\nname = \"reported\"\nat = [0, 0, 0]\n"), "a.toml")
	require.NoError(t, err)
	for moved, want := range map[float64]verdict.Verdict{0: verdict.Conforms, 2: verdict.DoesNotConform} {
		scan := plate.Moved(geom.Rigid{R: geom.Identity3(), T: geom.Vec{Z: moved}})
		parts := &app.Parts{Scan: &meshio.Loaded{Mesh: scan}, Mirrored: plate, Surface: s, ScanAreas: scan.VertexAreas()}
		placed := &app.Placed{Mesh: scan, Normals: scan.VertexNormals()}
		placed.Placement.Method = inspection.None
		for _, ambiguous := range []bool{false, true} {
			if placed.Placement.Ambiguous = ambiguous; ambiguous {
				want = verdict.Undecided
			}
			c, err := app.Compare(ctx, i, parts, placed, app.Settings{}, nil)
			require.NoError(t, err)
			require.Equal(t, want, c.Verdict, "moved by %g mm", moved)
			require.Equal(t, want, c.Worst())
			require.Equal(t, want, c.Points[0].Verdict)
			require.Equal(t, verdict.NotJudged, c.Points[1].Verdict)
			require.Equal(t, moved != 0, len(c.Clusters.List) > 0)
			for _, cluster := range c.Clusters.List {
				require.Equal(t, want, cluster.Verdict)
			}
		}
	}
}

// A seam of a good body conforms; cut where an ambiguous placement says, neither
// it nor its stations, its checks or a length do.
func TestAnAmbiguousPlacementDecidesNoSeam(t *testing.T) {
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 250000, Seed: 4, Perfect: true, Still: true}, nil)
	require.NoError(t, err)
	i, err := inspection.Decode([]byte(`[scan]
file = "a.stl"
noise = 0.03
[[seam]]
name = "judged"
path = [[757.40, 25.16, 221], [756.83, 19.13, 305], [757.43, 16.80, 361], [758.85, 15.78, 418]]
every = 50.0
step = 3.0
gap = { nominal = 4.0, tolerance = [-2.0, 2.0] }
flush = { nominal = 0.0, tolerance = [-2.0, 2.0] }
taper = { tolerance = [-9.0, 9.0] }
[[length]]
name = "bar"
from = [800, -140, -80]
to = [1800, -140, -80]
known = 1000.0
allowed = { a = 50.0, per_metre = 0.1 }
`), "a.toml")
	require.NoError(t, err)
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: job.Scan}}
	placed := &app.Placed{Mesh: job.Scan, Normals: job.Scan.VertexNormals()}
	for _, ambiguous := range []bool{false, true} {
		want := verdict.Conforms
		if placed.Placement.Ambiguous = ambiguous; ambiguous {
			want = verdict.Undecided
		}
		r, err := app.MeasureSeam(ctx, i, i.Seams[0], parts, placed, app.Settings{}, nil)
		require.NoError(t, err)
		require.Equal(t, want, r.Verdict)
		judged := 0
		for _, s := range r.Stations {
			if s.GapVerdict != verdict.NotJudged {
				judged++
				require.Equal(t, want, s.GapVerdict)
			}
		}
		require.Positive(t, judged)
		for _, c := range app.CheckSeams(i, []*gapflush.Result{r}) {
			require.Equal(t, want, c.Verdict, c.Kind)
		}
		lengths, err := app.MeasureLengths(ctx, i, placed, app.Settings{})
		require.NoError(t, err)
		require.Equal(t, want, lengths[0].Verdict)
	}
}
