// Package morton puts things that lie close in space close in order, along a
// Morton curve (Morton 1966), and sorts by such keys.
package morton

import (
	"context"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
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

// digit is how many bits of a key a pass of Sort looks at.
const digit = 11

// sortRun is how many entries one of several threads takes at a time.
const sortRun = 1 << 17

// Sort returns the entries sorted by key, those of one key in the order they came in, on the given number of threads (0: all). It works
// in the given slice and one like it, and returns one of them.
func Sort(entries []Entry, threads int) []Entry {
	// What goes to one place keeps the order of the runs it is from, so that the result knows no threads.
	size := sortRun
	if parallel.Threads(threads) == 1 {
		size = max(1, len(entries))
	}
	runs := (len(entries) + size - 1) / size
	each := func(do func(run, lo, hi int)) {
		parallel.Chunks(context.Background(), len(entries), size, threads, nil, func(_, run, lo, hi int) { do(run, lo, hi) })
	}
	bits := make([]uint64, runs)
	each(func(run, lo, hi int) {
		for i := lo; i < hi; i++ {
			bits[run] |= entries[i].Key
		}
	})
	var used uint64
	for _, b := range bits {
		used |= b
	}
	a, b := entries, make([]Entry, len(entries))
	pages.Huge(b)
	starts := make([][1 << digit]int, runs)
	for shift := 0; shift < 64; shift += digit {
		if used>>shift&(1<<digit-1) == 0 {
			continue
		}
		each(func(run, lo, hi int) {
			start := &starts[run]
			*start = [1 << digit]int{}
			for i := lo; i < hi; i++ {
				start[a[i].Key>>shift&(1<<digit-1)]++
			}
		})
		sum := 0
		for d := range 1 << digit {
			for run := range starts {
				n := starts[run][d]
				starts[run][d] = sum
				sum += n
			}
		}
		each(func(run, lo, hi int) {
			start := &starts[run]
			for i := lo; i < hi; i++ {
				d := a[i].Key >> shift & (1<<digit - 1)
				b[start[d]] = a[i]
				start[d]++
			}
		})
		a, b = b, a
	}
	return a
}
