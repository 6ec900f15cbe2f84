package app

import (
	"context"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
	"shutline/mesh/pages"
)

// sparse writes the head of a binary STL and leaves the rest a hole that takes no room on the disk.
func sparse(t *testing.T, name string, triangles uint32) string {
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	_, err = f.WriteAt(binary.LittleEndian.AppendUint32(nil, triangles), 80)
	require.NoError(t, err)
	require.NoError(t, f.Truncate(84+50*int64(triangles)))
	return path
}

func TestMeshesThatDoNotFitIntoMemoryAreRefusedBeforeTheyAreRead(t *testing.T) {
	scan, ref := sparse(t, "scan.stl", 10_000_000), sparse(t, "reference.stl", 6_000_000)
	before := room
	t.Cleanup(func() { room = before })
	left, known := pages.Room{Bytes: 1_900_000_000, Of: "this machine"}, true
	room = func() (pages.Room, bool) { return left, known }
	_, err := LoadParts(context.Background(), inspection.Default(scan, ref), Settings{}, nil)
	require.EqualError(t, err, "app: "+scan+": together with reference.stl it holds some 16.0 million faces or points, which need at least 2.1 GB of memory; this machine leaves 1.9 GB. Thin the meshes out, close other programs, or use a machine with more memory")
	require.Equal(t, ExitInput, ExitStatus(err))
	require.NoError(t, NeedRoom(scan), "alone it may do")
	require.ErrorContains(t, NeedRoom(scan, scan), "together with scan.stl it holds some 20.0 million")
	left.Bytes = 2_100_000_000
	require.NoError(t, NeedRoom(scan, ref))
	left, known = pages.Room{}, false
	require.NoError(t, NeedRoom(scan, ref), "a system that does not tell refuses nothing")
	require.NoError(t, NeedRoom(filepath.Join(t.TempDir(), "nowhere.stl")), "reading it says why")
}
