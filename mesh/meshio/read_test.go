package meshio_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func TestReadTellsWhatCannotBeOpened(t *testing.T) {
	ctx := context.Background()
	var open *meshio.OpenError
	_, err := meshio.Read(ctx, filepath.Join(t.TempDir(), "none.stl"), inMM)
	require.ErrorAs(t, err, &open)
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.ErrorContains(t, err, "there is no such file")

	_, err = meshio.Read(ctx, t.TempDir(), inMM)
	require.ErrorAs(t, err, &open)
	require.ErrorIs(t, err, meshio.ErrNotAFile)
	require.ErrorContains(t, err, "it is a folder")

	_, err = meshio.Read(ctx, os.DevNull, inMM)
	require.ErrorIs(t, err, meshio.ErrNotAFile)

	// Root may read everything, so permissions are proven on the error itself.
	denied := &meshio.OpenError{Path: "a.stl", Err: fs.ErrPermission}
	require.ErrorIs(t, denied, fs.ErrPermission)
	require.ErrorContains(t, denied, "not allowed")
}

func TestReadRefusesOtherFormatsByTheirContent(t *testing.T) {
	iges := strings.Repeat(" ", 72) + "S      1\n"
	for magic, want := range map[string]string{
		"PK\x03\x04rest": "a zip archive", "ISO-10303-21;\n": "a STEP file",
		"ASTM-E57\x01": "an E57", "\x1f\x8b\x08": "a gzip archive", "OFF\n1 0 0\n": "an OFF file", iges: "an IGES file",
	} {
		_, err := read(t, "scan.stl", []byte(magic))
		requireFault(t, err, 0)
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, "not supported; export it as STL, PLY, OBJ or GLB")
	}
	// The first bytes of pictures are those of ISO/IEC 15948 (PNG), ISO/IEC 10918-1 (JPEG), GIF89a and TIFF 6.0.
	for magic, want := range map[string]string{"\x89PNG\r\n\x1a\n": "PNG", "\xff\xd8\xff\xe0": "JPEG", "GIF89a": "GIF", "II*\x00": "TIFF", "MM\x00*": "TIFF"} {
		_, err := read(t, "scan.stl", []byte(magic+strings.Repeat("\x00", 200)))
		requireFault(t, err, 0)
		require.ErrorContains(t, err, "it is a "+want+" picture, not a mesh")
	}
	for name, data := range map[string]string{"a.stl": "hello", "a.ply": "plywood", "a.txt": "hello", "a.dat": "\x00\x01\x02", "b.obj": "\x00\x01\x02"} {
		_, err := read(t, name, []byte(data))
		requireFault(t, err, 0)
	}
	_, err := read(t, "a.stl", nil)
	require.ErrorContains(t, err, "it is empty")
}

func TestReadNamesTextOfTwoBytesACharacter(t *testing.T) {
	wide := func(text string, little bool, mark string) []byte {
		b := []byte(mark)
		for _, c := range []byte(text) {
			if little {
				b = append(b, c, 0)
			} else {
				b = append(b, 0, c)
			}
		}
		return b
	}
	for name, text := range map[string]string{"a.stl": textSTL(wave(1), "\r\n"), "a.ply": plySquare, "a.obj": "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"} {
		for _, data := range [][]byte{wide(text, true, "\xff\xfe"), wide(text, true, ""), wide(text, false, "\xfe\xff"), wide(text, false, "")} {
			_, err := read(t, name, data)
			requireFault(t, err, 0)
			require.ErrorContains(t, err, "UTF-16")
		}
	}
}

func TestReadGoesByContentBeforeTheExtension(t *testing.T) {
	triangle := [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0}
	for format, data := range map[string][]byte{"STL binary": binarySTL("solid", triangle), "PLY text": []byte(plySquare), "OBJ": []byte("v 0 0 0\n")} {
		for _, name := range []string{"a.stl", "a.ply", "a.obj", "a"} {
			l, err := read(t, name, data)
			require.NoError(t, err)
			require.Equal(t, format, l.Format)
		}
	}
}

func TestReadNamesTheBytesItRead(t *testing.T) {
	data := binarySTL("x", [9]float32{0, 0, 0, 1, 0, 0, 0, 1, 0})
	sum := sha256.Sum256(data)
	for _, threads := range []int{1, 2} {
		l, err := meshio.Read(context.Background(), save(t, "a.stl", data), meshio.Options{Unit: "mm", Threads: threads})
		require.NoError(t, err)
		require.Equal(t, hex.EncodeToString(sum[:]), l.SHA256)
		require.EqualValues(t, len(data), l.Bytes)
		look, err := meshio.Read(context.Background(), l.Path, meshio.Options{Unit: "mm", Threads: threads, Unhashed: true})
		require.NoError(t, err)
		require.Empty(t, look.SHA256)
		require.Equal(t, l.Mesh, look.Mesh)
	}
}

func TestReadConvertsStatedUnits(t *testing.T) {
	data := binarySTL("x", [9]float32{0, 0, 0, 2, 0, 0, 0, 1, 0})
	for unit, want := range map[meshio.Unit]float64{"mm": 2, "cm": 20, "m": 2000, "in": 50.8} {
		l, err := meshio.Read(context.Background(), save(t, "a.stl", data), meshio.Options{Unit: unit})
		require.NoError(t, err)
		require.Equal(t, want, l.Mesh.Bounds().Size().X)
		require.Equal(t, "stated", l.UnitSource)
		require.Equal(t, unit, l.Unit)
	}
	_, err := meshio.Read(context.Background(), save(t, "a.stl", data), meshio.Options{Unit: "ft"})
	require.ErrorContains(t, err, `unit "ft" is not known; write mm, cm, m or in`)
}

func TestReadJudgesUnits(t *testing.T) {
	beside := func(mm float64) *geom.Box { return &geom.Box{Hi: geom.Vec{X: mm}} }
	for name, c := range map[string]struct {
		side   float32
		beside *geom.Box
		want   meshio.Unit   // or
		read   []meshio.Unit // what the error names
	}{
		"1200: mm, as 12 m in cm is too long": {1200, nil, "mm", nil},
		"8000: the longest":                   {8000, nil, "mm", nil},
		"4.5: metres, but 114 mm in inches":   {4.5, nil, "", []meshio.Unit{"m", "in"}},
		"1.5: metres":                         {1.5, nil, "m", nil},
		"300":                                 {300, nil, "", []meshio.Unit{"mm", "cm", "in"}},
		"500":                                 {500, nil, "", []meshio.Unit{"mm", "cm"}},
		"20000: none":                         {20000, nil, "", []meshio.Unit{"mm", "cm", "m", "in"}},
		"0.01: none":                          {0.01, nil, "", []meshio.Unit{"mm", "cm", "m", "in"}},
		"300 beside 400 mm":                   {300, beside(400), "mm", nil},
		"300 beside 3 m":                      {300, beside(3000), "cm", nil},
		"300 beside 8 m":                      {300, beside(8000), "in", nil},
		"300 beside 5 m":                      {300, beside(5000), "", []meshio.Unit{"cm", "in"}},
		"300 beside 100 mm":                   {300, beside(100), "", []meshio.Unit{"mm", "cm", "m", "in"}},
		"150 beside exactly twice":            {150, beside(300), "mm", nil},
		"empty reference box is no help":      {1200, &geom.Box{Lo: geom.Vec{X: 1}}, "mm", nil},
	} {
		l, err := meshio.Read(context.Background(), save(t, "a.stl", binarySTL("x", [9]float32{0, 0, 0, c.side, 0, 0, 0, 0, c.side / 1024})), meshio.Options{Beside: c.beside})
		if c.want != "" {
			require.NoError(t, err, name)
			require.Equal(t, c.want, l.Unit, name)
			require.Equal(t, "judged", l.UnitSource)
			require.InEpsilon(t, float64(c.side)*c.want.MM(), l.Mesh.Bounds().Size().X, 1e-15)
			require.Contains(t, l.Notices()[0], "judged")
			continue
		}
		var unit *meshio.UnitError
		require.ErrorAs(t, err, &unit, name)
		var named []meshio.Unit
		for _, r := range unit.Readings {
			named = append(named, r.Unit)
			require.InEpsilon(t, float64(c.side)*r.Unit.MM(), r.Size.X, 1e-15)
			require.ErrorContains(t, err, string(r.Unit)+" ("+meshio.SizeText(r.Size)+" mm)")
		}
		require.Equal(t, c.read, named, name)
		require.ErrorContains(t, err, `write units = "`)
		require.Equal(t, 1, strings.Count(err.Error(), "\n"))
	}
}

func TestReadRefusesGiantCoordinates(t *testing.T) {
	_, err := meshio.Read(context.Background(), save(t, "a.obj", []byte("v 0 0 0\nv 1e300 0 0\nv 0 1 0\nf 1 2 3\n")), inMM)
	requireFault(t, err, 0)
	require.ErrorContains(t, err, "a coordinate of 1e+300 mm lies beyond the limit")
}

func TestReadReportsProgressToTheEnd(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, meshio.WriteSTL(&b, wave(200)))
	for name, data := range map[string][]byte{"a.stl": b.Bytes(), "b.stl": []byte(textSTL(wave(100), "\n")), "a.ply": plyBinary(wave(100)), "a.obj": []byte("v 0 0 0\n"), "a.glb": glb(squareJSON, square)} {
		var mu sync.Mutex
		last, calls := 0.0, 0
		o := inMM
		o.Threads = 1
		o.Progress = func(share float64) {
			mu.Lock()
			defer mu.Unlock()
			require.GreaterOrEqual(t, share, last)
			last = share
			calls++
		}
		_, err := meshio.Read(context.Background(), save(t, name, data), o)
		require.NoError(t, err)
		require.Equal(t, 1.0, last)
		require.Greater(t, calls, 2)
	}
}

// stopAt is done after it was asked n times, so that every place that looks is met.
type stopAt struct {
	context.Context
	mu   sync.Mutex
	left int
}

func (c *stopAt) Err() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.left--; c.left < 0 {
		return context.Canceled
	}
	return nil
}

func TestReadStopsWhereverItIs(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, meshio.WriteSTL(&b, wave(200)))
	files := []string{save(t, "a.stl", b.Bytes()), save(t, "b.stl", []byte(textSTL(wave(100), "\n"))),
		save(t, "a.glb", glb(squareJSON, square)), save(t, "a.ply", plyBinary(wave(100))), save(t, "a.obj", []byte("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n"))}
	for _, path := range files {
		n := 0
		for ; ; n++ {
			o := inMM
			o.Threads = 1
			l, err := meshio.Read(&stopAt{Context: context.Background(), left: n}, path, o)
			if err == nil {
				require.NotEmpty(t, l.Mesh.Faces)
				break
			}
			require.True(t, errors.Is(err, context.Canceled), "%s after %d looks: %v", path, n, err)
		}
		require.Greater(t, n, 4, path)
	}
}
