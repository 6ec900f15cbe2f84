package app_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// wavySheet is a sheet of 1600 by 1600 mm with n by n squares.
func wavySheet(n int) *mesh.Mesh {
	m := bodywork.Plane(1600, 1600, 1600/float64(n))
	for i, p := range m.Vertices {
		m.Vertices[i].Z = 20 * math.Sin(p.X/300) * math.Cos(p.Y/200)
	}
	return m
}

// BenchmarkCompare is the surface stage of 2,000,000 scan points on 1,000,000
// triangles: the deviation with its states, its uncertainty and its figures.
func BenchmarkCompare(b *testing.B) {
	ctx := context.Background()
	ref, scan := wavySheet(707), bodywork.WithNoise(wavySheet(1414), 0.03, 1)
	s, err := surface.New(ctx, ref, 0, nil)
	require.NoError(b, err)
	i := inspection.Default("scan.stl", "reference.stl")
	i.Scan.Noise = 0.03
	parts := &app.Parts{Scan: &meshio.Loaded{Mesh: scan}, Reference: &meshio.Loaded{Mesh: ref}, Mirrored: ref, Surface: s, ScanAreas: scan.VertexAreas()}
	placed := &app.Placed{
		Placement: align.Placement{Method: inspection.BestFit, ReferenceFromScan: geom.Identity(), RMSKnown: true},
		Mesh:      scan, Normals: scan.VertexNormals(),
	}
	for k := range 6 {
		placed.Placement.Covariance[k][k] = 1e-6
	}
	for b.Loop() {
		if _, err := app.Compare(ctx, i, parts, placed, app.Settings{}, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(scan.Vertices))*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
}
