package shade

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// withoutVector runs do as on a processor without vector instructions.
func withoutVector(do func()) {
	was := vector
	vector = false
	defer func() { vector = was }()
	do()
}

// Kernels draw, to the bit, what is drawn without them: triangles of every size from far below a pixel to many pixels, painted,
// bare and with vertices that have no number, alone and through one another, seen from outside, from inside and edge-on.
func TestKernelsDrawTheSamePicture(t *testing.T) {
	require.True(t, vector, "this processor has no AVX2: the kernels were not tested")
	m, height := hills(150)
	r := rand.New(rand.NewPCG(17, 4))
	known := make([]bool, len(height))
	for i := range known {
		known[i] = r.IntN(9) > 0
		m.Vertices[i] = m.Vertices[i].Add(geom.Vec{X: 9 * r.Float64(), Y: 9 * r.Float64(), Z: 9 * r.Float64()})
	}
	for i := range m.Faces {
		if r.IntN(50) == 0 {
			m.Faces[i][1] = m.Faces[i][0] // without area
		}
	}
	scale := NewScale(verdict.Tolerance{Lo: -0.3, Hi: 0.3})
	bare, painted, hatched := NewModel(m, nil), NewModel(m, nil), NewModel(m, nil)
	painted.Paint(height, nil, scale)
	hatched.Paint(height, known, scale)
	slip := geom.Rigid{R: geom.Identity3(), T: geom.Vec{X: 200, Y: -300, Z: 15}}
	both := []*Model{painted, bare.Moved(m.Moved(slip), slip)}
	for _, view := range []string{"top", "bottom", "left", "three-quarter"} {
		c, ok := ViewOf(view, bare.Box(), 1.5)
		require.True(t, ok)
		for _, tall := range []int{15, 60, 200, 500, 1100} {
			for i, models := range [][]*Model{{bare}, {painted}, {hatched}, both} {
				draw := Render
				if i == 3 && tall < 500 {
					draw = RenderStill
				}
				var want *Picture
				withoutVector(func() { want = draw(models, c, LightTheme(), tall*3/2, tall, 2) })
				got := draw(models, c, LightTheme(), tall*3/2, tall, 2)
				require.True(t, equalDepths(want, got), "depths differ: %s, %d pixels high, models %d", view, tall, i)
				require.True(t, bytes.Equal(want.Image.Pix, got.Image.Pix), "colours differ: %s, %d pixels high, models %d", view, tall, i)
			}
		}
	}
}

func equalDepths(a, b *Picture) bool {
	for i, d := range a.depth {
		if b.depth[i] != d {
			return false
		}
	}
	return len(a.depth) == len(b.depth)
}

// Every light and every code gives the colour that it gives without kernels; what kernels leave to others is left as it was.
func TestKernelsGiveTheSameColours(t *testing.T) {
	require.True(t, vector, "this processor has no AVX2: the kernels were not tested")
	r := rand.New(rand.NewPCG(5, 6))
	colors := make([]uint32, lastCode+1)
	for i := range colors {
		colors[i] = r.Uint32() & (1<<24 - 1)
	}
	const n = 4 * (lightMask + 1)
	const ground = 0xff123456
	words, depth, pixels := make([]uint64, n+group), make([]uint32, n+group), make([]byte, 4*(n+group))
	var want [n]uint32
	for i := range want {
		code := uint64(firstCode + r.IntN(lastCode-firstCode+1))
		words[i] = uint64(r.Uint32())<<depthShift | code<<codeShift | 3<<lightBits | uint64(i&lightMask)
		want[i] = lit(colors[code], words[i])
		if r.IntN(5) == 0 {
			words[i], want[i] = 0, ground
		}
	}
	copied := append([]uint64(nil), words...)
	for i := range group {
		words[n+i] = 1<<depthShift | 9<<codeShift | 3<<lightBits
	}
	for _, other := range []uint64{1<<depthShift | unknownCode<<codeShift | 3<<lightBits, 1<<depthShift | bareCode<<codeShift | 3<<lightBits, 1<<depthShift | 9<<codeShift | 4<<lightBits} {
		copy(words, copied)
		words[n+5] = other
		require.Equal(t, n/group, resolveAVX2(&words[0], &depth[0], &pixels[0], &colors[0], 3<<lightBits, firstCode, lastCode, ground, n/group+1))
		for i, w := range want {
			require.Zero(t, words[i])
			require.Equal(t, uint32(copied[i]>>depthShift), depth[i])
			require.Equal(t, w, uint32(pixels[4*i])|uint32(pixels[4*i+1])<<8|uint32(pixels[4*i+2])<<16|uint32(pixels[4*i+3])<<24)
		}
		require.Equal(t, other, words[n+5])
	}
}

// The kernels know where the fields lie.
func TestFieldsLieWhereKernelsLook(t *testing.T) {
	var v vectors
	at := 0
	for _, field := range []struct{ at, size uintptr }{
		{unsafe.Offsetof(v.record), 260 * 32}, {unsafe.Offsetof(v.place), 264 * 4}, {unsafe.Offsetof(v.inverse), 136 * 8},
		{unsafe.Offsetof(v.edge0), 136 * 4}, {unsafe.Offsetof(v.edge1), 136 * 4}, {unsafe.Offsetof(v.area), 136 * 4},
		{unsafe.Offsetof(v.grow0), 136 * 4}, {unsafe.Offsetof(v.grow1), 136 * 4}, {unsafe.Offsetof(v.first), 136 * 4},
		{unsafe.Offsetof(v.tag), 136 * 4}, {unsafe.Offsetof(v.medium), 144}, {unsafe.Offsetof(v.large), 144},
		{unsafe.Offsetof(v.itemE0), 1032 * 4}, {unsafe.Offsetof(v.itemE1), 1032 * 4}, {unsafe.Offsetof(v.itemAt), 1032 * 4},
		{unsafe.Offsetof(v.itemTag), 1032 * 4},
	} {
		require.EqualValues(t, at, field.at)
		at += int(field.size)
	}
	require.EqualValues(t, at, unsafe.Sizeof(v))
}

// The committed kernels are what the generator writes; the first line, which
// repeats its command, differs by the folder written to.
func TestKernelsAreCurrent(t *testing.T) {
	dir := t.TempDir()
	names := []string{"kernels_amd64.s", "kernels_amd64.go"}
	run := exec.Command("go", "run", "-C", "kernelgen", ".", "-out", filepath.Join(dir, names[0]), "-stubs", filepath.Join(dir, names[1]), "-pkg", "shade")
	run.Env = append(os.Environ(), "GOFLAGS=")
	out, err := run.CombinedOutput()
	require.NoError(t, err, string(out))
	for _, name := range names {
		want, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		got, err := os.ReadFile(name)
		require.NoError(t, err)
		_, want, _ = bytes.Cut(want, []byte("\n"))
		_, got, _ = bytes.Cut(got, []byte("\n"))
		require.True(t, bytes.Equal(want, got), "%s is not current: run go generate ./deviation/shade", name)
	}
}
