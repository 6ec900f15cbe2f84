package geom

import "math"

// Vec is a point or a direction in three dimensions; points are in mm.
type Vec struct{ X, Y, Z float64 }

// Add returns a + b.
func (a Vec) Add(b Vec) Vec { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }

// Sub returns a - b.
func (a Vec) Sub(b Vec) Vec { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }

// Scale returns s times a.
func (a Vec) Scale(s float64) Vec { return Vec{float64(s * a.X), float64(s * a.Y), float64(s * a.Z)} }

// AddScaled returns a + s*b.
func (a Vec) AddScaled(s float64, b Vec) Vec {
	return Vec{a.X + float64(s*b.X), a.Y + float64(s*b.Y), a.Z + float64(s*b.Z)}
}

// Neg returns -a.
func (a Vec) Neg() Vec { return Vec{-a.X, -a.Y, -a.Z} }

// Dot returns the scalar product.
func (a Vec) Dot(b Vec) float64 {
	return float64(a.X*b.X) + float64(a.Y*b.Y) + float64(a.Z*b.Z)
}

// Cross returns the vector product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{
		float64(a.Y*b.Z) - float64(a.Z*b.Y),
		float64(a.Z*b.X) - float64(a.X*b.Z),
		float64(a.X*b.Y) - float64(a.Y*b.X),
	}
}

// Norm2 returns the squared length.
func (a Vec) Norm2() float64 { return a.Dot(a) }

// Norm returns the length.
func (a Vec) Norm() float64 { return math.Sqrt(a.Norm2()) }

// Unit returns a scaled to length 1, or the zero vector when a has no direction.
func (a Vec) Unit() Vec {
	n := a.Norm()
	if n == 0 || math.IsInf(n, 0) || math.IsNaN(n) {
		return Vec{}
	}
	return a.Scale(1 / n)
}

// Dist returns the distance between two points.
func (a Vec) Dist(b Vec) float64 { return a.Sub(b).Norm() }

// Lerp returns the point at share s of the way from a to b.
func (a Vec) Lerp(b Vec, s float64) Vec { return a.AddScaled(s, b.Sub(a)) }

// IsFinite reports whether no coordinate is NaN or infinite.
func (a Vec) IsFinite() bool {
	s := a.X - a.X + (a.Y - a.Y) + (a.Z - a.Z)
	return s == 0
}

// At returns the coordinate of axis 0, 1 or 2.
func (a Vec) At(axis int) float64 {
	switch axis {
	case 0:
		return a.X
	case 1:
		return a.Y
	}
	return a.Z
}
