package meshio_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

const plySquare = `ply
format ascii 1.0
comment caf` + "\xe9" + ` made by hand
obj_info nothing
element vertex 6
property float x
property float y
property float z
property uchar red
element note 2
property list uchar float values
property int id
element face 2
property list uchar int vertex_index
property float quality
end_header
9 9 9 0
0 0 0 1
1 0 0 2
1 1 0 3
0 0 0 4
0 1 0 5
0 5
2 0.5 1.5 6
4 1 2 3 5 0.1
3 4 3 2 nan
`

func TestPLYKeepsTheOrderOfTheVertexList(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		l := mustRead(t, "a.ply", strings.ReplaceAll(plySquare, "\n", end))
		require.Equal(t, "PLY text", l.Format)
		require.Equal(t, []geom.Vec{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}}, l.Mesh.Vertices)
		require.Equal(t, [][3]uint32{{0, 1, 2}, {0, 2, 3}, {0, 2, 1}}, l.Mesh.Faces)
		require.Equal(t, []int{6, 1, 1, 1}, []int{l.VerticesInFile, l.VerticesJoined, l.VerticesUnused, l.PolygonsCut})
		require.Len(t, l.Notices(), 3)
	}
}

func TestPLYBinaryEqualsWhatWasWritten(t *testing.T) {
	m := wave(9)
	for format, order := range map[string]binary.AppendByteOrder{"binary_little_endian": binary.LittleEndian, "binary_big_endian": binary.BigEndian} {
		l, err := read(t, "w.ply", plyOrdered(m, order, format))
		require.NoError(t, err)
		require.Equal(t, m.Vertices, l.Mesh.Vertices)
		require.Equal(t, m.Faces, l.Mesh.Faces)
		require.Equal(t, "PLY "+strings.ReplaceAll(strings.Replace(format, "_", " ", 1), "_", "-"), l.Format)
	}
}

func TestPLYPointsKeepTheFilesNormals(t *testing.T) {
	l := mustRead(t, "a.ply", `ply
format ascii 1.0
element vertex 5
property double x
property double y
property double z
property float nx
property float ny
property float nz
end_header
0 0 0 0 0 2
nan 0 0 0 0 1
1 0 0 0 -3 0
0 0 -0 1 0 0
0 1 0 0 0 0
`)
	require.Equal(t, []geom.Vec{{}, {X: 1}, {Y: 1}}, l.Mesh.Vertices)
	require.Equal(t, []geom.Vec{{Z: 1}, {Y: -1}, {}}, l.Mesh.Normals)
	require.Empty(t, l.Mesh.Faces)
	require.Equal(t, []int{1, 1}, []int{l.PointsNotFinite, l.VerticesJoined})
}

func TestPLYColoursAreKeptInEveryType(t *testing.T) {
	for kind, values := range map[string]string{"uchar": "255 0 51", "float": "1 -0.5 0.2", "ushort": "65535 0 13107", "double": "7 nan 0.2"} {
		l := mustRead(t, "a.ply", strings.NewReplacer(" K ", " "+kind+" ", " V ", " "+values+" ").Replace(`ply
format ascii 1.0
element vertex 4
property float x
property float y
property float z
property K red
property K green
property K blue
property uchar alpha
element face 1
property list uchar int vertex_indices
end_header
9 9 9 0 0 0 0
0 0 0 V 9
1 0 0 0 0 0 9
0 1 0 V 9
3 1 2 3
`))
		require.Equal(t, [][3]uint8{{255, 0, 51}, {}, {255, 0, 51}}, l.Mesh.Colours, kind)
		moved := l.Mesh.Moved(geom.Identity())
		require.Equal(t, l.Mesh.Colours, moved.Colours)
		require.Equal(t, l.Mesh.Colours, l.Mesh.Mirrored(0).Colours)
	}
}

func TestPLYMayBeginWithAMark(t *testing.T) {
	l := mustRead(t, "a.ply", "\xef\xbb\xbf"+plySquare)
	require.Len(t, l.Mesh.Faces, 3)
}

func TestPLYBigEndianTruncatedAtEachByte(t *testing.T) {
	whole := plyOrdered(wave(1), binary.BigEndian, "binary_big_endian")
	for n := range whole {
		_, err := read(t, "a.ply", whole[:n])
		requireFault(t, err, n)
	}
}

func TestPLYTriangleStrips(t *testing.T) {
	l := mustRead(t, "a.ply", `ply
format ascii 1.0
element vertex 5
property int x
property int y
property int z
element tristrips 1
property list int int vertex_indices
end_header
0 0 0
1 0 0
0 1 0
1 1 0
0 2 0
9 0 1 2 3 -1 2 3 4 -1
`)
	require.Equal(t, [][3]uint32{{0, 1, 2}, {2, 1, 3}, {2, 3, 4}}, l.Mesh.Faces)
	for f := range l.Mesh.Faces {
		require.Positive(t, l.Mesh.AreaNormal(uint32(f)).Z)
	}
}

func TestPLYFaults(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"count too large":      {"element vertex 6", "element vertex 999999999999", "999,999,999,999 rows of element \"vertex\""},
		"count too small":      {"element face 2", "element face 1", "stands after the last row"},
		"count negative":       {"element face 2", "element face -2", `"element NAME COUNT"`},
		"index out of range":   {"4 1 2 3 5", "4 1 2 3 6", "face 0: it names vertex 6, but the file has vertices 0 to 5"},
		"index negative":       {"3 4 3 2", "3 4 3 -2", "face 1: it names vertex -2"},
		"list too long":        {"4 1 2 3 5", "4000000 1 2 3 5", "longer than the file"},
		"not a number":         {"1 1 0 3", "1 x 0 3", `row 3 of element "vertex" at line 20: "x" is not a number`},
		"comma":                {"1 1 0 3", "1,5 1 0 3", "not a comma"},
		"row too long":         {"1 1 0 3", "1 1 0 3 4", `"4" stands after the values`},
		"no x":                 {"property float x", "property float u", "no x, y and z"},
		"no vertices":          {"element vertex 6", "element point 6", "no vertices"},
		"unknown type":         {"property int id", "property word id", `line 12: "property word id" is not a property`},
		"list counted in real": {"list uchar int", "list float int", "is not a property"},
		"unknown format":       {"format ascii 1.0", "format zipped 1.0", `"zipped"`},
		"unknown line":         {"comment", "remark", `"remark" is not a line of a PLY header`},
		"twice":                {"element note 2", "element vertex 2", "stands twice"},
		"property first":       {"element vertex 6\n", "", "before the first element"},
		"no end":               {"end_header", "end_head", "not a line of a PLY header"},
	} {
		require.Contains(t, plySquare, c.old, name)
		_, err := read(t, "a.ply", []byte(strings.Replace(plySquare, c.old, c.new, 1)))
		requireFault(t, err, 0)
		require.ErrorContains(t, err, c.want, name)
	}
}

func TestPLYBinaryFaults(t *testing.T) {
	whole := plyBinary(wave(2))
	for n := range whole {
		_, err := read(t, "a.ply", whole[:n])
		requireFault(t, err, n)
	}
	_, err := read(t, "a.ply", append(whole, 0, 0, 0))
	require.ErrorContains(t, err, "3 bytes stand after the last row")
	long := plyBinary(wave(2))
	long[len(long)-8*15] = 255 // the corner count of the first face: 8 faces of 15 bytes end the file
	_, err = read(t, "a.ply", long)
	require.ErrorContains(t, err, "a list of 255 values is longer than the rest of the file")
	wild := plyBinary(wave(2))
	binary.LittleEndian.PutUint32(wild[len(wild)-14:], math.MaxUint32)
	_, err = read(t, "a.ply", wild)
	require.ErrorContains(t, err, "names vertex 4,294,967,295")
}

// A text has no marks of its end, so the last number may lose digits unseen
// where that leaves a file that is right in itself; then the missing line end is said.
func TestPLYTextTruncatedAtEachByte(t *testing.T) {
	text := strings.TrimSuffix(plySquare, "nan\n") + "1000.25\n"
	for n := range text {
		l, err := read(t, "a.ply", []byte(text[:n]))
		if err != nil {
			requireFault(t, err, n)
			continue
		}
		require.GreaterOrEqual(t, n, len(text)-len("000.25\n"), "only the last number may be cut")
		require.Len(t, l.Mesh.Faces, 3)
		require.True(t, l.OpenEnd)
		require.Contains(t, l.Notices()[len(l.Notices())-1], "no line end")
	}
}

func TestPLYHeaderEndsWhereTheFirstLinesEndSays(t *testing.T) {
	// After a header with CR line ends, a first byte of 10 (LF) is data, not half of a line end.
	b := []byte("ply\rformat binary_little_endian 1.0\relement vertex 1\rproperty uchar x\rproperty uchar y\rproperty uchar z\rend_header\r\n\x02\x03")
	l, err := read(t, "a.ply", b)
	require.NoError(t, err)
	require.Equal(t, []geom.Vec{{X: 10, Y: 2, Z: 3}}, l.Mesh.Vertices)
	require.Equal(t, meshio.Millimetre, l.Unit)
}

func TestPLYBinaryIsTheSameForAnyNumberOfThreads(t *testing.T) {
	m := wave(180) // several runs of vertices and faces
	little := plyBinary(m)
	quad := bytes.Replace(little, []byte("element face 64800\n"), []byte("element face 64801\n"), 1)
	quad = append(quad, 4)
	for _, v := range []uint32{0, 1, 182, 181} {
		quad = binary.LittleEndian.AppendUint32(quad, v)
	}
	quad = append(quad, 7, 0) // its group
	wild := bytes.Clone(little)
	binary.LittleEndian.PutUint32(wild[len(wild)-14-15*40_000:], 1<<20)
	for name, data := range map[string][]byte{"little": little, "big": plyOrdered(m, binary.BigEndian, "binary_big_endian"), "a quad at the end": quad, "wild": wild} {
		for _, threads := range []int{1, 2, 5} {
			l, err := meshio.Decode("a.ply", data, threads)
			if name == "wild" {
				require.ErrorContains(t, err, "face 24,799: it names vertex 1,048,576, but the file has vertices 0 to 32,760")
				continue
			}
			require.NoError(t, err)
			require.True(t, equal(m.Vertices, l.Mesh.Vertices), name)
			require.True(t, equal(m.Faces, l.Mesh.Faces[:len(m.Faces)]), name)
			if name == "a quad at the end" {
				require.Equal(t, [][3]uint32{{0, 1, 182}, {0, 182, 181}}, l.Mesh.Faces[len(m.Faces):])
			}
		}
	}
}

// A table of faces under a name that is not known never makes a cloud of points of a mesh.
func TestPLYRefusesFacesUnderOtherNames(t *testing.T) {
	for old, other := range map[string]string{"element face": "element faces", "vertex_index": "vertex_idx"} {
		data := strings.Replace(plySquare, old, other, 1)
		require.NotEqual(t, plySquare, data)
		_, err := read(t, "a.ply", []byte(data))
		require.ErrorContains(t, err, "export it again")
	}
}
