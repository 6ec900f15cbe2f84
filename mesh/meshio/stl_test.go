package meshio_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	hstl "github.com/hschendel/stl"
	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

const gearwheel = "../../testdata/open/gearwheel.stl"

// binarySTL writes triangles given as nine coordinates each.
func binarySTL(header string, triangles ...[9]float32) []byte {
	b := make([]byte, 84)
	copy(b, header)
	binary.LittleEndian.PutUint32(b[80:], uint32(len(triangles)))
	for _, t := range triangles {
		b = append(b, make([]byte, 12)...)
		for _, x := range t {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
		}
		b = append(b, 0, 0)
	}
	return b
}

func TestSTLJoinsEqualCornersInOrderOfFirstAppearance(t *testing.T) {
	minus := float32(math.Copysign(0, -1))
	l, err := read(t, "a.stl", binarySTL("any", [9]float32{5, 0, 0, 6, 0, 0, 6, 1, 0}, [9]float32{5, minus, 0, 6, 1, minus, 5, 1, 0}))
	require.NoError(t, err)
	require.Equal(t, []geom.Vec{{X: 5}, {X: 6}, {X: 6, Y: 1}, {X: 5, Y: 1}}, l.Mesh.Vertices)
	require.Equal(t, [][3]uint32{{0, 1, 2}, {0, 2, 3}}, l.Mesh.Faces)
	for _, v := range l.Mesh.Vertices {
		require.False(t, math.Signbit(v.Y) || math.Signbit(v.Z))
	}
	require.Equal(t, 6, l.VerticesInFile)
	require.Equal(t, "STL binary", l.Format)
	require.Empty(t, l.Notices())
}

func TestSTLDropsAndCountsFacesThatAreNone(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(-1))
	l, err := read(t, "a.stl", binarySTL("",
		[9]float32{9, 9, 9, 9, 9, 9, 1, 1, 1}, // two equal corners
		[9]float32{0, 0, 0, 1, 1, 1, 3, 3, 3}, // in one line
		[9]float32{0, nan, 0, 1, 0, 0, 0, 1, 0},
		[9]float32{0, 0, 0, 1, 0, 0, 0, inf, 0},
		[9]float32{2, 0, 0, 3, 0, 0, 2, 1, 0},
		[9]float32{0, 0, nan, 0, 0, 0, 0, 0, 0},
	))
	require.NoError(t, err)
	require.Equal(t, []geom.Vec{{X: 2}, {X: 3}, {X: 2, Y: 1}}, l.Mesh.Vertices, "dropped faces leave no vertices")
	require.Equal(t, []int{6, 3, 2}, []int{l.FacesInFile, l.DroppedNotFinite, l.DroppedNoArea})
	require.Len(t, l.Notices(), 2)
}

// hschendel/stl is an independent reader of the same format.
func TestSTLAgreesWithAnIndependentReader(t *testing.T) {
	l, err := meshio.Read(context.Background(), gearwheel, inMM)
	require.NoError(t, err)
	other, err := hstl.ReadFile(gearwheel)
	require.NoError(t, err)
	require.Len(t, l.Mesh.Faces, len(other.Triangles))
	for f, want := range other.Triangles {
		a, b, c := l.Mesh.Corners(uint32(f))
		for k, v := range [...]geom.Vec{a, b, c} {
			require.Equal(t, want.Vertices[k], hstl.Vec3{float32(v.X), float32(v.Y), float32(v.Z)})
		}
	}
	// Closed with a hole for the shaft, so of genus 1: V - E + F = 0 (Euler) and V = F/2.
	require.Len(t, l.Mesh.Vertices, 2444/2)
	r, err := mesh.Health(context.Background(), l.Mesh)
	require.NoError(t, err)
	require.True(t, r.Closed)
	require.Equal(t, r.Edges, r.Vertices+r.Faces)
}

func TestWriteSTLIsReadByAnIndependentReaderAndByUs(t *testing.T) {
	m := wave(20)
	var b bytes.Buffer
	require.NoError(t, meshio.WriteSTL(&b, m))
	other, err := hstl.ReadAll(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	require.Len(t, other.Triangles, len(m.Faces))
	l, err := read(t, "w.stl", b.Bytes())
	require.NoError(t, err)
	require.Len(t, l.Mesh.Vertices, len(m.Vertices))
	for f, want := range other.Triangles {
		n := m.AreaNormal(uint32(f)).Unit()
		require.InDelta(t, 1, n.Dot(geom.Vec{X: float64(want.Normal[0]), Y: float64(want.Normal[1]), Z: float64(want.Normal[2])}), 1e-6)
		p, _, _ := l.Mesh.Corners(uint32(f))
		q, _, _ := m.Corners(uint32(f))
		require.InDelta(t, 0, p.Dist(q), 1e-5)
	}
}

func TestWriteSTLRefusesWhatSTLCannotHold(t *testing.T) {
	require.ErrorContains(t, meshio.WriteSTL(io.Discard, &mesh.Mesh{Vertices: []geom.Vec{{}}}), "without faces")
	far := &mesh.Mesh{Vertices: []geom.Vec{{X: 1e39}, {Y: 1}, {Z: 1}}, Faces: [][3]uint32{{0, 1, 2}}}
	require.ErrorContains(t, meshio.WriteSTL(io.Discard, far), "does not fit")
	fails := errors.New("disk full")
	require.ErrorIs(t, meshio.WriteSTL(failing{fails}, wave(2)), fails)
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

// textSTL writes m with as many digits as a float32 needs.
func textSTL(m *mesh.Mesh, end string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "solid part%s", end)
	for f := range m.Faces {
		p, q, r := m.Corners(uint32(f))
		fmt.Fprintf(&b, "facet normal 0 0 1%s outer loop%s", end, end)
		for _, v := range []geom.Vec{p, q, r} {
			fmt.Fprintf(&b, "\tvertex  %v %.8E %v%s", float32(v.X), float32(v.Y), float32(v.Z), end)
		}
		fmt.Fprintf(&b, " endloop%sendfacet%s", end, end)
	}
	return b.String() + "endsolid part" + end
}

func TestSTLTextEqualsBinary(t *testing.T) {
	l, err := meshio.Read(context.Background(), gearwheel, inMM)
	require.NoError(t, err)
	for _, end := range []string{"\n", "\r\n", "\r"} {
		text := mustRead(t, "g.stl", textSTL(l.Mesh, end))
		require.Equal(t, l.Mesh.Faces, text.Mesh.Faces)
		for i, v := range text.Mesh.Vertices {
			w := l.Mesh.Vertices[i]
			require.Equal(t, [3]float32{float32(w.X), float32(w.Y), float32(w.Z)}, [3]float32{float32(v.X), float32(v.Y), float32(v.Z)})
		}
	}
}

func TestSTLTextInPiecesIsTheSameForAnyNumberOfThreads(t *testing.T) {
	data := []byte(textSTL(wave(130), "\n")) // several pieces of 1 MiB
	require.Greater(t, len(data), 3<<20)
	path := save(t, "w.stl", data)
	var first *meshio.Loaded
	for _, threads := range []int{1, 2, 5} {
		l, err := meshio.Read(context.Background(), path, meshio.Options{Threads: threads, Unit: "mm"})
		require.NoError(t, err)
		if first == nil {
			first = l
			require.Equal(t, 2*130*130, l.FacesInFile)
		}
		require.Equal(t, first, l)
	}
	// A fault far behind the first piece is still named by its line.
	at := bytes.LastIndex(data, []byte("vertex"))
	broken := append(bytes.Clone(data[:at]), "vertex 1,5 2 3\n endloop\nendfacet\nendsolid"...)
	_, err := read(t, "w.stl", broken)
	line := bytes.Count(data[:at], []byte("\n")) + 1
	require.ErrorContains(t, err, fmt.Sprintf("line %d: \"1,5\" is not a number: decimals need a point", line))
}

func TestSTLTextTellsSolidsNamesAndCase(t *testing.T) {
	one := "FACET NORMAL nan nan nan\nOUTER LOOP\nVERTEX 0 0 0\nVERTEX 1 0 0\nVERTEX 0 1 0\nENDLOOP\nENDFACET\n"
	two := strings.Replace(one, "1 0 0", "0 0 1", 1)
	l := mustRead(t, "a.stl", "\xef\xbb\xbf  solid caf\xe9 facet endsolid\n"+one+"EndSolid x y\nsolid\n"+two+"endsolid")
	require.Equal(t, 2, l.Solids)
	require.Len(t, l.Mesh.Faces, 2)
	require.Len(t, l.Mesh.Vertices, 4)
	require.Contains(t, l.Notices(), "2 solids joined into one mesh")
}

func TestSTLBinaryMayBeginWithSolid(t *testing.T) {
	l, err := read(t, "a.stl", binarySTL("solid made by a program", [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0}))
	require.NoError(t, err)
	require.Equal(t, "STL binary", l.Format)
}

// The 80 bytes before the number of triangles are any text, that of other formats too.
func TestSTLBinaryMayBeginAsOtherFormatsDo(t *testing.T) {
	for _, header := range []string{"OFFSIDE PANEL", "glTF to STL", "ply to STL", "PK\x03\x04", "<?xml", "\xff\xfe", strings.Repeat(" ", 72) + "S      1"} {
		l := mustRead(t, "a.stl", string(binarySTL(header, [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0})))
		require.Equal(t, "STL binary", l.Format, header)
	}
}

func TestSTLWithACountThatDoesNotFit(t *testing.T) {
	good := binarySTL("solid", [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0}, [9]float32{0, 0, 0, 1, 0, 0, 0, 0, 1})
	for _, n := range []uint32{0, 1, 3, math.MaxUint32} {
		bad := bytes.Clone(good)
		binary.LittleEndian.PutUint32(bad[80:], n)
		_, err := read(t, "a.stl", bad)
		var fault *meshio.FormatError
		require.ErrorAs(t, err, &fault)
		require.EqualValues(t, 80, fault.Byte)
		require.Contains(t, err.Error(), "hold 2")
	}
	_, err := read(t, "a.stl", append(good, 0))
	require.Error(t, err)
}

func TestSTLTextFaults(t *testing.T) {
	facet := "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"
	for name, c := range map[string]struct{ text, want string }{
		"no endsolid":    {"solid a\n" + facet, "line 9: the file ends without \"endsolid\""},
		"four corners":   {"solid a\n" + strings.Replace(facet, "endloop", "vertex 1 1 0\nendloop", 1) + "endsolid", "line 7: this facet has more than three corners"},
		"two corners":    {"solid a\n" + strings.Replace(facet, "vertex 0 1 0\n", "", 1) + "endsolid", `line 6: "endloop" stands where "vertex"`},
		"word":           {"solid a\n" + facet + "colour 1 2 3\nendsolid", `line 9: "colour" is not expected`},
		"facet outside":  {"solid a\n" + facet + "endsolid\n" + facet, `line 10: "facet" is not expected`},
		"nothing in it":  {"solid a\nendsolid a\n", "no faces and no points"},
		"all not finite": {"solid\n" + strings.Replace(facet, "1 0 0", "1e999 0 0", 1) + "endsolid", "none of its 1 faces can be used"},
	} {
		_, err := read(t, "a.stl", []byte(c.text))
		require.ErrorContains(t, err, c.want, name)
	}
}

// Every way of cutting the file short is refused: never a short mesh.
func TestSTLTruncatedAtEachByte(t *testing.T) {
	whole := binarySTL("header", [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0}, [9]float32{0, 0, 0, 1, 0, 0, 0, 0, 1})
	text := "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\nendsolid"
	for n := range whole {
		_, err := read(t, "a.stl", whole[:n])
		requireFault(t, err, n)
	}
	for n := range text {
		_, err := read(t, "a.stl", []byte(text[:n]))
		requireFault(t, err, n)
	}
}

func requireFault(t *testing.T, err error, n int) {
	t.Helper()
	var fault *meshio.FormatError
	require.ErrorAs(t, err, &fault, "cut after %d bytes", n)
	require.LessOrEqual(t, strings.Count(err.Error(), "\n"), 1)
}

func TestSTLIsTheSameForAnyNumberOfThreads(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, meshio.WriteSTL(&b, wave(60)))
	path := save(t, "w.stl", b.Bytes())
	one, err := meshio.Read(context.Background(), path, meshio.Options{Threads: 1, Unit: "mm"})
	require.NoError(t, err)
	many, err := meshio.Read(context.Background(), path, meshio.Options{Threads: 4, Unit: "mm"})
	require.NoError(t, err)
	require.Equal(t, one, many)
	require.Equal(t, "stated", one.UnitSource)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, info.Size(), one.Bytes)
}
