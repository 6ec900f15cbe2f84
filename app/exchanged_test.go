package app_test

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/app/words"
)

// The demo's reference is drawn and its scan scatters by some hundredths of a millimetre.
func TestExchangedFilesAreSaid(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	scan, ref := filepath.Join(dir, demo.ScanFile), filepath.Join(dir, demo.ReferenceFile)
	for _, exchanged := range []bool{false, true} {
		i := inspection.Default(scan, ref)
		if exchanged {
			i = inspection.Default(ref, scan)
		}
		i.Place.Method = inspection.None
		parts, err := app.LoadParts(ctx, i, app.Settings{}, nil)
		require.NoError(t, err)
		placed, err := app.Place(ctx, i, parts, app.Settings{}, nil)
		require.NoError(t, err)
		said := parts.Exchanged()
		if !exchanged {
			require.Empty(t, said)
			continue
		}
		require.Regexp(t, `^The scan is as smooth as a drawing \(under 0\.002 mm of noise\) and the reference scatters by 0\.0[1-9]\d mm: have the files been swapped\?`, said)
		require.Equal(t, said+".", words.Writer{}.Parts(parts).Found[0].Text, "at the head")
		require.Equal(t, said, parts.Notes[0])
		require.Equal(t, said, placed.Placement.Notes[0])
	}
}
