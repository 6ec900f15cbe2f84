// Package morton puts things that lie close in space close in order, along a
// Morton curve (Morton 1966), and sorts by such keys.
package morton

import (
	"math"

	"shutline/mesh/geom"
)

// axisBits is how finely a curve divides the longest axis of its box.
const axisBits = 10

// Curve numbers the cells of a box.
type Curve struct {
	from  geom.Vec
	cells float64 // per mm
}

// New returns the curve through a box, which must not be empty.
func New(box geom.Box) Curve {
	size := box.Size()
	return Curve{box.Lo, (1<<axisBits - 1) / max(size.X, size.Y, size.Z, math.SmallestNonzeroFloat32)}
}

// Key returns the number of a point's cell, under 2^30; points outside the box count as on its
// side, and coordinates that are not numbers as some cell of it.
func (c Curve) Key(p geom.Vec) uint64 {
	d := p.Sub(c.from).Scale(c.cells)
	return spread(d.X) | spread(d.Y)<<1 | spread(d.Z)<<2
}

// spread puts two free bits after each of the lowest axisBits bits of x, which is clamped to what they hold.
func spread(x float64) uint64 {
	v := uint64(min(max(x, 0), 1<<axisBits-1))
	v = (v | v<<16) & 0x030000ff
	v = (v | v<<8) & 0x0300f00f
	v = (v | v<<4) & 0x030c30c3
	return (v | v<<2) & 0x09249249
}

// Entry is a thing's number and the key it is sorted by.
type Entry struct {
	Key   uint64
	Index uint32
}

// Sort returns the entries sorted by key, those of one key in the order they came in. It works
// in the given slice and one like it, and returns one of them.
func Sort(entries []Entry) []Entry {
	const digit = 11
	var used uint64
	for i := range entries {
		used |= entries[i].Key
	}
	a, b := entries, make([]Entry, len(entries))
	for shift := 0; shift < 64; shift += digit {
		if used>>shift&(1<<digit-1) == 0 {
			continue
		}
		var start [1 << digit]int
		for i := range a {
			start[a[i].Key>>shift&(1<<digit-1)]++
		}
		sum := 0
		for i, n := range start {
			start[i] = sum
			sum += n
		}
		for i := range a {
			d := a[i].Key >> shift & (1<<digit - 1)
			b[start[d]] = a[i]
			start[d]++
		}
		a, b = b, a
	}
	return a
}
