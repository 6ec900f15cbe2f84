package meshio_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"sync"
	"testing"
	"time"

	hstl "github.com/hschendel/stl"
	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// weldPlainly joins the triangles that an independent reader found, with Go's own map: the
// simple way that the fast one has to equal.
func weldPlainly(t *testing.T, data []byte) (vertices []geom.Vec, faces [][3]uint32, notFinite, noArea int) {
	t.Helper()
	solid, err := hstl.ReadAll(bytes.NewReader(data))
	require.NoError(t, err)
	number := map[geom.Vec]uint32{}
	for _, tri := range solid.Triangles {
		var p [3]geom.Vec
		for k, v := range tri.Vertices {
			p[k] = geom.Vec{X: float64(v[0]) + 0, Y: float64(v[1]) + 0, Z: float64(v[2]) + 0} // -0 + 0 = 0
		}
		switch {
		case !p[0].IsFinite() || !p[1].IsFinite() || !p[2].IsFinite():
			notFinite++
			continue
		case p[1].Sub(p[0]).Cross(p[2].Sub(p[0])) == geom.Vec{}:
			noArea++
			continue
		}
		var f [3]uint32
		for k, v := range p {
			n, ok := number[v]
			if !ok {
				n = uint32(len(vertices))
				number[v] = n
				vertices = append(vertices, v)
			}
			f[k] = n
		}
		faces = append(faces, f)
	}
	return vertices, faces, notFinite, noArea
}

// scattered returns n triangles between corners drawn from so many places, with some that are no faces.
func scattered(n, places int, seed uint64) []byte {
	r := rand.New(rand.NewPCG(seed, 1))
	corner := func() [3]float32 {
		k := r.IntN(places)
		c := [3]float32{float32(k%97) - 48, float32(k/97%101) / 7, float32(k / (97 * 101))}
		for a := range c {
			if c[a] == 0 && r.IntN(2) == 0 {
				c[a] = float32(math.Copysign(0, -1))
			}
		}
		if r.IntN(5000) == 0 {
			c[r.IntN(3)] = [...]float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1))}[r.IntN(3)]
		}
		return c
	}
	b := make([]byte, 84, 84+50*n)
	binary.LittleEndian.PutUint32(b[80:], uint32(n))
	for range n {
		var t [9]float32
		for k := range 3 {
			c := corner()
			copy(t[3*k:], c[:])
		}
		b = append(b, binarySTL("", t)[84:]...)
	}
	return b
}

func TestSTLWeldEqualsThePlainWay(t *testing.T) {
	var grid bytes.Buffer
	require.NoError(t, meshio.WriteSTL(&grid, wave(280))) // 156,800 triangles: two parts, many blocks
	for name, data := range map[string][]byte{
		"none but one":        scattered(1, 9, 1),
		"fewer than a batch":  scattered(15, 9, 2),
		"few corners":         scattered(3000, 40, 3),
		"one block and one":   scattered(4097, 5000, 4),
		"corners seldom meet": scattered(70_000, 900_000, 5), // the table grows
		"in file order":       grid.Bytes(),
		"shuffled, parts":     scattered(180_000, 90_000, 6),
	} {
		vertices, faces, notFinite, noArea := weldPlainly(t, data)
		for _, threads := range []int{1, 2, 3, 7} {
			l, err := meshio.Decode("a.stl", data, threads)
			if len(faces) == 0 {
				require.Error(t, err, name)
				continue
			}
			require.NoError(t, err, name)
			require.Equal(t, []int{notFinite, noArea}, []int{l.DroppedNotFinite, l.DroppedNoArea}, name)
			require.True(t, equal(vertices, l.Mesh.Vertices), "%s: vertices on %d threads", name, threads)
			require.True(t, equal(faces, l.Mesh.Faces), "%s: faces on %d threads", name, threads)
		}
	}
}

// In large files few bits of the hash fit beside a corner's number, and different corners agree in them.
func TestSTLWeldDoesNotTrustBitsOfTheHash(t *testing.T) {
	data := scattered(20_000, 9_000, 7)
	vertices, faces, _, _ := weldPlainly(t, data)
	for _, bits := range []int{0, 1, 2, 10} {
		corners, got := meshio.WeldWithHashBits(data, bits)
		require.Len(t, corners, len(vertices))
		require.True(t, equal(faces, got), "%d bits", bits)
	}
}

// equal spares the comparison of megabytes by reflection.
func equal[T comparable](a, b []T) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

func TestReadSTLReportsWhatIsDone(t *testing.T) {
	const triangles = 20_000
	path := save(t, "a.stl", scattered(triangles, 9000, 1))
	for _, threads := range []int{1, 2} {
		var mu sync.Mutex
		var shares []float64
		o := meshio.Options{Unit: "mm", Threads: threads, Progress: func(share float64) {
			mu.Lock()
			defer mu.Unlock()
			shares = append(shares, share)
		}}
		_, err := meshio.Read(context.Background(), path, o)
		require.NoError(t, err)
		require.IsNonDecreasing(t, shares)
		require.Equal(t, 1.0, shares[len(shares)-1])
		if threads == 1 { // reading is 95 % of the work, in blocks of 4096 triangles
			for k := 1; k <= 4; k++ {
				require.InDelta(t, 0.95*4096*50*float64(k)/(50*triangles+84), shares[k-1], 1e-9)
			}
		}
	}
}

func TestReadSTLStopsOnSeveralThreads(t *testing.T) {
	path := save(t, "a.stl", scattered(140_000, 70_000, 1))
	for n := 0; ; n++ {
		_, err := meshio.Read(&stopAt{Context: context.Background(), left: n}, path, meshio.Options{Unit: "mm", Threads: 2})
		if err == nil {
			require.Greater(t, n, 30)
			return
		}
		require.ErrorIs(t, err, context.Canceled)
	}
}

// whileReading runs f once, when the first progress is reported.
func whileReading(t *testing.T, path string, threads int, f func()) error {
	t.Helper()
	var once sync.Once
	_, err := meshio.Read(context.Background(), path, meshio.Options{Unit: "mm", Threads: threads, Progress: func(float64) { once.Do(f) }})
	return err
}

func TestReadTellsThatAFileChangedMeanwhile(t *testing.T) {
	for _, threads := range []int{1, 2} {
		for name, data := range map[string][]byte{"a.stl": scattered(60_000, 30_000, 1), "a.ply": plyBinary(wave(300))} {
			path := save(t, name, data)
			err := whileReading(t, path, threads, func() { require.NoError(t, os.Truncate(path, 1000)) })
			var open *meshio.OpenError
			require.ErrorAs(t, err, &open)
			require.ErrorIs(t, err, meshio.ErrChanged)

			path = save(t, name, data)
			err = whileReading(t, path, threads, func() { require.NoError(t, os.Chtimes(path, time.Time{}, time.Unix(1e9, 0))) })
			require.ErrorAs(t, err, &open)
			require.ErrorContains(t, err, "it was changed while it was read")
		}
	}
}

func TestAPanicBesideTheReadingReachesTheCaller(t *testing.T) {
	require.Panics(t, meshio.PanicInDigest)
}
