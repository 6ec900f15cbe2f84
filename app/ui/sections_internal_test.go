package ui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/geom"
)

// What a job's sections show is said where they are drawn.
func TestSectionsAreSaidBesideTheSurface(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.idle()
	require.NotContains(t, r.texts(r.card.content), "Sections")
	r.bench.Outcome().Sections = []*crosscut.Section{{
		Spec: crosscut.Spec{Name: "through the dent", Point: geom.Vec{X: 100, Z: 100}}, HasReference: true,
		Figures: crosscut.Figures{Measured: 10, Lowest: verdict.Value{V: -2.6, OK: true}, Highest: verdict.Value{V: 0.1, OK: true}, RMS: 0.8, InTolerance: 0.7},
	}, {Spec: crosscut.Spec{Name: "hem"}, Missing: "the plane misses the scan"}}
	r.card.refresh()
	said := r.texts(r.card.content)
	require.Contains(t, said, "Sections: 1 of 2 cut.")
	require.Contains(t, said, "hrough the dent: −2.60 mm to +0.10 mm off the reference")
	require.Contains(t, said, "the plane misses the scan")
}

// Where no known length was given, Trust says how one is, with an example to copy that an inspection file takes.
func TestTrustSaysHowALengthIsGiven(t *testing.T) {
	r := newRig(t)
	r.trust = &app.Trust{Growth: worth.Estimate([]worth.Teller{{Kind: worth.Drift, Name: "drift shape", U: 0.08, Over: 2400}}, worth.Settings{Noise: 0.03, Size: 2400})}
	r.open()
	r.bench.Show(bench.Trust)
	r.idle()
	require.Contains(t, r.texts(r.card.content), "written into the job's file")
	tapText(t, r.card.content, "Copy")
	text := r.app.Clipboard().Content()
	require.Contains(t, text, "[[length]]")
	job, err := inspection.Decode([]byte("[scan]\nfile = \"scan.stl\"\n[reference]\nfile = \"ref.stl\"\n\n"+text), "/jobs/van.toml")
	require.NoError(t, err)
	require.Len(t, job.Lengths, 1)
	require.Equal(t, 1000.0, job.Lengths[0].Known)
}
