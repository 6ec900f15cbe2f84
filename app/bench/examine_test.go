package bench_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// unexaminedRig reads two small sheets.
func unexaminedRig(t *testing.T) *rig {
	r := newRig(t)
	dir := t.TempDir()
	file := func(name string, z float64) string {
		m := &mesh.Mesh{}
		const n = 12
		for i := range n * n {
			m.Vertices = append(m.Vertices, geom.Vec{X: 50 * float64(i%n), Y: 50 * float64(i/n), Z: z})
			if i%n > 0 && i/n > 0 {
				k := uint32(i)
				m.Faces = append(m.Faces, [3]uint32{k - n - 1, k - n, k}, [3]uint32{k - n - 1, k, k - 1})
			}
		}
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		require.NoError(t, err)
		require.NoError(t, meshio.WriteSTL(f, m))
		require.NoError(t, f.Close())
		return path
	}
	r.unexamined = inspection.Default(file("scan.stl", 0.1), file("reference.stl", 0))
	r.unexamined.Scan.Units, r.unexamined.Reference.Units = meshio.Millimetre, meshio.Millimetre
	return r
}

// What is looked at first does not wait for what the meshes are like by themselves; what the scan can be trusted with does.
func TestMeshesAreExaminedAfterTheSurface(t *testing.T) {
	r := unexaminedRig(t)
	r.bench.Open("van.toml")
	r.until(func() bool { return r.bench.IsDone(bench.Surface) })
	require.Equal(t, bench.Done, r.bench.Lamp(bench.Parts), "no tick yet")
	r.settle()
	require.False(t, r.bench.Outcome().Parts.Unexamined())
	require.Equal(t, bench.Good, r.bench.Lamp(bench.Parts))
	require.Equal(t, []string{"read", "load", "place", "compare", "examine"}, r.calls[:5])
	require.Equal(t, 1, len(slices.DeleteFunc(slices.Clone(r.calls), func(c string) bool { return c != "examine" })))
}

// Work that is stopped goes on where it was, and nothing is written of meshes that were not examined.
func TestMeshesAreExaminedBeforeAnythingIsWritten(t *testing.T) {
	for _, again := range []bool{false, true} {
		r := unexaminedRig(t)
		r.stuck["examine"] = true
		r.bench.Open("van.toml")
		require.Eventually(t, func() bool {
			r.drain()
			return slices.Contains(r.called(), "examine")
		}, 20*time.Second, time.Millisecond)
		r.bench.Stop()
		<-r.ended
		require.True(t, r.bench.Outcome().Parts.Unexamined())
		r.mu.Lock()
		delete(r.stuck, "examine")
		r.mu.Unlock()
		if again {
			r.bench.Retry()
		} else {
			r.bench.WriteEvidence(t.TempDir(), false, func(_ string, err error) { require.NoError(t, err) })
		}
		r.settle()
		require.False(t, r.bench.Outcome().Parts.Unexamined())
		calls := r.called()
		first := slices.Index(calls, "examine")
		require.Equal(t, "examine", calls[first+1])
	}
}

func (r *rig) called() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.calls)
}
