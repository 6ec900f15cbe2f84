package drift

import (
	"math"

	"shutline/mesh/geom"
)

// Noise is what points err by along their normals: each on its own, and together with its neighbours by the correlation exp(-(distance/Length)²).
type Noise struct{ Point, Shared, Length float64 } // mm

const (
	// boundReach, in lengths, is where neighbours count as sharing nothing: exp(-9), a ten thousandth.
	boundReach = 3.0
	// boundSteps and boundLeft end the conjugate gradients.
	boundSteps, boundLeft = 500, 1e-9
)

// Bound returns the least standard deviation in mm of the size of each shape that any estimate can have that is right
// on average but for what is known beforehand (Cramér 1946, Rao 1945, with a normal prior: van Trees 1968): of points on the skin
// with their unit normals, in the reference's frame, whose deviations err by the noise, beside all motions and
// all other shapes. A shape that moves nothing has what is known beforehand.
func Bound(f *Frame, points, normals []geom.Vec, noise Noise) (sd [Kinds]float64) {
	rows := make([]row, len(points))
	for i, n := range normals {
		rows[i] = f.rowAt(f.local(points[i]), geom.Vec{X: n.Dot(f.Axes[0]), Y: n.Dot(f.Axes[1]), Z: n.Dot(f.Axes[2])})
	}
	v := covarianceOf(points, noise)
	var a square
	for m := range columns {
		x := make([]float64, len(points))
		for i := range x {
			x[i] = rows[i][m]
		}
		x = v.solve(x)
		for i := range rows {
			for r := m; r < columns; r++ {
				a[r][m] += float64(x[i] * rows[i][r])
			}
		}
	}
	known := f.likely()
	for m := range columns {
		a[m][m] += 1 / float64(known[m]*known[m])
	}
	l, ok := factor(&a)
	if !ok {
		copy(sd[:], known[:Kinds])
		return sd
	}
	inv := inverse(&l)
	for k := range Kinds {
		sd[k] = math.Sqrt(inv[k][k])
	}
	return sd
}

// sparse is a symmetric matrix of one number on its diagonal and few beside it.
type sparse struct {
	diagonal float64
	beside   [][]entry
}

type entry struct {
	at int32
	v  float64
}

// covarianceOf returns the covariances of the deviations of points.
func covarianceOf(points []geom.Vec, noise Noise) sparse {
	shared := float64(noise.Shared * noise.Shared)
	v := sparse{float64(noise.Point*noise.Point) + shared, make([][]entry, len(points))}
	if shared == 0 {
		return v
	}
	h := float64(boundReach * noise.Length)
	cubes := map[[3]int32][]int32{}
	cube := func(p geom.Vec) [3]int32 {
		return [3]int32{int32(math.Floor(p.X / h)), int32(math.Floor(p.Y / h)), int32(math.Floor(p.Z / h))}
	}
	for i, p := range points {
		c := cube(p)
		cubes[c] = append(cubes[c], int32(i))
	}
	for i, p := range points {
		c := cube(p)
		for k := range int32(27) {
			for _, o := range cubes[[3]int32{c[0] + k%3 - 1, c[1] + k/3%3 - 1, c[2] + k/9 - 1}] {
				if d := p.Dist(points[o]) / noise.Length; int(o) != i && d < boundReach {
					v.beside[i] = append(v.beside[i], entry{o, float64(shared * geom.Pow(euler, -float64(d*d)))})
				}
			}
		}
	}
	return v
}

func (v *sparse) times(x []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		s := float64(v.diagonal * x[i])
		for _, b := range v.beside[i] {
			s += float64(b.v * x[b.at])
		}
		out[i] = s
	}
	return out
}

// solve returns x of v x = b by conjugate gradients (Hestenes & Stiefel 1952).
func (v *sparse) solve(b []float64) []float64 {
	product := func(x, y []float64) (s float64) {
		for i := range x {
			s += float64(x[i] * y[i])
		}
		return s
	}
	x, left, way := make([]float64, len(b)), append([]float64(nil), b...), append([]float64(nil), b...)
	first := product(left, left)
	now := first
	for range boundSteps {
		if !(now > boundLeft*first) {
			break
		}
		w := v.times(way)
		step := now / product(way, w)
		for i := range x {
			x[i] += float64(step * way[i])
			left[i] -= float64(step * w[i])
		}
		next := product(left, left)
		for i := range way {
			way[i] = left[i] + float64(next/now*way[i])
		}
		now = next
	}
	return x
}
