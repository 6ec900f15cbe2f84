package align

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
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
