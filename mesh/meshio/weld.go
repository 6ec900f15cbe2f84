package meshio

import (
	"math/bits"
	"math/rand/v2"

	"shutline/mesh/geom"
	"shutline/mesh/pages"
)

// key is a corner's coordinates as bits, with -0 made +0.
type key interface{ [3]uint32 | [3]uint64 }

// welder numbers different keys from 0 in order of first appearance. The table
// is open-addressed with linear steps and four-byte slots that hold a key's number plus 1.
type welder[K key] struct {
	slots []uint32
	keys  []K
	shift uint // the slot is the top bits of the hash
	hash  func(K) uint64
}

// newWelder expects about that many different keys; more only cost time.
func newWelder[K key](expected int, hash func(K) uint64) *welder[K] {
	w := &welder[K]{hash: hash, keys: make([]K, 0, expected+expected/16+16)}
	w.resize(bits.Len(uint(max(expected, 8)) * 2))
	return w
}

// resize makes the table 1<<log slots and enters all keys again.
func (w *welder[K]) resize(log int) {
	w.slots = make([]uint32, 1<<log)
	pages.Huge(w.slots)
	w.shift = uint(64 - log)
	mask := uint64(len(w.slots) - 1)
	for n, k := range w.keys {
		i := w.hash(k) >> w.shift
		for w.slots[i] != 0 {
			i = (i + 1) & mask
		}
		w.slots[i] = uint32(n + 1)
	}
}

// add returns the number of k, whose hash is h.
func (w *welder[K]) add(k K, h uint64) uint32 {
	i := h >> w.shift
	mask := uint64(len(w.slots) - 1)
	for {
		n := w.slots[i&mask]
		if n == 0 {
			break
		}
		if w.keys[n-1] == k {
			return n - 1
		}
		i++
	}
	w.slots[i&mask] = uint32(len(w.keys) + 1)
	w.keys = append(w.keys, k)
	if len(w.keys) > len(w.slots)/2 {
		w.resize(bits.Len(uint(len(w.slots))))
	}
	return uint32(len(w.keys) - 1)
}

// number returns the number of k, if it has one.
func (w *welder[K]) number(k K) (uint32, bool) {
	mask := uint64(len(w.slots) - 1)
	for i := w.hash(k) >> w.shift; ; i++ {
		n := w.slots[i&mask]
		if n == 0 {
			return 0, false
		}
		if w.keys[n-1] == k {
			return n - 1, true
		}
	}
}

// The multipliers are odd with well-spread bits: 2^64 over the golden ratio, and a prime of its size.
const (
	mixA = 0x9E3779B97F4A7C15
	mixB = 0xC2B2AE3D27D4EB4F
)

// seeds are drawn anew in every process, so that no file can be made whose corners all fall on
// one slot. Numbers are given in order of appearance, whatever the slots.
var seeds = [2]uint64{rand.Uint64(), rand.Uint64()}

func hash64(k [3]uint64) uint64 {
	h := (k[0] ^ seeds[0]) * mixA
	h = (h ^ h>>32 ^ k[1]) * mixB
	h = (h ^ h>>29 ^ k[2]) * mixA
	return (h ^ h>>32) * mixB
}

// noArea reports whether triangle a, b, c has no area: a cross product of exactly zero.
func noArea(a, b, c geom.Vec) bool { return b.Sub(a).Cross(c.Sub(a)) == geom.Vec{} }
