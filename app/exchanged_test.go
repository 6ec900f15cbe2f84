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

// Examining the meshes after the scan was placed leads to the same as before.
func TestExaminedLaterIsTheSame(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	require.NoError(t, demo.Write(ctx, dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	i := inspection.Default(filepath.Join(dir, demo.ReferenceFile), filepath.Join(dir, demo.ScanFile)) // exchanged
	i.Place.Method = inspection.None
	parts, err := app.LoadParts(ctx, i, app.Settings{}, nil)
	require.NoError(t, err)
	require.False(t, parts.Unexamined())
	placed, err := app.Place(ctx, i, parts, app.Settings{}, nil)
	require.NoError(t, err)

	later, err := app.ReadParts(ctx, i, app.Settings{}, nil)
	require.NoError(t, err)
	require.True(t, later.Unexamined())
	require.Empty(t, later.Exchanged())
	before, err := app.Place(ctx, i, later, app.Settings{}, nil)
	require.NoError(t, err)
	e, err := later.Examine(ctx, app.Settings{}, nil)
	require.NoError(t, err)
	require.True(t, later.Unexamined(), "nothing is kept yet")
	later.Take(e, before)
	require.False(t, later.Unexamined())
	require.Equal(t, parts.Examined, later.Examined)
	require.Equal(t, parts.Notes, later.Notes)
	require.Equal(t, placed.Placement.Notes, before.Placement.Notes)
}
