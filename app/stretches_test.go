package app_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/verdict"
	"shutline/mesh/bodywork"
	"shutline/mesh/meshio"
)

// A gap of 4.6 mm everywhere (the generator's): within 1 mm of 4 mm, not within 0.3 mm of it,
// and within 0.3 mm of a stretch's own nominal of 4.6 mm.
func TestStretchesAreJudgedByTheirOwnTolerances(t *testing.T) {
	m := bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4.6, Length: 400, Width: 50, Spacing: 1.2, Noise: 0.02, Jitter: 0.2, Seed: 3,
	}).Mesh
	head := `
[[seam]]
name = "s"
radius = [1.5, 1.5]
path = [[0, 0, 0], [0, 200, 0], [0, 400, 0]]
gap = { nominal = 4.0, tolerance = [-1.0, 1.0] }
`
	o, err := bothMeasured(t, m, head+`stretch = [
  { from = 100, to = 200, gap = { tolerance = [-0.3, 0.3] } },
  { to = 300, gap = { nominal = 4.6, tolerance = [-0.3, 0.3] } },
]
`)
	require.NoError(t, err)
	want := []struct {
		name    string
		from    float64
		verdict verdict.Verdict
	}{
		{"s, 0 to 100 mm", 0, verdict.Conforms}, {"s, 100 to 200 mm", 100, verdict.DoesNotConform},
		{"s, 200 to 300 mm", 200, verdict.Conforms}, {"s, 300 to 400 mm", 300, verdict.Conforms},
	}
	require.Len(t, o.Seams, len(want))
	for k, w := range want {
		r := o.Seams[k]
		require.Equal(t, w.name, r.Seam.Name)
		require.Equal(t, "s", r.Seam.Whole)
		require.Equal(t, w.verdict, r.Verdict, w.name)
		require.Len(t, r.Stations, 4)
		require.InDelta(t, w.from+12.5, r.Stations[0].P.Y, 1e-9)
		require.InDelta(t, 4.6, r.GapMean.V, 0.1)
		require.InDelta(t, w.from+12.5, r.Stations[0].Along, 1e-9, "places are those along the whole seam")
		require.Equal(t, 4*k+1, r.Stations[0].Index, "numbers go on from stretch to stretch")
	}
	require.Equal(t, verdict.DoesNotConform, o.Verdict)
	for _, c := range []struct{ stretch, says string }{
		{"{ from = 500, to = 600, gap = { tolerance = [-1, 1] } }", "its path is 400.0 mm long"},
		{"{ from = 100, to = 600, gap = { tolerance = [-1, 1] } }", "no stretch can end at 600 mm; write to = 400 or less"},
		{"{ from = 390, to = 410, gap = { tolerance = [-1, 1] } }", "holds no station"},
	} {
		_, err := bothMeasured(t, m, head+"stretch = [ "+c.stretch+" ]\n")
		require.ErrorContains(t, err, c.says)
	}
}

// What is wrong with a seam is said of the line it stands at.
func TestASeamThatCannotBeLaidIsNamedByItsLine(t *testing.T) {
	m := bodywork.NewJoint(bodywork.JointOptions{Gap: 4, Length: 100, Width: 50, Spacing: 3, Seed: 3}).Mesh
	path := filepath.Join(t.TempDir(), "job.toml")
	require.NoError(t, os.WriteFile(path, []byte("[scan]\nfile = \"a.stl\"\n\n[[seam]]\npath = [[0, 0, 0], [0, 100, 0]]\nstretch = [ { from = 500, to = 600, gap = { tolerance = [-1, 1] } } ]\n"), 0o600))
	i, err := inspection.Read(path)
	require.NoError(t, err)
	_, _, err = app.LaySeams(context.Background(), i, &app.Parts{Scan: &meshio.Loaded{Mesh: m}}, &app.Placed{Mesh: m}, app.Settings{}, nil)
	require.ErrorContains(t, err, path+": line 4: seam \"seam 1\": its path is 100.0 mm long")
}
