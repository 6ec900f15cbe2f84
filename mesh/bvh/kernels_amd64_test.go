package bvh

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// The committed kernels are what the generator writes; the first line, which
// repeats its command, differs by the folder written to.
func TestKernelsAreCurrent(t *testing.T) {
	dir := t.TempDir()
	names := []string{"kernels_amd64.s", "kernels_amd64.go"}
	run := exec.Command("go", "run", "-C", "kernelgen", ".", "-out", filepath.Join(dir, names[0]), "-stubs", filepath.Join(dir, names[1]), "-pkg", "bvh")
	run.Env = append(os.Environ(), "GOFLAGS=")
	out, err := run.CombinedOutput()
	require.NoError(t, err, string(out))
	for _, name := range names {
		want, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		got, err := os.ReadFile(name)
		require.NoError(t, err)
		_, want, _ = bytes.Cut(want, []byte("\n"))
		_, got, _ = bytes.Cut(got, []byte("\n"))
		require.True(t, bytes.Equal(want, got), "%s is not current: run go generate ./mesh/bvh", name)
	}
}

// Both kernels and twins give distances within the error the search allows for,
// against float64, and the partition and the boxes agree to the bit.
func TestKernelsAgreeWithTheirTwins(t *testing.T) {
	require.True(t, vector, "this processor has no AVX2: the kernels were not tested")
	r := rand.New(rand.NewPCG(4, 4))
	m := soup(r, 4000, 100)
	var tree *Tree
	WithoutVector(func() { tree = build(t, m, 1) })
	for range 2000 {
		p := geom.Vec{X: 150 * r.NormFloat64(), Y: 150 * r.NormFloat64(), Z: 150 * r.NormFloat64()}
		f := tree.NewFinder()
		if f.p, f.best.Dist2 = p.Add(tree.origin), 1e4; r.IntN(2) == 0 {
			f.facing = &Facing{Dir: p.Unit(), MinCos: 0.5}
		}
		f.ask(p, 100)
		at := r.IntN(len(tree.leaves))
		l := &tree.leaves[at]
		fast, plain := f.probe, f.probe
		var fastD2, plainD2 lanes
		triangles(l, nil, &fast, &fastD2)
		WithoutVector(func() { triangles(l, &tree.packedLeaves[at], &plain, &plainD2) })
		for _, got := range []struct {
			d2 *lanes
			q  *probe
		}{{&fastD2, &fast}, {&plainD2, &plain}} {
			least := math.Inf(1)
			for i, face := range l.face {
				if face == noFace {
					continue
				}
				a, b, c := m.Corners(face &^ unsure)
				q, _ := geom.ClosestOnTriangle(f.p, a, b, c)
				d := q.Dist(f.p)
				if d <= 100 {
					require.LessOrEqual(t, math.Sqrt(float64(got.d2[i])), d*(1+kernelError)+float64(f.probe.slack)/2, "seems too far")
				}
				if n := m.AreaNormal(face &^ unsure); f.facing == nil || n.Unit().Dot(f.facing.Dir) >= 0.5 {
					least = min(least, d)
				}
			}
			// The limit never shuts out the nearest that faces as asked.
			if least <= 100 {
				require.LessOrEqual(t, least, math.Sqrt(float64(got.q.limit)))
			}
		}
		at = r.IntN(len(tree.nodes))
		n := &tree.nodes[at]
		fastMask := boxes(n, nil, &f.probe, &fastD2) & n.used
		WithoutVector(func() {
			require.Equal(t, boxes(n, &tree.packedNodes[at], &f.probe, &plainD2)&n.used, fastMask)
			require.Equal(t, boxes(n, nil, &f.probe, &plainD2)&n.used, fastMask)
		})
	}
}

func TestPartitionAgreesWithItsTwin(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	for n := 1; n < 200; n++ {
		records := make([]record, n)
		for i := range records {
			records[i].face = uint32(i)
			for k := range 3 {
				lo := float32(r.NormFloat64())
				records[i].lo[k], records[i].neg[k] = lo, -lo-r.Float32()
			}
		}
		other := append([]record(nil), records...)
		fast, plain := [2]entries{greatest, greatest}, [2]entries{greatest, greatest}
		axis := n % 3
		low := partition(records, axis, 0.5, &fast)
		require.Equal(t, partitionGo(other, axis, 0.5, &plain), low)
		require.Equal(t, other, records)
		for side := range 2 {
			for k := range 3 {
				require.Equal(t, plain[side][k], fast[side][k])
				require.Equal(t, plain[side][k+4], fast[side][k+4])
			}
		}
		least := leastOf(records)
		want := leastGo(records)
		for _, k := range []int{0, 1, 2, 4, 5, 6} {
			require.Equal(t, want[k], least[k])
		}
	}
}
