package meshio_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// glb packs a JSON text and binary data as the glTF 2.0 specification says (section 4.4).
func glb(text string, bin []byte) []byte {
	for len(text)%4 != 0 {
		text += " "
	}
	for len(bin)%4 != 0 {
		bin = append(bin, 0)
	}
	b := []byte("glTF\x02\x00\x00\x00\x00\x00\x00\x00")
	b = binary.LittleEndian.AppendUint32(b, uint32(len(text)))
	b = append(b, "JSON"+text...)
	if bin != nil {
		b = binary.LittleEndian.AppendUint32(b, uint32(len(bin)))
		b = append(b, "BIN\x00"...)
		b = append(b, bin...)
	}
	binary.LittleEndian.PutUint32(b[8:], uint32(len(b)))
	return b
}

// little writes values as they stand in a little-endian file.
func little(values ...any) []byte {
	var b bytes.Buffer
	for _, v := range values {
		if err := binary.Write(&b, binary.LittleEndian, v); err != nil {
			panic(err)
		}
	}
	return b.Bytes()
}

// square is a unit square of two triangles, its corners interleaved with normals, and indices of 16 bits.
var square = little([]float32{
	0, 0, 0, 0, 0, 1,
	1, 0, 0, 0, 0, 1,
	1, 1, 0, 0, 0, 1,
	0, 1, 0, 0, 0, 1}, []uint16{0, 1, 2, 0, 2, 3})

const squareJSON = `{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],
"nodes":[{"mesh":0}],
"meshes":[{"primitives":[{"attributes":{"POSITION":0,"NORMAL":1},"indices":2}]}],
"accessors":[{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"},
{"bufferView":0,"byteOffset":12,"componentType":5126,"count":4,"type":"VEC3"},
{"bufferView":1,"componentType":5123,"count":6,"type":"SCALAR"}],
"bufferViews":[{"buffer":0,"byteLength":96,"byteStride":24},{"buffer":0,"byteOffset":96,"byteLength":12}],
"buffers":[{"byteLength":108}]}`

func TestGLBIsInMetresAndMayBeInterleaved(t *testing.T) {
	data := glb(squareJSON, square)
	l, err := meshio.Read(context.Background(), save(t, "a.glb", data), meshio.Options{})
	require.NoError(t, err)
	require.Equal(t, []geom.Vec{{}, {X: 1000}, {X: 1000, Y: 1000}, {Y: 1000}}, l.Mesh.Vertices)
	require.Equal(t, [][3]uint32{{0, 1, 2}, {0, 2, 3}}, l.Mesh.Faces)
	require.Equal(t, "GLB", l.Format)
	require.Equal(t, meshio.Metre, l.Unit)
	require.Equal(t, "format", l.UnitSource)
	require.Empty(t, l.Notices())

	l, err = read(t, "a.stl", data) // stated in mm; known by its content
	require.NoError(t, err)
	require.Equal(t, geom.Vec{X: 1, Y: 1}, l.Mesh.Vertices[2])
	require.Equal(t, "stated", l.UnitSource)
}

func TestGLBNodesCarryTheirMeshes(t *testing.T) {
	at := func(nodes string) []geom.Vec {
		l := mustRead(t, "a.glb", string(glb(strings.Replace(squareJSON, `[{"mesh":0}]`, nodes, 1), square)))
		return l.Mesh.Vertices
	}
	half := math.Sqrt(0.5)
	// A quarter turn about z carries (1, 0, 0) to (0, 1, 0); scale comes before it, translation after.
	v := at(fmt.Sprintf(`[{"mesh":0,"translation":[10,0,5],"rotation":[0,0,%.9g,%.9g],"scale":[2,3,1]}]`, half, half))
	for k, want := range []geom.Vec{{X: 10, Z: 5}, {X: 10, Y: 2, Z: 5}, {X: 7, Y: 2, Z: 5}, {X: 7, Z: 5}} {
		require.InDelta(t, 0, v[k].Dist(want), 1e-8)
	}
	// A matrix stands column by column; a child's place is its parent's, then its own.
	v = at(`[{"children":[1],"matrix":[0,1,0,0, -1,0,0,0, 0,0,1,0, 100,0,0,1]},{"mesh":0,"translation":[1,2,3]}]`)
	require.Equal(t, []geom.Vec{{X: 98, Y: 1, Z: 3}, {X: 98, Y: 2, Z: 3}, {X: 97, Y: 2, Z: 3}, {X: 97, Y: 1, Z: 3}}, v)
	// The same mesh may stand in two nodes.
	v = at(`[{"children":[1,2]},{"mesh":0},{"mesh":0,"translation":[5,0,0]}]`)
	require.Len(t, v, 8)
	// A mirror turns the faces, so that outside stays outside (section 3.7.4).
	l := mustRead(t, "a.glb", string(glb(strings.Replace(squareJSON, `[{"mesh":0}]`, `[{"mesh":0,"scale":[-1,1,1]}]`, 1), square)))
	require.Positive(t, l.Mesh.AreaNormal(0).Z)
	require.Equal(t, -1.0, l.Mesh.Bounds().Lo.X)
}

func TestGLBScenes(t *testing.T) {
	nodes := `"nodes":[{"mesh":0}]`
	two := strings.Replace(squareJSON, nodes, `"nodes":[{"mesh":0},{"mesh":0,"translation":[0,0,7]}]`, 1)
	for name, c := range map[string]struct {
		json string
		z    float64
		n    int
	}{
		"the default scene":  {strings.Replace(strings.Replace(two, `"scene":0`, `"scene":1`, 1), `[{"nodes":[0]}]`, `[{"nodes":[0]},{"nodes":[1]}]`, 1), 7, 4},
		"no default":         {strings.Replace(two, `"scene":0,`, "", 1), 0, 4},
		"no scenes: all":     {strings.Replace(two, `"scenes":[{"nodes":[0]}],`, "", 1), 0, 8},
		"no nodes: all":      {strings.Replace(strings.Replace(squareJSON, nodes, `"nodes":[]`, 1), `"scenes":[{"nodes":[0]}],`, "", 1), 0, 4},
		"mode lines is said": {strings.Replace(squareJSON, `"indices":2}`, `"indices":2},{"attributes":{"POSITION":0},"mode":1}`, 1), 0, 4},
	} {
		l := mustRead(t, "a.glb", string(glb(c.json, square)))
		require.Len(t, l.Mesh.Vertices, c.n, name)
		require.Equal(t, c.z, l.Mesh.Vertices[0].Z, name)
		require.Equal(t, strings.HasPrefix(name, "mode"), l.LeftOut == 1)
	}
}

// part describes a primitive of one attribute list over the data that follow.
func part(mode int, attributes, indices, accessors string, length int) string {
	return fmt.Sprintf(`{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],
"meshes":[{"primitives":[{"attributes":{%s},"mode":%d%s}]}],"accessors":[%s],
"bufferViews":[{"buffer":0,"byteLength":%d}],"buffers":[{"byteLength":%d}]}`, attributes, mode, indices, accessors, length, length)
}

func TestGLBModesAndComponents(t *testing.T) {
	corners := []float32{0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 1, 0, 0, 2, 0}
	position := `{"bufferView":0,"componentType":5126,"count":5,"type":"VEC3"}`
	index := func(kind int) string {
		return fmt.Sprintf(`,{"bufferView":0,"byteOffset":60,"componentType":%d,"count":5,"type":"SCALAR"}`, kind)
	}
	strip := [][3]uint32{{0, 1, 2}, {1, 3, 2}, {2, 3, 4}}
	for name, c := range map[string]struct {
		mode    int
		indices any
		kind    int
		want    [][3]uint32
	}{
		"strip of bytes": {5, []uint8{0, 1, 2, 3, 4, 0, 0, 0}, 5121, strip},
		"strip of words": {5, []uint16{0, 1, 2, 3, 4, 0}, 5123, strip},
		"fan":            {6, []uint32{0, 1, 3, 2, 4}, 5125, [][3]uint32{{1, 3, 0}, {3, 2, 0}}}, // 2, 4, 0 lie in one line
		"strip in order": {5, nil, 0, strip},
	} {
		data, accessors, indices := little(corners), position, ""
		if c.indices != nil {
			data = append(data, little(c.indices)...)
			accessors += index(c.kind)
			indices = `,"indices":1`
		}
		l := mustRead(t, "a.glb", string(glb(part(c.mode, `"POSITION":0`, indices, accessors, len(data)), data)))
		require.Equal(t, c.want, l.Mesh.Faces, name)
	}
	// Whole numbers, normalized: 127/127 = 1, and -128 counts as -1 (section 3.6.2.2).
	data := little([]int8{127, 0, 0, 0, -128, 0, 0, 0, 0, 127, 0, 0})
	json := part(4, `"POSITION":0`, "", `{"bufferView":0,"componentType":5120,"normalized":true,"count":3,"type":"VEC3"}`, 12)
	json = strings.Replace(json, `"byteLength":12}]`, `"byteLength":12,"byteStride":4}]`, 1)
	json = strings.Replace(json, `{"asset"`, `{"extensionsRequired":["KHR_mesh_quantization"],"asset"`, 1)
	l := mustRead(t, "a.glb", string(glb(json, data)))
	require.Equal(t, []geom.Vec{{X: 1}, {X: -1}, {Y: 1}}, l.Mesh.Vertices)
}

func TestGLBPointsKeepNormalsAndColours(t *testing.T) {
	data := append(little([]float32{0, 0, 0, 1, 0, 0, 0, 2, 0, 0, 0, 2, 1, 0, 0, 0, 0, 3}), 255, 0, 10, 255, 0, 255, 0, 0, 128, 128, 128, 9)
	json := part(0, `"POSITION":0,"NORMAL":1,"COLOR_0":2`, "", `{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"},
{"bufferView":0,"byteOffset":36,"componentType":5126,"count":3,"type":"VEC3"},{"bufferView":0,"byteOffset":72,"componentType":5121,"normalized":true,"count":3,"type":"VEC4"}`, 84)
	l := mustRead(t, "a.glb", string(glb(json, data)))
	require.Empty(t, l.Mesh.Faces)
	require.Equal(t, []geom.Vec{{}, {X: 1}, {Y: 2}}, l.Mesh.Vertices)
	require.Equal(t, []geom.Vec{{Z: 1}, {X: 1}, {Z: 1}}, l.Mesh.Normals)
	// sRGB of the linear shares 10/255 and 128/255, by IEC 61966-2-1: 0.2195 and 0.7369.
	require.Equal(t, [][3]uint8{{255, 0, 56}, {0, 255, 0}, {188, 188, 188}}, l.Mesh.Colours)
	// Turned a quarter about x: y goes to z. A stretch leans normals the other way.
	json = strings.Replace(json, `{"mesh":0}`, `{"mesh":0,"matrix":[1,0,0,0, 0,0,4,0, 0,-1,0,0, 0,0,0,1]}`, 1)
	l = mustRead(t, "a.glb", string(glb(json, data)))
	require.Equal(t, geom.Vec{Y: -1}, l.Mesh.Normals[0])
	// Mirrored in x: what looked along x looks against it, everything else stays.
	json = part(0, `"POSITION":0,"NORMAL":1`, "", `{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"},
{"bufferView":0,"byteOffset":36,"componentType":5126,"count":3,"type":"VEC3"}`, 72)
	json = strings.Replace(json, `{"mesh":0}`, `{"mesh":0,"scale":[-1,1,1]}`, 1)
	l = mustRead(t, "a.glb", string(glb(json, data[:72])))
	require.Equal(t, []geom.Vec{{Z: 1}, {X: -1}, {Z: 1}}, l.Mesh.Normals)
}

func TestGLBFaults(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"index out of range":   {`"count":4,"type":"VEC3"},`, `"count":3,"type":"VEC3"},`, "primitive 0 of mesh 0 at byte 20: corner 5 names vertex 3, but there are vertices 0 to 2"},
		"count too large":      {`"count":4,`, `"count":5,`, "accessor 0 at byte 20: its 5 values take 108 bytes, but its buffer view has 96"},
		"count absurd":         {`"count":4,`, `"count":4000000000,`, "4,000,000,000 values, more than the file has bytes"},
		"count negative":       {`"count":4,`, `"count":-4,`, "-4 values"},
		"count not whole":      {`"count":4,`, `"count":4.5,`, `"number 4.5" stands for "accessors.count"`},
		"not whole triangles":  {`"count":6,`, `"count":5,`, "its 5 corners do not make whole triangles"},
		"view too long":        {`"byteLength":96`, `"byteLength":9600`, "buffer view 0 at byte 20: its 9,600 bytes from byte 0 on reach beyond"},
		"view offset":          {`"byteOffset":96`, `"byteOffset":1e18`, "stands for"},
		"offset huge":          {`"byteOffset":96`, `"byteOffset":9223372036854775807`, "reach beyond its buffer"},
		"buffer too long":      {`"byteLength":108`, `"byteLength":1080`, "buffer 0 at byte 20: it is said to have 1,080 bytes, but the binary chunk has 108"},
		"buffer outside":       {`{"byteLength":108}`, `{"byteLength":108,"uri":"a.bin"}`, "stand outside the GLB file"},
		"second buffer":        {`"bufferViews":[{"buffer":0`, `"bufferViews":[{"buffer":1`, "it names buffer 1, but there are 1"},
		"stride too small":     {`"byteStride":24`, `"byteStride":8`, "values of 12 bytes do not fit a stride of 8"},
		"stride too large":     {`"byteStride":24`, `"byteStride":1024`, "stride of 1024"},
		"accessor offset":      {`{"bufferView":0,"componentType"`, `{"bufferView":0,"byteOffset":-12,"componentType"`, "it begins at byte -12 of a buffer view of 96"},
		"accessor missing":     {`"POSITION":0`, `"POSITION":9`, "POSITION names accessor 9, but there are 3"},
		"no position":          {`"POSITION":0,`, ``, "it has no POSITION"},
		"view missing":         {`"bufferView":1`, `"bufferView":7`, "accessor 2 at byte 20: it names buffer view 7"},
		"no view":              {`{"bufferView":0,"componentType"`, `{"componentType"`, "no buffer view, so no values"},
		"component type":       {`5126,"count":4`, `5130,"count":4`, "component type 5130"},
		"type":                 {`"count":4,"type":"VEC3"`, `"count":4,"type":"MAT3"`, `"MAT3"`},
		"position of two":      {`"count":4,"type":"VEC3"`, `"count":4,"type":"VEC2"`, "POSITION is \"VEC2\", not VEC3"},
		"indices of reals":     {`5123,"count":6`, `5126,"count":3`, "not unsigned whole numbers"},
		"sparse":               {`"count":4,"type"`, `"sparse":{"count":1},"count":4,"type"`, "it is sparse"},
		"mode":                 {`"indices":2`, `"indices":2,"mode":9`, "its mode 9 is none of glTF's"},
		"node missing":         {`"nodes":[0]`, `"nodes":[3]`, "it names node 3, but there are 1"},
		"mesh missing":         {`{"mesh":0}`, `{"mesh":-1}`, "it names mesh -1"},
		"scene missing":        {`"scene":0`, `"scene":2`, "it names scene 2"},
		"circle":               {`{"mesh":0}`, `{"children":[1]},{"mesh":0,"children":[0]}`, "node 0 at byte 20: it stands twice"},
		"circle without scene": {`"scenes":[{"nodes":[0]}],` + "\n" + `"nodes":[{"mesh":0}]`, `"nodes":[{"children":[1]},{"children":[0],"mesh":0}]`, "in a circle"},
		"twice":                {`{"mesh":0}`, `{"children":[1,1]},{"mesh":0}`, "node 1 at byte 20: it stands twice"},
		"skin":                 {`{"mesh":0}`, `{"mesh":0,"skin":0}`, "an animation"},
		"matrix short":         {`{"mesh":0}`, `{"mesh":0,"matrix":[1,0,0]}`, "does not have 16 numbers"},
		"perspective":          {`{"mesh":0}`, `{"mesh":0,"matrix":[1,0,0,1, 0,1,0,0, 0,0,1,0, 0,0,0,1]}`, "last row of its matrix"},
		"rotation":             {`{"mesh":0}`, `{"mesh":0,"rotation":[1,1,1,1]}`, "not a unit quaternion"},
		"instancing":           {`{"mesh":0}`, `{"mesh":0,"extensions":{"EXT_mesh_gpu_instancing":{}}}`, "without instancing"},
		"draco":                {`"scene":0`, `"extensionsRequired":["KHR_draco_mesh_compression"],"scene":0`, "compressed (\"KHR_draco_mesh_compression\"), which is not supported; export it without compression"},
		"draco in a part":      {`"indices":2}]}],` + "\n" + `"accessors":[{"bufferView":0,`, `"indices":2,"extensions":{"KHR_draco_mesh_compression":{}}}]}],"accessors":[{`, "compressed (\"KHR_draco_mesh_compression\")"},
		"meshopt":              {`"byteStride":24`, `"byteStride":24,"extensions":{"EXT_meshopt_compression":{}}`, "export it without compression"},
		"other extension":      {`"scene":0`, `"extensionsRequired":["EXT_unheard"],"scene":0`, `requires the extension "EXT_unheard"`},
		"version 1":            {`"version":"2.0"`, `"version":"1.0"`, `asset.version is "1.0", not 2.0`},
		"newer reader":         {`"version":"2.0"`, `"version":"2.1","minVersion":"2.1"`, `glTF "2.1"`},
		"json":                 {`"scene":0,`, `"scene":0,,`, "the JSON chunk is damaged"},
		"kind":                 {`"scene":0`, `"scene":"main"`, `a "string" stands for "scene"`},
	} {
		require.Contains(t, squareJSON, c.old, name)
		_, err := read(t, "a.glb", glb(strings.Replace(squareJSON, c.old, c.new, 1), square))
		requireFault(t, err, 0)
		require.ErrorContains(t, err, c.want, name)
	}
}

func TestGLBContainerFaults(t *testing.T) {
	whole := glb(squareJSON, square)
	for name, c := range map[string]struct {
		at   int
		to   byte
		want string
	}{
		"version":         {4, 1, "byte 4: it is glTF of version 1, not 2"},
		"length":          {8, whole[8] + 4, "byte 8: the header says"},
		"chunk length":    {15, 9, "byte 12: a chunk is said to have"},
		"first chunk":     {16, 'X', "byte 16: its first chunk is not JSON"},
		"no binary chunk": {len(whole) - 108 - 4, 'X', "the binary chunk has 0"},
	} {
		bad := bytes.Clone(whole)
		bad[c.at] = c.to
		_, err := read(t, "a.glb", bad)
		requireFault(t, err, 0)
		require.ErrorContains(t, err, c.want, name)
	}
	_, err := read(t, "a.gltf", []byte(squareJSON))
	require.ErrorContains(t, err, "export it as one binary file (.glb)")
}

// Cut anywhere the file is refused, also when its header was made to fit.
func TestGLBTruncatedAtEachByte(t *testing.T) {
	whole := glb(squareJSON, square)
	for n := range whole {
		_, err := read(t, "a.glb", whole[:n])
		requireFault(t, err, n)
		if n < 12 {
			continue
		}
		fitted := bytes.Clone(whole[:n])
		binary.LittleEndian.PutUint32(fitted[8:], uint32(n))
		_, err = read(t, "a.glb", fitted)
		requireFault(t, err, n)
	}
}

func TestGLBRefusesEndlessCopies(t *testing.T) {
	n := 3 << 10
	data := make([]byte, 12*n)
	one := part(4, `"POSITION":0`, "", fmt.Sprintf(`{"bufferView":0,"componentType":5126,"count":%d,"type":"VEC3"}`, n), len(data))
	nodes := strings.TrimSuffix(strings.Repeat(`{"mesh":0},`, 2000), ",")
	var roots []string
	for k := range 2000 {
		roots = append(roots, fmt.Sprint(k))
	}
	one = strings.Replace(one, `"nodes":[{"mesh":0}]`, `"nodes":[`+nodes+`]`, 1)
	one = strings.Replace(one, `{"nodes":[0]}`, `{"nodes":[`+strings.Join(roots, ",")+`]}`, 1)
	_, err := read(t, "a.glb", glb(one, data))
	requireFault(t, err, 0)
	require.ErrorContains(t, err, "repeated until they have more than 4,194,304 corners")
}
