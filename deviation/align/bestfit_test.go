package align

import (
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func TestBestFitFindsTheDamagedSideFromAnyPose(t *testing.T) {
	ref := bodySide(9, 0.6)
	s := surfaceOf(t, ref)
	for seed := range uint64(2) {
		rng := rand.New(rand.NewPCG(seed, 5))
		pose := randomPose(rng)
		scan := damagedScan(8, 0.7, 0.03, seed).Moved(pose)
		p, err := BestFit(context.Background(), scan, s, Settings{}, nil)
		require.NoError(t, err)
		require.Less(t, placementError(p.ReferenceFromScan, pose, ref), 0.02, "mm, the placement error aimed for; seed %d", seed)
		require.InDelta(t, 0.03, p.RMS, 0.006, "the scan's noise and the facets' leave no more")
		require.Equal(t, [6]bool{}, p.Free)
		require.False(t, p.Ambiguous)
		require.Equal(t, "best-fit", p.Method)
		require.True(t, p.RMSKnown)
	}
}

func TestBestFitHasTheSameBitsForAnyNumberOfThreads(t *testing.T) {
	s := surfaceOf(t, bodySide(14, 0.9))
	scan := damagedScan(13, 1, 0.03, 1).Moved(randomPose(rand.New(rand.NewPCG(1, 2))))
	var first Placement
	for k, threads := range []int{1, 5} {
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
	for name, other := range map[string]*mesh.Mesh{"cube": cubeOf(300, 6), "pipe": tube(60, 700, 6, 5)} {
		_, err := BestFit(context.Background(), noisy(other, 0.03, 9), s, Settings{}, nil)
		require.ErrorIs(t, err, ErrNoOverlap, name)
		require.ErrorContains(t, err, "% of the scan lies within 2 mm of the reference", name)
	}
}

// A mirrored part is much like its mirror image; what fits must not pass unremarked.
func TestAMirroredScanIsToldSo(t *testing.T) {
	s := surfaceOf(t, bodySide(14, 0.9))
	p, err := NewPlacer(context.Background(), noisy(bodySide(14, 0.9).Mirrored(0), 0.03, 9), s, Settings{})
	require.NoError(t, err)
	_, err = p.BestFit(context.Background(), nil)
	require.ErrorIs(t, err, ErrNoOverlap)
	require.ErrorContains(t, err, "looks mirrored: so read, 97 % of it")
	h, err := p.OtherHand(context.Background(), nil, nil)
	require.NoError(t, err)
	require.True(t, h.OtherFits())
	require.Zero(t, h.Here)
	require.Greater(t, h.There, 0.95)
	require.InDelta(t, 0.03, h.ThereRMS, 0.006, "the noise of the scan")
}

// The demo job, made small: its errors are of the size that is stated.
func TestBestFitPlacesTheVan(t *testing.T) {
	for seed := range uint64(3) {
		job, err := bodywork.Van(context.Background(), bodywork.Options{Size: 40000, Seed: seed}, nil)
		require.NoError(t, err)
		p, err := BestFit(context.Background(), job.Scan, surfaceOf(t, job.Reference), Settings{}, nil)
		require.NoError(t, err)
		require.Less(t, placementError(p.ReferenceFromScan, job.ReferenceFromScan.Inverse(), job.Reference), 0.1, "mm, with facets of 20 mm")
		rest := p.ReferenceFromScan.After(job.ReferenceFromScan.Inverse())
		off := rest.Apply(p.Centre).Sub(p.Centre)
		for axis := range 3 {
			require.False(t, p.Free[axis])
			require.Less(t, math.Abs(off.At(axis)), 3*p.Sigma[axis], "axis %d, seed %d: within three standard uncertainties", axis, seed)
		}
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
	return bodywork.Together(sheet(geom.Vec{}, y, x, step), sheet(z, x, y, step), sheet(geom.Vec{}, x, z, step),
		sheet(y, z, x, step), sheet(geom.Vec{}, z, y, step), sheet(x, y, z, step))
}
