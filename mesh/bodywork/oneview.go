package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// OneView returns what a scanner sees of a mesh from one direction: points of a square grid, spacing mm apart across
// the direction toward the scanner, whose rows run along the part of along that is square to it. Faces join
// neighbouring points whose depths differ by no more than jump mm. toward and along are not parallel; spacing is
// above 0.
func OneView(m *mesh.Mesh, toward, along geom.Vec, spacing, jump float64) *mesh.Mesh {
	d := toward.Unit()
	y := along.AddScaled(-along.Dot(d), d).Unit()
	x := y.Cross(d)
	var lo, hi [2]float64
	place := make([][3]float64, len(m.Vertices))
	for i, v := range m.Vertices {
		place[i] = [3]float64{v.Dot(x) / spacing, v.Dot(y) / spacing, v.Dot(d)}
		for k := range lo {
			if i == 0 {
				lo[k], hi[k] = place[i][k], place[i][k]
			}
			lo[k], hi[k] = min(lo[k], place[i][k]), max(hi[k], place[i][k])
		}
	}
	var from, size [2]int
	for k := range lo {
		from[k] = int(math.Ceil(lo[k]))
		size[k] = max(int(math.Floor(hi[k]))-from[k]+1, 0)
	}
	depth := make([]float64, size[0]*size[1])
	for i := range depth {
		depth[i] = math.Inf(-1)
	}
	for _, f := range m.Faces {
		a, b, c := place[f[0]], place[f[1]], place[f[2]]
		area := float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
		if area == 0 {
			continue
		}
		for j := int(math.Ceil(min(a[1], b[1], c[1]))); float64(j) <= max(a[1], b[1], c[1]); j++ {
			for i := int(math.Ceil(min(a[0], b[0], c[0]))); float64(i) <= max(a[0], b[0], c[0]); i++ {
				px, py := float64(i)-a[0], float64(j)-a[1]
				u := (float64(px*(c[1]-a[1])) - float64(py*(c[0]-a[0]))) / area
				v := (float64(py*(b[0]-a[0])) - float64(px*(b[1]-a[1]))) / area
				if u < 0 || v < 0 || u+v > 1 {
					continue
				}
				k := (j-from[1])*size[0] + i - from[0]
				depth[k] = max(depth[k], a[2]+float64(u*(b[2]-a[2]))+float64(v*(c[2]-a[2])))
			}
		}
	}
	out := &mesh.Mesh{}
	index := make([]uint32, len(depth))
	for k, h := range depth {
		if !math.IsInf(h, -1) {
			index[k] = uint32(len(out.Vertices))
			i, j := float64(k%size[0]+from[0])*spacing, float64(k/size[0]+from[1])*spacing
			out.Vertices = append(out.Vertices, x.Scale(i).AddScaled(j, y).AddScaled(h, d))
		}
	}
	join := func(k ...int) {
		least, most := math.Inf(1), math.Inf(-1)
		for _, i := range k {
			least, most = min(least, depth[i]), max(most, depth[i])
		}
		if most-least <= jump {
			out.Faces = append(out.Faces, [3]uint32{index[k[0]], index[k[1]], index[k[2]]})
		}
	}
	for j := 0; j+1 < size[1]; j++ {
		for i := 0; i+1 < size[0]; i++ {
			k := j*size[0] + i
			join(k, k+1, k+1+size[0])
			join(k, k+1+size[0], k+size[0])
		}
	}
	return out
}

// noisy moves a mesh's points along their normals by noise mm, one standard deviation.
func noisy(m *mesh.Mesh, noise float64, s *source) *mesh.Mesh {
	n := m.VertexNormals()
	out := &mesh.Mesh{Faces: m.Faces, Vertices: make([]geom.Vec, len(m.Vertices))}
	for i, v := range m.Vertices {
		out.Vertices[i] = v.AddScaled(noise*s.normal(), n[i])
	}
	return out
}
