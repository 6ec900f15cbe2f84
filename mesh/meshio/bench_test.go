package meshio_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// wave returns a wavy sheet of 2 n² triangles, 1 mm apart, in file order.
func wave(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for y := 0; y <= n; y++ {
		for x := 0; x <= n; x++ {
			z := float64((x*x+7*y)%101) * 0.01
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(x) * 1.01, Y: float64(y) * 0.99, Z: z})
		}
	}
	for y := range n {
		for x := range n {
			a := uint32(y*(n+1) + x)
			b, c, d := a+1, a+uint32(n)+2, a+uint32(n)+1
			m.Faces = append(m.Faces, [3]uint32{a, b, c}, [3]uint32{a, c, d})
		}
	}
	return m
}

func benchmarkRead(b *testing.B, n, threads int, write func(*bufio.Writer, *mesh.Mesh), name string) {
	m := wave(n)
	path := filepath.Join(b.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	write(w, m)
	w.Flush()
	f.Close()
	info, _ := os.Stat(path)
	b.SetBytes(info.Size())
	for b.Loop() {
		l, err := meshio.Read(context.Background(), path, meshio.Options{Unit: meshio.Millimetre, Threads: threads})
		if err != nil || len(l.Mesh.Vertices) != len(m.Vertices) || len(l.Mesh.Faces) != len(m.Faces) {
			b.Fatal(err, len(l.Mesh.Vertices))
		}
	}
	b.ReportMetric(float64(len(m.Faces))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}

func stl(w *bufio.Writer, m *mesh.Mesh) { _ = meshio.WriteSTL(w, m) }

func stlText(w *bufio.Writer, m *mesh.Mesh) {
	fmt.Fprintln(w, "solid wave")
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		fmt.Fprint(w, "facet normal 0 0 1\n outer loop\n")
		for _, v := range []geom.Vec{a, b, c} {
			fmt.Fprintf(w, "  vertex %.6g %.6g %.6g\n", v.X, v.Y, v.Z)
		}
		fmt.Fprint(w, " endloop\nendfacet\n")
	}
	fmt.Fprintln(w, "endsolid wave")
}

func obj(w *bufio.Writer, m *mesh.Mesh) {
	for _, v := range m.Vertices {
		fmt.Fprintf(w, "v %.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, f := range m.Faces {
		fmt.Fprintf(w, "f %d %d %d\n", f[0]+1, f[1]+1, f[2]+1)
	}
}

func plyTextFile(w *bufio.Writer, m *mesh.Mesh) {
	fmt.Fprintf(w, "ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n", len(m.Vertices))
	fmt.Fprintf(w, "element face %d\nproperty list uchar int vertex_indices\nend_header\n", len(m.Faces))
	for _, v := range m.Vertices {
		fmt.Fprintf(w, "%.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, f := range m.Faces {
		fmt.Fprintf(w, "3 %d %d %d\n", f[0], f[1], f[2])
	}
}

func plyFile(w *bufio.Writer, m *mesh.Mesh) { w.Write(plyBinary(m)) }

func glbFile(w *bufio.Writer, m *mesh.Mesh) {
	var v []float32
	var f []uint32
	for _, p := range m.Vertices {
		v = append(v, float32(p.X), float32(p.Y), float32(p.Z))
	}
	for _, t := range m.Faces {
		f = append(f, t[:]...)
	}
	accessors := fmt.Sprintf(`{"bufferView":0,"componentType":5126,"count":%d,"type":"VEC3"},{"bufferView":0,"byteOffset":%d,"componentType":5125,"count":%d,"type":"SCALAR"}`,
		len(m.Vertices), 4*len(v), len(f))
	w.Write(glb(part(4, `"POSITION":0`, `,"indices":1`, accessors, 4*len(v)+4*len(f)), little(v, f)))
}

func BenchmarkReadSTL(b *testing.B) {
	for _, threads := range []int{1, 2} {
		b.Run(fmt.Sprintf("2M/threads=%d", threads), func(b *testing.B) { benchmarkRead(b, 1000, threads, stl, "wave.stl") })
	}
}

func BenchmarkReadSTLText(b *testing.B) { benchmarkRead(b, 300, 0, stlText, "wave.stl") }
func BenchmarkReadOBJ(b *testing.B)     { benchmarkRead(b, 500, 0, obj, "wave.obj") }
func BenchmarkReadPLYText(b *testing.B) { benchmarkRead(b, 500, 0, plyTextFile, "wave.ply") }
func BenchmarkReadGLB(b *testing.B)     { benchmarkRead(b, 500, 0, glbFile, "wave.glb") }
func BenchmarkReadPLY(b *testing.B)     { benchmarkRead(b, 500, 0, plyFile, "wave.ply") }

// BenchmarkWeldSTL leaves the disk and the SHA-256 out: bytes in memory to a mesh, beside the
// same work on one thread with Go's own map, in the same run.
func BenchmarkWeldSTL(b *testing.B) {
	var buf bytes.Buffer
	m := wave(1000)
	if err := meshio.WriteSTL(&buf, m); err != nil {
		b.Fatal(err)
	}
	ordered := buf.Bytes()
	shuffled := bytes.Clone(ordered)
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(m.Faces), func(i, k int) {
		x, y := shuffled[84+50*i:][:50], shuffled[84+50*k:][:50]
		for c := range x {
			x[c], y[c] = y[c], x[c]
		}
	})
	rate := func(b *testing.B) {
		b.ReportMetric(float64(len(m.Faces))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
	}
	for _, c := range []struct {
		name string
		data []byte
	}{{"in order", ordered}, {"shuffled", shuffled}} {
		for _, threads := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/threads=%d", c.name, threads), func(b *testing.B) {
				for b.Loop() {
					if l, err := meshio.Decode("a.stl", c.data, threads); err != nil || len(l.Mesh.Vertices) != len(m.Vertices) {
						b.Fatal(err)
					}
				}
				rate(b)
			})
		}
		b.Run(c.name+"/map", func(b *testing.B) {
			for b.Loop() {
				if n := weldByMap(c.data); n != len(m.Vertices) {
					b.Fatal(n)
				}
			}
			rate(b)
		})
	}
}

func weldByMap(data []byte) int {
	n := int(binary.LittleEndian.Uint32(data[80:]))
	number := make(map[[3]float32]uint32, n/2)
	vertices := make([]geom.Vec, 0, n/2)
	faces := make([][3]uint32, n)
	for f := range faces {
		for c := range 3 {
			var k [3]float32
			for a := range k {
				k[a] = math.Float32frombits(binary.LittleEndian.Uint32(data[84+50*f+12+12*c+4*a:]))
			}
			v, ok := number[k]
			if !ok {
				v = uint32(len(vertices))
				number[k] = v
				vertices = append(vertices, geom.Vec{X: float64(k[0]), Y: float64(k[1]), Z: float64(k[2])})
			}
			faces[f][c] = v
		}
	}
	return len(vertices)
}
