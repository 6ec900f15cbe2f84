package app

import (
	"context"
	"encoding/binary"
	"os"
	"path/filepath"
	"strings"
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
	left, known := pages.Room{Bytes: 2_100_000_000, Of: "this machine"}, true
	room = func() (pages.Room, bool) { return left, known }
	_, err := LoadParts(context.Background(), inspection.Default(scan, ref), Settings{}, nil)
	require.EqualError(t, err, "app: "+scan+": together with reference.stl it holds some 16.0 million faces or points, which need at least 2.3 GB of memory; this machine leaves 2.1 GB. Thin the meshes out, close other programs, or use a machine with more memory")
	require.Equal(t, ExitInput, ExitStatus(err))
	require.NoError(t, NeedRoom(scan), "alone it may do")
	require.ErrorContains(t, NeedRoom(scan, scan), "together with scan.stl it holds some 20.0 million")
	left.Bytes = 2_319_000_000
	require.ErrorContains(t, NeedRoom(scan, ref), "need at least 2320 MB of memory; this machine leaves 2319 MB.")
	left.Bytes = 2_330_000_000
	require.NoError(t, NeedRoom(scan, ref))
	_, err = ReadParts(context.Background(), inspection.Default(scan, ref), Settings{Drawn: true}, nil)
	require.ErrorContains(t, err, "need at least 3.9 GB of memory; this machine leaves 2.3 GB.", "a window draws them, too")
	left, known = pages.Room{}, false
	require.NoError(t, NeedRoom(scan, ref), "a system that does not tell refuses nothing")
	require.NoError(t, NeedRoom(filepath.Join(t.TempDir(), "nowhere.stl")), "reading it says why")
}

// A GLB says in its head what it holds, and a file that is read whole counts with its bytes.
func TestEveryFormatIsRefusedByWhatItTakes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "scan.glb")
	const faces = 3_000_000
	text := `{"asset":{"version":"2.0"},"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}],"accessors":[{"count":1500000},{"count":9000000}]}  `
	for len(text)%4 != 0 {
		text += " "
	}
	size := uint32(20 + len(text) + 8 + 54_000_000)
	head := binary.LittleEndian.AppendUint32([]byte("glTF"), 2)
	head = binary.LittleEndian.AppendUint32(head, size)
	head = binary.LittleEndian.AppendUint32(head, uint32(len(text)))
	head = append(binary.LittleEndian.AppendUint32(head, 0x4e4f534a), text...)
	require.NoError(t, os.WriteFile(path, head, 0o644))
	require.NoError(t, os.Truncate(path, int64(size)))
	things, need := Need(path)
	require.Equal(t, faces, things)
	require.EqualValues(t, faces*perTriangle, need)
	before := room
	t.Cleanup(func() { room = before })
	room = func() (pages.Room, bool) { return pages.Room{Bytes: 300_000_000, Of: "this machine"}, true }
	require.EqualError(t, NeedRoom(path), "app: "+path+": it holds some 3.0 million faces or points, which need at least 435 MB of memory; this machine leaves 300 MB. Thin the mesh out, close other programs, or use a machine with more memory")

	long := filepath.Join(t.TempDir(), "scan.stl")
	facet := "facet normal 0.0000000000000000e+00 0.0000000000000000e+00 1.0000000000000000e+00\nouter loop\n"
	for range 3 {
		facet += "vertex 1.2345678901234567e+02 1.2345678901234567e+02 1.2345678901234567e+02\n"
	}
	facet += "endloop\nendfacet\n"
	require.NoError(t, os.WriteFile(long, []byte("solid a\n"+strings.Repeat(facet, 20_000)+"endsolid a\n"), 0o644))
	things, need = Need(long)
	require.InDelta(t, 19_000, things, 400)
	require.Greater(t, need, int64(things)*(int64(len(facet))+100), "its text is held while it is read")
}
