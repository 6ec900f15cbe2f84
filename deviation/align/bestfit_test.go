package align

import (
	"context"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
)

func TestBestFitFindsTheDamagedSideFromAnyPose(t *testing.T) {
	ref := bodySide(9, 0.6)
	s := surfaceOf(t, ref)
	for seed := range uint64(3) {
		rng := rand.New(rand.NewPCG(seed, 5))
		pose := randomPose(rng)
		scan := damagedScan(8, 0.7, 0.03, seed).Moved(pose)
		t0 := time.Now()
		p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
		require.NoError(t, err)
		t.Logf("ref %d scan %d: error %.4f mm rms %.4f used %d share %.3f sigma %.4f free %v amb %v notes %q %v", len(ref.Faces), len(scan.Faces),
			placementError(p.ReferenceFromScan, pose, ref), p.RMS, p.PointsUsed, p.ShareUsed, p.Sigma, p.Free, p.Ambiguous, p.Notes, time.Since(t0))
	}
}

func TestBestFitHasTheSameBitsForAnyNumberOfThreads(t *testing.T) {
	s := surfaceOf(t, bodySide(14, 0.9))
	scan := damagedScan(13, 1, 0.03, 1).Moved(randomPose(rand.New(rand.NewPCG(1, 2))))
	var first Placement
	for k, threads := range []int{1, 2, 5} {
		p, err := BestFit(context.Background(), scan, s, Settings{Threads: threads}, nil)
		require.NoError(t, err)
		if k == 0 {
			first = p
		}
		require.Equal(t, first, p)
	}
	require.Less(t, first.RMS, 0.1)
}

func TestBestFitStopsSoonAndReportsProgress(t *testing.T) {
	s := surfaceOf(t, bodySide(14, 0.9))
	scan := damagedScan(13, 1, 0.03, 1)
	for _, at := range []float64{0, 0.15, 0.45, 0.7, 0.85} {
		ctx, cancel := context.WithCancel(context.Background())
		last := -1.0
		var lock sync.Mutex
		_, err := BestFit(ctx, scan, s, Settings{}, func(share float64) {
			lock.Lock()
			defer lock.Unlock()
			last = max(last, share)
			if share >= at {
				cancel()
			}
		})
		require.ErrorIs(t, err, context.Canceled)
		require.Less(t, last, at+0.25, "work went on after the stop")
		cancel()
	}
}

func TestBestFitRefusesAScanOfAnotherPart(t *testing.T) {
	s := surfaceOf(t, bodySide(14, 0.9))
	other := map[string]*mesh.Mesh{
		"cube":         cubeOf(300, 6),
		"pipe":         tube(60, 700, 6, 5),
		"wrong unit":   scaled(bodySide(14, 0.9), 0.1),
		"mirror image": bodySide(14, 0.9).Mirrored(0),
	}
	for _, name := range []string{"cube", "pipe", "wrong unit", "mirror image"} {
		p, err := BestFit(context.Background(), noisy(other[name], 0.03, 9), s, Settings{}, nil)
		t.Logf("%s: %v %v rms %v share %v", name, err, p.Free, p.RMS, p.ShareUsed)
	}
}

func TestBestFitNeedsPoints(t *testing.T) {
	s := surfaceOf(t, bodySide(40, 1.5))
	_, err := BestFit(context.Background(), &mesh.Mesh{}, s, Settings{}, nil)
	require.ErrorIs(t, err, ErrTooFew)
	_, err = BestFit(context.Background(), &mesh.Mesh{Vertices: make([]geom.Vec, 20)}, s, Settings{}, nil)
	require.ErrorIs(t, err, ErrTooFew)
	require.ErrorContains(t, err, "20 usable points")
}

func TestDescribeSaysWhenNothingIsNear(t *testing.T) {
	s := surfaceOf(t, bodySide(40, 1.5))
	away := geom.Identity()
	away.T.Y = 500
	p, err := Describe(context.Background(), "none", away, bodySide(30, 1.5), s, Settings{})
	require.NoError(t, err)
	require.False(t, p.RMSKnown)
	require.Equal(t, [6]bool{true, true, true, true, true, true}, p.Free)
	require.NotEmpty(t, p.Notes)
	require.Equal(t, "none", p.Method)
}

// A cube fits its own reference in 24 poses.
func TestASymmetricPartIsAmbiguous(t *testing.T) {
	s := surfaceOf(t, cubeOf(300, 15))
	p, err := BestFit(context.Background(), noisy(cubeOf(300, 11), 0.02, 2), s, Settings{}, nil)
	require.NoError(t, err)
	require.True(t, p.Ambiguous, "%v", p)
	require.Equal(t, [6]bool{}, p.Free)
	require.Contains(t, p.Notes[len(p.Notes)-1], "second pose")
}

func cubeOf(side, step float64) *mesh.Mesh {
	x, y, z := geom.Vec{X: side}, geom.Vec{Y: side}, geom.Vec{Z: side}
	return join(sheet(geom.Vec{}, y, x, step), sheet(z, x, y, step), sheet(geom.Vec{}, x, z, step),
		sheet(y, z, x, step), sheet(geom.Vec{}, z, y, step), sheet(x, y, z, step))
}

func scaled(m *mesh.Mesh, s float64) *mesh.Mesh {
	out := &mesh.Mesh{Faces: m.Faces}
	for _, v := range m.Vertices {
		out.Vertices = append(out.Vertices, v.Scale(s))
	}
	return out
}
