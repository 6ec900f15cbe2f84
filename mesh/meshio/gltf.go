package meshio

import (
	"encoding/json"
	"slices"
	"strings"

	"shutline/mesh/geom"
)

// gltfDoc is what is used of a glTF document.
type gltfDoc struct {
	Asset struct {
		Version    string `json:"version"`
		MinVersion string `json:"minVersion"`
	} `json:"asset"`
	ExtensionsRequired []string         `json:"extensionsRequired"`
	Scene              *int             `json:"scene"`
	Scenes             []gltfScene      `json:"scenes"`
	Nodes              []gltfNode       `json:"nodes"`
	Meshes             []gltfMesh       `json:"meshes"`
	Accessors          []gltfAccessor   `json:"accessors"`
	BufferViews        []gltfBufferView `json:"bufferViews"`
	Buffers            []gltfBuffer     `json:"buffers"`
}

type gltfScene struct {
	Nodes []int `json:"nodes"`
}

type gltfNode struct {
	Children    []int          `json:"children"`
	Matrix      []float64      `json:"matrix"`
	Translation []float64      `json:"translation"`
	Rotation    []float64      `json:"rotation"`
	Scale       []float64      `json:"scale"`
	Weights     []float64      `json:"weights"`
	Mesh        *int           `json:"mesh"`
	Skin        *int           `json:"skin"`
	Extensions  gltfExtensions `json:"extensions"`
}

type gltfMesh struct {
	Weights    []float64       `json:"weights"`
	Primitives []gltfPrimitive `json:"primitives"`
}

type gltfPrimitive struct {
	Attributes map[string]int `json:"attributes"`
	Indices    *int           `json:"indices"`
	Mode       *int           `json:"mode"`
	Extensions gltfExtensions `json:"extensions"`
}

type gltfAccessor struct {
	BufferView    *int            `json:"bufferView"`
	ByteOffset    int             `json:"byteOffset"`
	ComponentType int             `json:"componentType"`
	Normalized    bool            `json:"normalized"`
	Count         int             `json:"count"`
	Type          string          `json:"type"`
	Sparse        json.RawMessage `json:"sparse"`
}

type gltfBufferView struct {
	Buffer     int            `json:"buffer"`
	ByteOffset int            `json:"byteOffset"`
	ByteLength int            `json:"byteLength"`
	ByteStride *int           `json:"byteStride"`
	Extensions gltfExtensions `json:"extensions"`
}

type gltfBuffer struct {
	ByteLength int     `json:"byteLength"`
	URI        *string `json:"uri"`
}

type gltfExtensions map[string]json.RawMessage

// gltf is a document and what has been gathered from its scene.
type gltf struct {
	*source
	doc     gltfDoc
	bin     []byte
	at      int // where the JSON chunk begins
	normals []geom.Vec
	colours [][3]uint8
	corners int // of faces so far, with every copy of a mesh
}

// Node trees deeper than this, and copies of meshes that make more corners than
// this many for each byte of the file (or than copiedCorners, whichever is more), are refused: a
// small file must not make endless work.
const (
	maxNodeDepth   = 1000
	copiesPerByte  = 16
	copiedCorners  = 1 << 22
	draco          = "KHR_draco_mesh_compression"
	instancing     = "EXT_mesh_gpu_instancing"
	meshoptSuffix  = "_meshopt_compression" // EXT_ and KHR_
	quantization   = "KHR_mesh_quantization"
	modePoints     = 0
	modeTriangles  = 4
	modeStrip      = 5
	modeFan        = 6
	componentFloat = 5126
)

// check refuses what changes the shape and is not read.
func (g *gltf) check() error {
	if v := g.doc.Asset.Version; !strings.HasPrefix(v, "2.") {
		return g.fault(atByte(g.at), "asset.version is %s, not 2.0; export it again as glTF 2.0 binary (.glb)", excerpt([]byte(v)))
	}
	if v := g.doc.Asset.MinVersion; v != "" && v != "2.0" {
		return g.fault(atByte(g.at), "it needs a reader of glTF %s, and this one reads 2.0; export it as glTF 2.0", excerpt([]byte(v)))
	}
	for _, name := range g.doc.ExtensionsRequired {
		switch {
		case name == draco || strings.HasSuffix(name, meshoptSuffix):
			return g.compressed(name)
		case name == quantization, strings.HasPrefix(name, "KHR_materials_"), strings.HasPrefix(name, "KHR_texture_"),
			strings.HasPrefix(name, "EXT_texture_"), name == "KHR_lights_punctual":
		default:
			return g.fault(atByte(g.at), "it requires the extension %s, which is not supported; export it without", excerpt([]byte(name)))
		}
	}
	return nil
}

func (g *gltf) compressed(name string) error {
	return g.fault(atByte(g.at), "its meshes are compressed (%s), which is not supported; export it without compression", excerpt([]byte(name)))
}

// scene gathers the meshes of the default scene; without scenes, of all nodes; without nodes, all meshes.
func (g *gltf) scene(in *indexed, out *decoded) error {
	roots, err := g.roots()
	if err != nil {
		return err
	}
	if len(g.doc.Nodes) == 0 {
		for m := range g.doc.Meshes {
			if err := g.mesh(m, identity(), in, out); err != nil {
				return err
			}
		}
		return nil
	}
	seen := make([]bool, len(g.doc.Nodes))
	for _, n := range roots {
		if err := g.node(n, identity(), 0, seen, in, out); err != nil {
			return err
		}
	}
	return nil
}

func (g *gltf) roots() ([]int, error) {
	if len(g.doc.Scenes) > 0 {
		k := 0
		if g.doc.Scene != nil {
			k = *g.doc.Scene
		}
		if k < 0 || k >= len(g.doc.Scenes) {
			return nil, g.missing("the file", "scene", k, len(g.doc.Scenes))
		}
		return g.doc.Scenes[k].Nodes, nil
	}
	child := make([]bool, len(g.doc.Nodes))
	for _, n := range g.doc.Nodes {
		for _, c := range n.Children {
			if c >= 0 && c < len(child) {
				child[c] = true
			}
		}
	}
	var roots []int
	for n, c := range child {
		if !c {
			roots = append(roots, n)
		}
	}
	if len(roots) == 0 && len(child) > 0 {
		return nil, g.fault(atByte(g.at), "its nodes hold one another in a circle; it is damaged: export it again")
	}
	return roots, nil
}

// missing says that something names a thing that is not there.
func (g *gltf) missing(who, what string, k, n int) error {
	return g.fault(atByte(g.at).of("%s", who), "it names %s %d, but there are %s; the JSON chunk is damaged: export or copy it again", what, k, count(n))
}

// node gathers a node and those below it. The nodes of a scene are a tree: none stands in it twice.
func (g *gltf) node(k int, parent affine, depth int, seen []bool, in *indexed, out *decoded) error {
	if k < 0 || k >= len(g.doc.Nodes) {
		return g.missing("the scene", "node", k, len(g.doc.Nodes))
	}
	who := atByte(g.at).of("node %d", k)
	if seen[k] {
		return g.fault(who, "it stands twice in the scene, or below itself; the file is damaged: export it again")
	}
	if depth > maxNodeDepth {
		return g.fault(who, "nodes stand more than %s deep in one another; export it with fewer", count(maxNodeDepth))
	}
	seen[k] = true
	n := &g.doc.Nodes[k]
	own, problem := n.transform()
	if problem != "" {
		return g.fault(who, "%s; export it again", problem)
	}
	here := parent.after(own)
	if n.Mesh != nil {
		if n.Skin != nil || slices.ContainsFunc(n.Weights, isNotZero) {
			return g.fault(who, "its shape is that of an animation (a skin or morph targets); export it as it stands, without animation")
		}
		if _, ok := n.Extensions[instancing]; ok {
			return g.fault(who, "it is repeated by the extension %q, which is not supported; export it without instancing", instancing)
		}
		if err := g.mesh(*n.Mesh, here, in, out); err != nil {
			return err
		}
	}
	for _, c := range n.Children {
		if err := g.node(c, here, depth+1, seen, in, out); err != nil {
			return err
		}
	}
	return nil
}

func isNotZero(x float64) bool { return x != 0 }
