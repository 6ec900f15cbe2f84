package geom

import "math"

// Box is an axis-aligned box, Lo to Hi, both inclusive. EmptyBox holds nothing.
type Box struct{ Lo, Hi Vec }

// EmptyBox returns the box that holds no point.
func EmptyBox() Box {
	inf := math.Inf(1)
	return Box{Vec{inf, inf, inf}, Vec{-inf, -inf, -inf}}
}

// BoxOf returns the smallest box that holds all points.
func BoxOf(points []Vec) Box {
	if len(points) == 0 {
		return EmptyBox()
	}
	b := Box{points[0], points[0]}
	for i := range points {
		p := &points[i]
		if s := p.X + p.Y + p.Z; s != s || s == 0 { // not a number, or perhaps a negative zero: as min and max have it
			b = b.Extend(*p)
			continue
		}
		// Comparing takes a fifth of what min and max do, and boxes of millions of points are asked for on the drawing thread.
		if p.X < b.Lo.X {
			b.Lo.X = p.X
		}
		if p.Y < b.Lo.Y {
			b.Lo.Y = p.Y
		}
		if p.Z < b.Lo.Z {
			b.Lo.Z = p.Z
		}
		if p.X > b.Hi.X {
			b.Hi.X = p.X
		}
		if p.Y > b.Hi.Y {
			b.Hi.Y = p.Y
		}
		if p.Z > b.Hi.Z {
			b.Hi.Z = p.Z
		}
	}
	return b
}

// Empty reports whether the box holds no point.
func (b Box) Empty() bool { return !(b.Lo.X <= b.Hi.X && b.Lo.Y <= b.Hi.Y && b.Lo.Z <= b.Hi.Z) }

// Extend returns the box grown to hold p.
func (b Box) Extend(p Vec) Box {
	return Box{
		Vec{min(b.Lo.X, p.X), min(b.Lo.Y, p.Y), min(b.Lo.Z, p.Z)},
		Vec{max(b.Hi.X, p.X), max(b.Hi.Y, p.Y), max(b.Hi.Z, p.Z)},
	}
}

// Union returns the smallest box that holds both.
func (b Box) Union(o Box) Box {
	return Box{
		Vec{min(b.Lo.X, o.Lo.X), min(b.Lo.Y, o.Lo.Y), min(b.Lo.Z, o.Lo.Z)},
		Vec{max(b.Hi.X, o.Hi.X), max(b.Hi.Y, o.Hi.Y), max(b.Hi.Z, o.Hi.Z)},
	}
}

// Grow returns the box widened by d mm on every side.
func (b Box) Grow(d float64) Box {
	e := Vec{d, d, d}
	return Box{b.Lo.Sub(e), b.Hi.Add(e)}
}

// Size returns the side lengths.
func (b Box) Size() Vec { return b.Hi.Sub(b.Lo) }

// Diagonal returns the length of the space diagonal, 0 for the empty box.
func (b Box) Diagonal() float64 {
	if b.Empty() {
		return 0
	}
	return b.Size().Norm()
}

// Center returns the middle of the box.
func (b Box) Center() Vec { return b.Lo.Lerp(b.Hi, 0.5) }

// Contains reports whether p lies in the box or on its border.
func (b Box) Contains(p Vec) bool {
	return p.X >= b.Lo.X && p.X <= b.Hi.X && p.Y >= b.Lo.Y && p.Y <= b.Hi.Y && p.Z >= b.Lo.Z && p.Z <= b.Hi.Z
}

// Overlaps reports whether the boxes share a point.
func (b Box) Overlaps(o Box) bool {
	return b.Lo.X <= o.Hi.X && o.Lo.X <= b.Hi.X && b.Lo.Y <= o.Hi.Y && o.Lo.Y <= b.Hi.Y &&
		b.Lo.Z <= o.Hi.Z && o.Lo.Z <= b.Hi.Z
}

// Corners returns the eight corners.
func (b Box) Corners() [8]Vec {
	var c [8]Vec
	for i := range c {
		c[i] = b.Lo
		if i&1 != 0 {
			c[i].X = b.Hi.X
		}
		if i&2 != 0 {
			c[i].Y = b.Hi.Y
		}
		if i&4 != 0 {
			c[i].Z = b.Hi.Z
		}
	}
	return c
}

// Dist2 returns the squared distance from p to the box, 0 inside.
func (b Box) Dist2(p Vec) float64 {
	dx := max(b.Lo.X-p.X, 0, p.X-b.Hi.X)
	dy := max(b.Lo.Y-p.Y, 0, p.Y-b.Hi.Y)
	dz := max(b.Lo.Z-p.Z, 0, p.Z-b.Hi.Z)
	return float64(dx*dx) + float64(dy*dy) + float64(dz*dz)
}
