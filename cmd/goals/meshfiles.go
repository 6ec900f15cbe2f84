package main

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"os"
	"strings"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// meshFiles are the formats that are read, by the endings of their files' names. What the project does not write itself
// is written here as other programs do.
var meshFiles = map[string]func(w *bufio.Writer, m *mesh.Mesh) error{
	"binary.stl": func(w *bufio.Writer, m *mesh.Mesh) error { return meshio.WriteSTL(w, m) },
	"text.stl":   writeTextSTL,
	"binary.ply": func(w *bufio.Writer, m *mesh.Mesh) error { return meshio.WritePLY(w, m, meshio.PLYOptions{}) },
	"text.ply":   writeTextPLY,
	"text.obj":   writeOBJ,
	"binary.glb": writeGLB,
}

// writeAs writes a mesh in the format of a name.
func writeAs(path, name string, m *mesh.Mesh) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	if err := meshFiles[name](w, m); err != nil {
		return err
	}
	return w.Flush()
}

func writeTextSTL(w *bufio.Writer, m *mesh.Mesh) error {
	fmt.Fprintln(w, "solid scan")
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		fmt.Fprint(w, "facet normal 0 0 0\n outer loop\n")
		for _, v := range []geom.Vec{a, b, c} {
			fmt.Fprintf(w, "  vertex %.6f %.6f %.6f\n", v.X, v.Y, v.Z)
		}
		fmt.Fprint(w, " endloop\nendfacet\n")
	}
	_, err := fmt.Fprintln(w, "endsolid scan")
	return err
}

func writeTextPLY(w *bufio.Writer, m *mesh.Mesh) (err error) {
	fmt.Fprintf(w, "ply\nformat ascii 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n", len(m.Vertices))
	fmt.Fprintf(w, "element face %d\nproperty list uchar int vertex_indices\nend_header\n", len(m.Faces))
	for _, v := range m.Vertices {
		fmt.Fprintf(w, "%.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, f := range m.Faces {
		_, err = fmt.Fprintf(w, "3 %d %d %d\n", f[0], f[1], f[2])
	}
	return err
}

func writeOBJ(w *bufio.Writer, m *mesh.Mesh) (err error) {
	for _, v := range m.Vertices {
		fmt.Fprintf(w, "v %.6f %.6f %.6f\n", v.X, v.Y, v.Z)
	}
	for _, f := range m.Faces {
		_, err = fmt.Fprintf(w, "f %d %d %d\n", f[0]+1, f[1]+1, f[2]+1)
	}
	return err
}

// writeGLB writes one indexed mesh in metres, as glTF 2.0 lays it out.
func writeGLB(w *bufio.Writer, m *mesh.Mesh) error {
	points, corners := 12*len(m.Vertices), 12*len(m.Faces)
	text := fmt.Sprintf(`{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],`+
		`"meshes":[{"primitives":[{"mode":4,"attributes":{"POSITION":0},"indices":1}]}],`+
		`"accessors":[{"bufferView":0,"componentType":5126,"count":%d,"type":"VEC3"},{"bufferView":1,"componentType":5125,"count":%d,"type":"SCALAR"}],`+
		`"bufferViews":[{"buffer":0,"byteLength":%d},{"buffer":0,"byteOffset":%d,"byteLength":%d}],"buffers":[{"byteLength":%d}]}`,
		len(m.Vertices), 3*len(m.Faces), points, points, corners, points+corners)
	text += strings.Repeat(" ", (4-len(text)%4)%4)
	put := func(list ...uint32) {
		for _, v := range list {
			_ = binary.Write(w, binary.LittleEndian, v) // the writer keeps its error until it is flushed
		}
	}
	put(0x46546c67, 2, uint32(12+8+len(text)+8+points+corners), uint32(len(text)), 0x4e4f534a)
	w.WriteString(text)
	put(uint32(points+corners), 0x004e4942)
	if err := binary.Write(w, binary.LittleEndian, floats(m)); err != nil {
		return err
	}
	return binary.Write(w, binary.LittleEndian, m.Faces)
}

// floats are the coordinates in metres.
func floats(m *mesh.Mesh) []float32 {
	out := make([]float32, 0, 3*len(m.Vertices))
	for _, v := range m.Vertices {
		out = append(out, float32(v.X/1000), float32(v.Y/1000), float32(v.Z/1000))
	}
	return out
}
