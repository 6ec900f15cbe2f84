package meshio_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/meshio"
)

// What the system says goes on inside a sentence: without a path that was named, and without a full stop.
func TestWhatTheSystemSaysFitsASentence(t *testing.T) {
	stop := errors.New("Access is denied.")
	for _, err := range []error{stop, &fs.PathError{Op: "open", Path: `C:\a b\ü.stl`, Err: stop}, &os.LinkError{Op: "rename", Old: "a", New: "b", Err: stop}} {
		require.Equal(t, "Access is denied", meshio.SystemWhy(err))
		require.Equal(t, "Access is denied", meshio.ReplaceWhy(err))
		require.False(t, meshio.HeldByAnother(err))
	}
	_, err := os.Open(filepath.Join(t.TempDir(), "none"))
	require.NotContains(t, meshio.SystemWhy(err), "none")
}
