package app_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
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
		}
	}
}
