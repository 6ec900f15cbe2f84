package bvh

import (
	"math"
	"slices"
)

// bins is the number of places on each axis that the surface area heuristic looks at.
const bins = 16

// cut splits a range in two, orders its records so that the parts follow one another, and returns them.
func (b *builder) cut(s span) (left, right span) {
	if s.len() <= bundle {
		return b.cutByCount(s)
	}
	axis := s.least.longest()
	if s.depth < splitDepth {
		at := s.least.middle(axis)
		if b.varied {
			axis, at = b.cheapest(s)
		}
		both := [2]entries{greatest, greatest}
		if n := partition(b.records[s.lo:s.hi], axis, at, &both); n > 0 && n < s.len() {
			return span{s.lo, s.lo + n, s.depth + 1, both[0]}, span{s.lo + n, s.hi, s.depth + 1, both[1]}
		}
	}
	return b.halves(s, s.len()/2)
}

// halves splits after n records as they are.
func (b *builder) halves(s span, n int) (left, right span) {
	mid := s.lo + n
	return span{s.lo, mid, s.depth + 1, leastOf(b.records[s.lo:mid])}, span{mid, s.hi, s.depth + 1, leastOf(b.records[mid:s.hi])}
}

// cutByCount splits a bundle along its longest side after a whole number of leaves.
func (b *builder) cutByCount(s span) (left, right span) {
	var keys [bundle]uint64
	var copies [bundle]record
	records := b.records[s.lo:s.hi]
	axis := s.least.longest()
	for i := range records {
		keys[i] = uint64(ordered(records[i].lo[axis]-records[i].neg[axis]))<<32 | uint64(i)
		copies[i] = records[i]
	}
	slices.Sort(keys[:len(records)])
	for i := range records {
		records[i] = copies[keys[i]%bundle]
	}
	leaves := (len(records) + width - 1) / width
	return b.halves(s, (leaves+1)/2*width)
}

// ordered returns a number that grows with f.
func ordered(f float32) uint32 {
	bits := math.Float32bits(f)
	if bits>>31 != 0 {
		return ^bits
	}
	return bits | 1<<31
}

// cheapest returns the axis and the doubled middle at which the surface area
// heuristic would split, of as many places as there are bins on each axis.
func (b *builder) cheapest(s span) (axis int, at float32) {
	best := float32(math.Inf(1))
	axis, at = s.least.longest(), s.least.middle(s.least.longest())
	for k := range 3 {
		from, width := 2*s.least[k], 2*s.least.side(k)
		if !(width > 0) {
			continue
		}
		cost, bin := b.binned(s, k, from, bins/width)
		if cost < best {
			best, axis, at = cost, k, from+float32(float32(bin)*(width/bins))
		}
	}
	return axis, at
}

// binned returns the least cost of a split on an axis and the first bin to the right of it.
func (b *builder) binned(s span, axis int, from, scale float32) (cost float32, bin int) {
	var boxes [bins]entries
	var count [bins]int
	for k := range boxes {
		boxes[k] = greatest
	}
	records := b.records[s.lo:s.hi]
	for i := range records {
		r := &records[i]
		k := min(max(int((r.lo[axis]-r.neg[axis]-from)*scale), 0), bins-1)
		count[k]++
		o := &boxes[k]
		o[0], o[1], o[2] = min(o[0], r.lo[0]), min(o[1], r.lo[1]), min(o[2], r.lo[2])
		o[4], o[5], o[6] = min(o[4], r.neg[0]), min(o[5], r.neg[1]), min(o[6], r.neg[2])
	}
	var right [bins]float32
	sum, n := greatest, 0
	for k := bins - 1; k > 0; k-- {
		sum.join(&boxes[k])
		if n += count[k]; n > 0 {
			right[k] = sum.halfArea() * float32(n)
		}
	}
	sum, n = greatest, 0
	cost, bin = float32(math.Inf(1)), bins/2
	for k := 1; k < bins; k++ {
		sum.join(&boxes[k-1])
		if n += count[k-1]; n == 0 || n == len(records) {
			continue
		}
		if c := float32(sum.halfArea()*float32(n)) + right[k]; c < cost {
			cost, bin = c, k
		}
	}
	return cost, bin
}
