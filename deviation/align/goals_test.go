//go:build goals

package align

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// TestGoals prints how often and how well random poses at full and partial
// coverage are found: go test -tags goals -run Goals -v ./deviation/align
func TestGoals(t *testing.T) {
	ref := bodySide(9, 0.6)
	s := surfaceOf(t, ref)
	for _, coverage := range []float64{1, 0.6, 0.4} {
		good, trials, worst := 0, 10, 0.0
		chi := 0.0
		for seed := range uint64(trials) {
			rng := rand.New(rand.NewPCG(seed, 5))
			pose := randomPose(rng)
			scan := cropped(damagedScan(8, 0.7, 0.03, seed), coverage, rng).Moved(pose)
			t0 := time.Now()
			p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
			if err != nil {
				t.Logf("coverage %.0f %% seed %d: %v", 100*coverage, seed, err)
				continue
			}
			e := placementError(p.ReferenceFromScan, pose, ref)
			if e < 1 {
				good++
				worst = max(worst, e)
				chi += standardised(p, pose) / float64(trials)
			}
			t.Logf("coverage %.0f %% seed %d: error %.4f mm, rms %.4f, share %.2f, sigma %.4f, centre error over sigma %.1f, free %v, ambiguous %v, %v",
				100*coverage, seed, e, p.RMS, p.ShareUsed, p.Sigma[:3], standardised(p, pose), p.Free, p.Ambiguous, time.Since(t0).Round(time.Millisecond))
		}
		t.Logf("coverage %.0f %%: %d of %d within 1 mm, worst of these %.4f mm, mean centre error over sigma %.1f", 100*coverage, good, trials, worst, chi)
		require.Positive(t, good)
	}
}

// standardised is the RMS over the axes of the error at the centre over its sigma.
func standardised(p Placement, scanFromReference geom.Rigid) float64 {
	at := p.ReferenceFromScan.Inverse().Apply(p.Centre)
	d := scanFromReference.Inverse().Apply(at).Sub(p.Centre)
	s, n := 0.0, 0
	for i := range 3 {
		if !p.Free[i] {
			s += math.Pow(d.At(i)/p.Sigma[i], 2)
			n++
		}
	}
	return math.Sqrt(s / float64(max(n, 1)))
}

// cropped keeps the share of the faces that lies farthest to one side.
func cropped(m *mesh.Mesh, share float64, rng *rand.Rand) *mesh.Mesh {
	angle := 2 * math.Pi * rng.Float64()
	dir := geom.Vec{X: math.Cos(angle), Z: math.Sin(angle)}
	var at []float64
	for f := range m.Faces {
		a, _, _ := m.Corners(uint32(f))
		at = append(at, a.Dot(dir))
	}
	limit := quantile(append([]float64(nil), at...), share)
	out := &mesh.Mesh{}
	index := map[uint32]uint32{}
	for f, t := range m.Faces {
		if at[f] > limit {
			continue
		}
		for k, v := range t {
			if _, ok := index[v]; !ok {
				index[v] = uint32(len(out.Vertices))
				out.Vertices = append(out.Vertices, m.Vertices[v])
			}
			t[k] = index[v]
		}
		out.Faces = append(out.Faces, t)
	}
	return out
}

// BenchmarkMillion is a scan of a million vertices on a million triangles, the
// index of the reference excluded.
func BenchmarkMillion(b *testing.B) {
	ref := bodySide(2.2, 0.5)
	s := surfaceOf(b, ref)
	pose := randomPose(rand.New(rand.NewPCG(1, 1)))
	scan := damagedScan(1.8, 0.5, 0.03, 1).Moved(pose)
	b.Logf("%d reference triangles, %d scan vertices", len(ref.Faces), len(scan.Vertices))
	for b.Loop() {
		p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
		require.NoError(b, err)
		b.ReportMetric(placementError(p.ReferenceFromScan, pose, ref), "mm-error")
	}
}
