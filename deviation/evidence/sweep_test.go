package evidence_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/deviation/evidence"
)

// What a killed program left goes with the next results; what may still be written to, and what is not ours, stays.
func TestWhatAKilledProgramLeftIsRemoved(t *testing.T) {
	dir := t.TempDir()
	long, now := time.Now().Add(-3*time.Hour), time.Now()
	for name, when := range map[string]time.Time{".shutline-partial-OLD": long, ".shutline-partial-NEW": now, "mine": long} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, name), 0o777))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name, "heat-left.png"), []byte("half"), 0o666))
		require.NoError(t, os.Chtimes(filepath.Join(dir, name), when, when))
	}
	require.NoError(t, evidence.Write(context.Background(), record(4), dir, evidence.Options{Replace: true}))
	require.NoDirExists(t, filepath.Join(dir, ".shutline-partial-OLD"))
	require.DirExists(t, filepath.Join(dir, ".shutline-partial-NEW"))
	require.DirExists(t, filepath.Join(dir, "mine"))
}
