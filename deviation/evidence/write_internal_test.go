package evidence

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// What cannot be written is named with the folder it was meant for, not with the one it is prepared in.
func TestAFileThatCannotBeWrittenNamesItsFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "van-results")
	w := &writer{ctx: context.Background(), r: &Record{}}
	err := w.into(dir, func() error {
		return w.file("seams.csv", func(io.Writer) error { return &os.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC} })
	})
	var refused *WriteError
	require.ErrorAs(t, err, &refused)
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.Equal(t, "evidence: "+filepath.Join(dir, "seams.csv")+": cannot be written: no space left on device; check the disk and the folder's permissions, or choose another folder", err.Error())
	require.NoDirExists(t, dir)

	w = &writer{ctx: context.Background(), r: &Record{}}
	err = w.into(dir, func() error { return w.put(filepath.Join("no such folder", "a.csv"), nil) })
	require.True(t, errors.As(err, &refused))
	require.Contains(t, err.Error(), filepath.Join(dir, "no such folder", "a.csv")+": cannot be written: no such file or directory")
}
