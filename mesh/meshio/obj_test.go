package meshio_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func TestOBJReadsEveryKindOfCorner(t *testing.T) {
	text := `# a square and a triangle
mtllib none.mtl
o part one
v 0 0 0 0.5 0.5 0.5
v 1 0 0 1.0
v 1 1 0 # the far corner
v 0 1 0
vt 0 0
vn 0 0 1
usemtl x
s off
f 1/1/1 2//1 3/1 \
  4
l 1 2 3
v 0 0 0
v 5 5 5
v 0 0 2
f -3 -1 -6 # 5 7 2
`
	for _, end := range []string{"\n", "\r\n", "\r"} {
		l := mustRead(t, "a.obj", strings.ReplaceAll(text, "\n", end))
		require.Equal(t, "OBJ", l.Format)
		require.Equal(t, []geom.Vec{{}, {X: 1}, {X: 1, Y: 1}, {Y: 1}, {Z: 2}}, l.Mesh.Vertices)
		require.Equal(t, [][3]uint32{{0, 1, 2}, {0, 2, 3}, {0, 4, 1}}, l.Mesh.Faces)
		require.Equal(t, []int{7, 1, 1, 1, 1}, []int{l.VerticesInFile, l.VerticesJoined, l.VerticesUnused, l.PolygonsCut, l.LeftOut})
	}
}

func TestOBJPoints(t *testing.T) {
	l := mustRead(t, "a.obj", "vn 0 0 3\nv 0 0 0\nvn 0 2 0\nv 1 0 0\n")
	require.Equal(t, []geom.Vec{{Z: 1}, {Y: 1}}, l.Mesh.Normals)
	l = mustRead(t, "points.txt", "# told by its content\nv 0 0 0\nv 1 0 0\nvn 1 0 0\n")
	require.Nil(t, l.Mesh.Normals, "one normal for two points belongs to neither")
	require.Len(t, l.Mesh.Vertices, 2)
}

// Colours after the coordinates are common practice, not part of the format's first description.
func TestOBJColours(t *testing.T) {
	face := "f 1 2 3\n"
	l := mustRead(t, "a.obj", "v 9 9 9 1 1 1\nv 0 0 0 1 0 0.5\nv 1 0 0 0 1 0\nv 0 1 0 0.2 0.2 0.2\nf 2 3 4\n")
	require.Equal(t, [][3]uint8{{255, 0, 128}, {0, 255, 0}, {51, 51, 51}}, l.Mesh.Colours)
	l = mustRead(t, "a.obj", "v 0 0 0 255 0 128\nv 1 0 0 0 255 0\nv 0 1 0 nan 51 51\n"+face)
	require.Equal(t, [][3]uint8{{255, 0, 128}, {0, 255, 0}, {0, 51, 51}}, l.Mesh.Colours)
	l = mustRead(t, "a.obj", "v 0 0 0 1 0 0\nv 1 0 0\nv 0 1 0 0 0 1\n"+face)
	require.Nil(t, l.Mesh.Colours, "not every vertex has one")
	l = mustRead(t, "a.obj", "v 0 0 0 1\nv 1 0 0 1\nv 0 1 0 1\n"+face)
	require.Nil(t, l.Mesh.Colours, "a weight is no colour")
}

func TestOBJFaults(t *testing.T) {
	square := "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"
	for name, c := range map[string]struct{ text, want string }{
		"past the end":     {square + "f 1 2 5\n", "line 5: a face names vertex 5, but the file has vertices 1 to 4"},
		"past the start":   {"v 0 0 0\nv 1 0 0\nv 1 1 0\nf -1 -2 -4\nv 0 1 0\n", "line 4: a face names vertex -4, which counts back from itself, but only 3 vertices stand before it"},
		"far back, joined": {"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf -1/1 -2 \\\n -9//2\n", "line 5: a face names vertex -9, which counts back from itself, but only 4 vertices stand before it"},
		"zero":             {square + "f 0 1 2\n", "line 5: \"0\" is not a corner"},
		"giant":            {square + "f 1 2 99999999999999999999\n", "is not a corner"},
		"large":            {square + "f 1 2 999999999999999999\n", "a face names vertex"},
		"far back":         {square + "f 1 2 -999999999999999999\n", "a face names vertex -999,999,999,999,999,999, which counts back"},
		"two corners":      {square + "f 1 2\n", "line 5: a face has 2 corners"},
		"word":             {square + "f 1 2 three\n", "\"three\" is not a corner"},
		"two numbers":      {"v 1 2\n", "line 1: a vertex needs three numbers, not \"v 1 2\""},
		"comma":            {"v 1,5 2 3\n", "not a comma"},
		"normal":           {"vn 1 2\n", "a normal needs three numbers"},
		"control bytes":    {square + "\x01\x02 1 2\n", "bytes that are not text"},
		"nothing":          {"# nothing\no empty\n", "no faces and no points"},
		"backslash at end": {square + "f 1 2 \\", "a face has 2 corners"},
	} {
		_, err := read(t, "a.obj", []byte(c.text))
		requireFault(t, err, 0)
		require.ErrorContains(t, err, c.want, name)
	}
}

func TestOBJDropsFacesThatAreNotFinite(t *testing.T) {
	l := mustRead(t, "a.obj", "v 0 0 0\nv 1 0 0\nv nan 1 0\nv 0 1 0\nv 1e999 0 0\nf 1 2 3 4\nf 1 2 4\nf 1 2 5\n")
	require.Equal(t, []int{4, 3, 2}, []int{l.FacesInFile, l.DroppedNotFinite, l.PointsNotFinite})
	require.Len(t, l.Mesh.Faces, 1)
}

func TestOBJTruncatedAtEachByte(t *testing.T) {
	text := "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3\nf 1 3 4\n"
	for n := range text {
		l, err := read(t, "a.obj", []byte(text[:n]))
		if err != nil {
			requireFault(t, err, n)
			continue
		}
		whole := n > 0 && text[n-1] == '\n' // OBJ names no counts: whole lines are a whole file
		require.Equal(t, !whole, l.OpenEnd, "after %d bytes", n)
	}
}

func TestOBJInPiecesIsTheSameForAnyNumberOfThreads(t *testing.T) {
	var b strings.Builder
	m := wave(150)
	for y := range 151 { // vertices and faces mixed, the faces counted back from where they stand
		for x := range 151 {
			v := m.Vertices[y*151+x]
			fmt.Fprintf(&b, "v %.12f %.12f \\\n   %.12f\n", v.X, v.Y, v.Z)
			if x > 0 && y > 0 {
				b.WriteString("f -1 -152 -153 -2\n")
			}
		}
	}
	require.Greater(t, b.Len(), 1<<20)
	path := save(t, "w.obj", []byte(b.String()))
	var first *meshio.Loaded
	for _, threads := range []int{1, 2, 5} {
		l, err := meshio.Read(context.Background(), path, meshio.Options{Threads: threads, Unit: "mm"})
		require.NoError(t, err)
		if first == nil {
			first = l
			require.Len(t, l.Mesh.Faces, 2*150*150)
			require.Len(t, l.Mesh.Vertices, 151*151)
		}
		require.Equal(t, first, l)
	}
}

// The polygon's area does not depend on how it is cut, as long as the triangles lie inside it.
func TestPolygonsAreCutInside(t *testing.T) {
	for name, c := range map[string]struct {
		corners string
		n       int
		area    float64
	}{
		"convex":                        {"v 0 0 0\nv 2 0 0\nv 3 1 0\nv 2 2 0\nv 0 2 0\n", 5, 5},
		"quad hollow at second":         {"v 0 0 0\nv 1 1 0\nv 2 0 0\nv 1 3 0\n", 4, 2},
		"quad hollow at first":          {"v 1 1 0\nv 2 0 0\nv 1 3 0\nv 0 0 0\n", 4, 2},
		"L":                             {"v 0 0 0\nv 3 0 0\nv 3 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\n", 6, 5},
		"comb":                          {"v 0 0 0\nv 5 0 0\nv 5 3 0\nv 4 3 0\nv 4 1 0\nv 3 1 0\nv 3 3 0\nv 2 3 0\nv 2 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\n", 12, 11},
		"L standing, not at the origin": {"v 100 0 0\nv 100 3 0\nv 100 3 1\nv 100 1 1\nv 100 1 3\nv 100 0 3\n", 6, 5},
	} {
		face := "f"
		for i := range c.n {
			face += fmt.Sprintf(" %d", i+1)
		}
		l := mustRead(t, "a.obj", c.corners+face+"\n")
		require.InDelta(t, c.area, l.Mesh.Area(), 1e-12, name)
		first := l.Mesh.AreaNormal(0)
		for f := range l.Mesh.Faces {
			require.Positive(t, l.Mesh.AreaNormal(uint32(f)).Dot(first), name)
		}
	}
	star := "" // 400 corners, every second one drawn in
	for i := range 400 {
		star += fmt.Sprintf("v %d %d 0\n", i, (i%2)*(i*i+3))
	}
	face := "f"
	for i := range 400 {
		face += fmt.Sprintf(" %d", i+1)
	}
	_, err := read(t, "a.obj", []byte(star+face+"\n"))
	require.ErrorContains(t, err, "face 1: a polygon of 400 corners that is not convex is over the limit of 256")
}

// A statement may go on over any number of lines; what is read is the same as on one.
func TestOBJJoinsManyLines(t *testing.T) {
	const corners = 20000
	var b strings.Builder
	for i := range corners {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		fmt.Fprintf(&b, "v %.9f %.9f 0\n", 100*cos, 100*sin)
	}
	one := b.String() + "f"
	for i := range corners {
		one += fmt.Sprintf(" %d", i+1)
	}
	many := strings.Replace(one, "\nf ", "\nf \\\n", 1)
	at := strings.Index(many, "\nf ") + 3
	many = many[:at] + strings.ReplaceAll(many[at:], " ", " \\\r\n")
	want, got := mustRead(t, "a.obj", one+"\n"), mustRead(t, "a.obj", many+"\n")
	require.Len(t, want.Mesh.Faces, corners-2)
	require.Equal(t, want.Mesh, got.Mesh)
}

// "Statements can be logically joined with the line continuation character" (OBJ specification, 1995);
// comments are none, and those that end with the name of a folder are common.
func TestOBJCommentsEndWithTheirLine(t *testing.T) {
	l := mustRead(t, "a.obj", "# from C:\\models\\\nv 0 0 0 # C:\\\nv 1 0 0\n  # D:\\\nv 0 1 0\nf 1 \\\n 2 3\n")
	require.Equal(t, []geom.Vec{{}, {X: 1}, {Y: 1}}, l.Mesh.Vertices)
	require.Len(t, l.Mesh.Faces, 1)
}

// Lines of any length end with LF, CR LF or CR, whichever comes first.
func TestOBJLineEndsAndLengths(t *testing.T) {
	for _, end := range []string{"\n", "\r\n", "\r"} {
		for blanks := 240; blanks < 270; blanks++ {
			rest := strings.Repeat(" ", blanks)
			l := mustRead(t, "a.obj", "v 0 0 0"+rest+end+"v 1 0 0"+end+end+"v 0 1 0"+rest+rest+end+"f 1 2 3"+end)
			require.Equal(t, [][3]uint32{{0, 1, 2}}, l.Mesh.Faces)
			require.Len(t, l.Mesh.Vertices, 3)
		}
	}
}
