package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// OneView returns what a scanner sees of a mesh from one direction: points of a square grid, spacing mm apart across
// the direction toward the scanner, whose rows run along the part of along that is square to it. Faces join
// neighbouring points whose depths differ by no more than jump mm. toward and along are not parallel; spacing is
// above 0. Each point is the mean of what lies in a square spot mm wide about it (0: of the one place), so that points
// astride an edge hang between what is before and what is behind it, as those of scanners do.
func OneView(m *mesh.Mesh, toward, along geom.Vec, spacing, jump, spot float64) *mesh.Mesh {
	if spot > 0 {
		// An odd number of places across, so that the middle one is the point.
		const across = 5
		fine := spot / across
		every := max(int(math.Round(spacing/fine)), 1)
		return viewed(m, toward, along, spacing/float64(every), jump, every, across/2)
	}
	return viewed(m, toward, along, spacing, jump, 1, 0)
}

// viewed is OneView on a grid of which every so many places hold a point, the mean of those within reach places of it.
func viewed(m *mesh.Mesh, toward, along geom.Vec, spacing, jump float64, every, reach int) *mesh.Mesh {
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
	depth, size, from = averaged(depth, size, from, every, reach)
	spacing *= float64(every)
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

// averaged keeps every so many places of a grid of depths, each the mean of those seen within reach places of it; one
// that saw nothing itself stays unseen.
func averaged(depth []float64, size, from [2]int, every, reach int) ([]float64, [2]int, [2]int) {
	if every == 1 && reach == 0 {
		return depth, size, from
	}
	var first, n, at [2]int
	for k := range size {
		at[k] = int(math.Ceil(float64(from[k]) / float64(every)))
		first[k] = at[k]*every - from[k]
		n[k] = max((size[k]-first[k]+every-1)/every, 0)
	}
	out := make([]float64, n[0]*n[1])
	for j := range n[1] {
		for i := range n[0] {
			ci, cj := first[0]+i*every, first[1]+j*every
			sum, seen := 0.0, 0
			for y := max(cj-reach, 0); y <= min(cj+reach, size[1]-1); y++ {
				for x := max(ci-reach, 0); x <= min(ci+reach, size[0]-1); x++ {
					if h := depth[y*size[0]+x]; !math.IsInf(h, -1) {
						sum, seen = sum+h, seen+1
					}
				}
			}
			out[j*n[0]+i] = math.Inf(-1)
			if !math.IsInf(depth[cj*size[0]+ci], -1) {
				out[j*n[0]+i] = sum / float64(seen)
			}
		}
	}
	return out, n, at
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
