package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// noiseReach is how many lattice steps of a smooth noise's kernel are summed to
// each side; beyond them it is under 0.002.
const noiseReach = 3

const euler = 2.718281828459045

// WithSmoothNoise is WithNoise with noise that neighbours share, as scanners
// have it: the correlation of two points falls as exp(-d²/length²), to 1/e at
// the given length in mm.
func WithSmoothNoise(m *mesh.Mesh, sd, length float64, seed uint64) *mesh.Mesh {
	normals := m.VertexNormals()
	out := &mesh.Mesh{Vertices: make([]geom.Vec, len(m.Vertices)), Faces: m.Faces}
	// White noise on a lattice, smoothed with exp(-d²/2k²), has the correlation
	// exp(-d²/4k²); with the lattice's step equal to k its own pattern is under a thousandth.
	step := length / 2
	for i, p := range m.Vertices {
		out.Vertices[i] = p.AddScaled(sd*smoothNoise(p.Scale(1/step), seed), normals[i])
	}
	return out
}

// smoothNoise returns the noise of unit variance at p, in steps of the lattice.
func smoothNoise(p geom.Vec, seed uint64) float64 {
	var first [3]int
	var weight [3][2*noiseReach + 1]float64
	for axis := range 3 {
		first[axis] = int(math.Floor(p.At(axis)+0.5)) - noiseReach
		for k := range weight[axis] {
			d := p.At(axis) - float64(first[axis]+k)
			weight[axis][k] = geom.Pow(euler, -float64(d*d)/2)
		}
	}
	sum, squares := 0.0, 0.0
	for x, wx := range weight[0] {
		for y, wy := range weight[1] {
			wxy := float64(wx * wy)
			for z, wz := range weight[2] {
				w := float64(wxy * wz)
				r := keyed(seed, uint64(first[0]+x), uint64(first[1]+y), uint64(first[2]+z))
				sum += float64(w * r.uniform())
				squares += float64(w * w)
			}
		}
	}
	// A uniform number on [-1, 1) has the variance 1/3.
	return sum * math.Sqrt(3/squares)
}
