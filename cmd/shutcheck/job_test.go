package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// van is a small demo job, made once.
var van = sync.OnceValues(func() (*bodywork.Job, error) {
	return bodywork.Van(context.Background(), bodywork.Options{Size: 20_000, Seed: 1, Threads: 2}, nil)
})

const jobHead = "title = \"Left wing\"\n[scan]\nfile = \"scan.stl\"\nunits = \"mm\"\nnoise = 0.03\n[reference]\nfile = \"reference.stl\"\nunits = \"mm\"\n"

// placed is a placement that is given, for tests that are not about finding one.
func placed(t *testing.T) string {
	t.Helper()
	j, err := van()
	require.NoError(t, err)
	g := j.ReferenceFromScan
	return fmt.Sprintf("[place]\nmethod = \"given\"\nmatrix = [%v, %v, %v, %v, %v, %v, %v, %v, %v, %v, %v, %v, 0, 0, 0, 1]\n",
		g.R[0][0], g.R[0][1], g.R[0][2], g.T.X, g.R[1][0], g.R[1][1], g.R[1][2], g.T.Y, g.R[2][0], g.R[2][1], g.R[2][2], g.T.Z)
}

// job writes the van's meshes and an inspection file into a new folder.
func job(t *testing.T, inspection string) string {
	t.Helper()
	j, err := van()
	require.NoError(t, err)
	dir := t.TempDir()
	stl(t, filepath.Join(dir, "scan.stl"), j.Scan)
	stl(t, filepath.Join(dir, "reference.stl"), j.Reference)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "job.toml"), []byte(inspection), 0o600))
	return dir
}

func stl(t *testing.T, path string, m *mesh.Mesh) {
	t.Helper()
	f, err := os.Create(path)
	require.NoError(t, err)
	b := bufio.NewWriter(f)
	require.NoError(t, meshio.WriteSTL(b, m))
	require.NoError(t, b.Flush())
	require.NoError(t, f.Close())
}

// plate is a flat square of the given side in mm.
func plate(side float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	const n = 20
	for k := range (n + 1) * (n + 1) {
		m.Vertices = append(m.Vertices, geom.Vec{X: side / n * float64(k%(n+1)), Y: side / n * float64(k/(n+1))})
	}
	for k := range uint32(n * (n + 1)) {
		if k%(n+1) < n {
			m.Faces = append(m.Faces, [3]uint32{k, k + 1, k + n + 2}, [3]uint32{k, k + n + 2, k + n + 1})
		}
	}
	return m
}

type result struct {
	status      int
	out, errors string
}

func shutcheck(args ...string) result {
	var out, errs bytes.Buffer
	status := runContext(context.Background(), args, strings.NewReader(""), &out, &errs)
	return result{status, out.String(), errs.String()}
}

func files(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	names := []string{}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}
