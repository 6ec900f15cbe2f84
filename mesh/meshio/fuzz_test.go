package meshio_test

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func FuzzSTL(f *testing.F) {
	f.Add(binarySTL("solid", [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0}, [9]float32{0, 0, 0, 1, 0, 0, float32(math.NaN()), 1, 0}))
	f.Add([]byte(textSTL(wave(1), "\n")))
	f.Fuzz(func(t *testing.T, data []byte) { checkDecoded(t, "a.stl", data) })
}

func FuzzPLY(f *testing.F) {
	f.Add([]byte(plySquare))
	f.Add(plyBinary(wave(1)))
	f.Fuzz(func(t *testing.T, data []byte) { checkDecoded(t, "a.ply", data) })
}

func FuzzOBJ(f *testing.F) {
	f.Add([]byte("v 0 0 0\nv 1 0 0\nv 1 1 0\r\nv 0 1 0\rvn 0 0 1\nf 1//1 2//1 \\\n 3//1 -1\nl 1 2\n"))
	f.Add([]byte("v 0 0 0\nv 3 0 0\nv 3 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\nf 1 2 3 4 5 6\nf 6 5 1\n"))
	f.Fuzz(func(t *testing.T, data []byte) { checkDecoded(t, "a.obj", data) })
}

func FuzzGLB(f *testing.F) {
	f.Add(glb(squareJSON, square))
	f.Add(glb(strings.Replace(squareJSON, `{"mesh":0}`, `{"children":[1],"rotation":[0,0,0,1]},{"mesh":0,"scale":[-1,1,2]}`, 1), square))
	f.Fuzz(func(t *testing.T, data []byte) { checkDecoded(t, "a.glb", data) })
}

// checkDecoded asks of any bytes: an error of the agreed kind in two lines at most, or a
// mesh that holds what the package promises.
func checkDecoded(t *testing.T, name string, data []byte) {
	l, err := meshio.Decode(name, data, 1)
	if err != nil {
		var fault *meshio.FormatError
		if !errors.As(err, &fault) || strings.Count(err.Error(), "\n") > 1 || len(err.Error()) > 500 {
			t.Fatalf("not a FormatError of two lines: %q", err)
		}
		return
	}
	m := l.Mesh
	if len(m.Vertices) == 0 {
		t.Fatal("an empty mesh without an error")
	}
	if len(m.Faces)+l.DroppedNotFinite+l.DroppedNoArea != l.FacesInFile {
		t.Fatal("faces are lost")
	}
	seen := map[geom.Vec]bool{}
	for _, v := range m.Vertices {
		if !v.IsFinite() || seen[v] {
			t.Fatal("a vertex is not finite or stands twice", v)
		}
		seen[v] = true
	}
	if !strings.HasPrefix(l.Format, "STL") && len(m.Vertices)+l.VerticesJoined+l.VerticesUnused+l.PointsNotFinite != l.VerticesInFile {
		t.Fatal("vertices are lost")
	}
	if m.Normals != nil && len(m.Normals) != len(m.Vertices) {
		t.Fatal("normals do not match points")
	}
	if m.Colours != nil && len(m.Colours) != len(m.Vertices) {
		t.Fatal("colours do not match vertices")
	}
	used := make([]bool, len(m.Vertices))
	for f, c := range m.Faces {
		for _, v := range c {
			used[v] = true
		}
		if m.AreaNormal(uint32(f)) == (geom.Vec{}) {
			t.Fatal("a face without area")
		}
	}
	for v, u := range used {
		if !u && len(m.Faces) > 0 {
			t.Fatal("vertex without face", v)
		}
	}
	l.Notices()
}

// strconv is the independent reader of numbers.
func TestNumbersAreReadAsStrconvReadsThem(t *testing.T) {
	short := 0
	rapid.Check(t, func(t *rapid.T) {
		v := math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
		if rapid.Bool().Draw(t, "everyday") {
			v = float64(rapid.IntRange(-9999999, 9999999).Draw(t, "n")) / 1000
		}
		text := strconv.FormatFloat(v, rapid.SampledFrom([]byte("feg")).Draw(t, "format"), rapid.IntRange(-1, 17).Draw(t, "digits"), 64)
		want, _ := strconv.ParseFloat(text, 64)
		got, ok := meshio.Number([]byte(text))
		require.True(t, ok, text)
		require.Equal(t, math.Float64bits(want), math.Float64bits(got), text)
		if s, ok := meshio.ShortNumber([]byte(text)); ok {
			short++
			require.Equal(t, want, s)
		}
	})
	require.Positive(t, short)
	for _, text := range []string{"", "-", ".", "1e", "1e+", "x", "1,5", "0x1p3", "1_000", "--1", "1.2.3", "1e5.0"} {
		_, ok := meshio.Number([]byte(text))
		require.False(t, ok, text)
	}
	for _, text := range []string{"+1", ".5", "5.", "1E5", "1.#IND", "-1.#INF", "-nan", "inf", "1e999"} {
		_, ok := meshio.Number([]byte(text))
		require.True(t, ok, text)
	}
}
