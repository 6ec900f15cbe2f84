package meshio_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/meshio"
)

// A file that another program has open, and lets nobody read, is said so.
func TestAFileThatIsHeldIsSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "Türen links.stl")
	require.NoError(t, os.WriteFile(path, []byte("solid"), 0o644))
	name, err := syscall.UTF16PtrFromString(path)
	require.NoError(t, err)
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ, 0, nil, syscall.OPEN_EXISTING, 0, 0)
	require.NoError(t, err)
	_, err = meshio.Read(t.Context(), path, meshio.Options{})
	require.NoError(t, syscall.CloseHandle(h))
	require.ErrorContains(t, err, "cannot be opened: another program has it open; close it there and try again")
}
