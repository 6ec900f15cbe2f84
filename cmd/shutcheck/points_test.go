package main

import (
	"bufio"
	"encoding/csv"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/meshio"
)

// pointScan takes the faces off the job's scan and writes what is left as scan.ply.
func pointScan(t *testing.T, dir string, normals bool) {
	t.Helper()
	j, err := van()
	require.NoError(t, err)
	m := &mesh.Mesh{Vertices: j.Scan.Vertices}
	if normals {
		m.Normals = j.Scan.VertexNormals()
	}
	f, err := os.Create(filepath.Join(dir, "scan.ply"))
	require.NoError(t, err)
	b := bufio.NewWriter(f)
	require.NoError(t, meshio.WritePLY(b, m, meshio.PLYOptions{}))
	require.NoError(t, b.Flush())
	require.NoError(t, f.Close())
}

// surface returns the deviations in a folder's surface.csv, in text, and the states.
func surface(t *testing.T, dir string) (deviation, state []string) {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "surface.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, r := range rows[1:] {
		deviation, state = append(deviation, r[4]), append(state, r[5])
	}
	return deviation, state
}

// The same scan with and without its faces reads the same within the scanner's noise: with
// the file's normals at every point, placed from any pose; without them, where the
// summary says that facing was not tested, at 99 of 100 points in the same place.
func TestAScanOfPointsMeasuresAsTheMeshDoes(t *testing.T) {
	const noise = 0.03 // of the demo's scanner, mm
	for _, normals := range []bool{true, false} {
		place := ""
		if !normals {
			place = placed(t)
		}
		rest := place + "[surface]\nviews = [\"left\"]\n"
		dir := job(t, jobHead+rest)
		require.Zero(t, shutcheck("inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "mesh")).status)
		want, wantState := surface(t, filepath.Join(dir, "mesh"))
		pointScan(t, dir, normals)
		toml := strings.Replace(jobHead, "scan.stl", "scan.ply", 1) + rest
		require.NoError(t, os.WriteFile(filepath.Join(dir, "points.toml"), []byte(toml), 0o600))
		out := filepath.Join(dir, "points")
		got := shutcheck("inspect", filepath.Join(dir, "points.toml"), "--out", out)
		require.Zero(t, got.status, got.errors)
		require.Equal(t, normals, !strings.Contains(strings.Join(strings.Fields(got.out), " "), "neither faces nor normals"), got.out)
		d, state := surface(t, out)
		require.Len(t, d, len(want))
		var apart []float64
		same := 0
		for k := range d {
			if state[k] == wantState[k] {
				same++
			}
			if state[k] != "measured" || wantState[k] != "measured" {
				continue
			}
			x, err := strconv.ParseFloat(d[k], 64)
			require.NoError(t, err)
			y, err := strconv.ParseFloat(want[k], 64)
			require.NoError(t, err)
			apart = append(apart, max(x-y, y-x))
		}
		sort.Float64s(apart)
		require.Less(t, apart[len(apart)*99/100], noise, "normals %v", normals)
		if normals {
			require.Less(t, apart[len(apart)-1], noise)
		}
		require.Greater(t, same, len(d)*99/100, "states, normals %v", normals)
	}
}

func TestAScanOfPointsSaysWhatItCannotDo(t *testing.T) {
	seam := "[[seam]]\npath = [[0,0,0],[0,0,9]]\n"
	dir := job(t, strings.Replace(jobHead, "scan.stl", "scan.ply", 1)+placed(t)+seam)
	pointScan(t, dir, true)
	got := shutcheck("inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r"))
	require.Equal(t, 65, got.status)
	require.Contains(t, got.errors, "the scan has points but no faces, so no gap or flush can be measured; export it as triangles or leave the seams out")

	// Without a stated noise there is no guard band to judge a share with.
	unjudged := strings.Replace(strings.Replace(jobHead, "scan.stl", "scan.ply", 1), "noise = 0.03\n", "", 1) + placed(t) + "[surface]\nshare = 0.1\nviews = []\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "job.toml"), []byte(unjudged), 0o600))
	got = shutcheck("inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r"))
	require.Equal(t, 4, got.status, got.errors)
	require.Contains(t, strings.Join(strings.Fields(got.out), " "), "the share is not judged; state the noise of the scanner")

	got = shutcheck("info", filepath.Join(dir, "scan.ply"))
	require.Zero(t, got.status)
	require.Contains(t, strings.Join(strings.Fields(got.out), " "), "no faces, only points: deviations can be measured, but no gap, flush or section")
}
