package bvh

import (
	"math"
	"math/bits"

	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// packed holds eight boxes in one cache line, a byte a side, so that plain Go can
// test all eight against another box in a few operations on 64-bit words. A byte
// counts from the corner in steps of 1/per and uses 7 bits; boxes are rounded outward.
type packed struct {
	lo, hi [3]uint64
	from   [3]float32
	per    float32 // steps a mm
}

const (
	steps7 = 127
	ones   = 0x0101010101010101
	highs  = 0x8080808080808080
	// gather moves the high bits of the bytes to the highest byte.
	gather = 0x0002040810204081
	// packedSlack is in steps, far above the roundings of a difference times per:
	// 3 half ulps of up to 127.
	packedSlack = 1e-3
)

// everyLane is the mask of all eight.
const everyLane = 1<<width - 1

// pack packs the boxes of the lanes that are used.
func pack(lo, hi *[3]lanes, used uint32) packed {
	p := packed{per: 1}
	longest := float32(0)
	for k := range 3 {
		least, most := float32(math.Inf(1)), float32(math.Inf(-1))
		for m := used; m != 0; m &= m - 1 {
			i := bits.TrailingZeros32(m) & (width - 1)
			least, most = min(least, lo[k][i]), max(most, hi[k][i])
		}
		p.from[k] = least
		longest = max(longest, most-least)
	}
	if longest > 0 {
		p.per = (steps7 - 1) / longest
	}
	for i := range width {
		for k := range 3 {
			// A lane that is not used lies nowhere.
			from, to := uint64(steps7), uint64(0)
			if used>>i&1 != 0 {
				from, to = p.step(lo[k][i], k, -packedSlack), p.step(hi[k][i], k, packedSlack)
			}
			p.lo[k] |= from << (8 * i)
			p.hi[k] |= to << (8 * i)
		}
	}
	return p
}

// step returns the step in which a coordinate lies, the first or last for what lies outside.
func (p *packed) step(x float32, axis int, slack float32) uint64 {
	t := float32((x-p.from[axis])*p.per) + slack
	if !(t > 0) {
		return 0
	}
	if t > steps7 {
		return steps7
	}
	return uint64(t)
}

// meeting returns the mask of the boxes that may meet a box.
func (p *packed) meeting(lo, hi *[3]float32) uint32 {
	keep := uint64(highs)
	for k := range 3 {
		from, to := float32((lo[k]-p.from[k])*p.per)-packedSlack, float32((hi[k]-p.from[k])*p.per)+packedSlack
		if from > steps7 || to < 0 {
			return 0
		}
		// Both are counted from the side where they may be out of reach, so that what is out of an int32's range is negative.
		low, high := int32(from), int32(steps7-to)
		low &^= low >> 31
		high &^= high >> 31
		keep &= (p.hi[k] | highs) - uint64(uint32(low))*ones
		keep &= (uint64(uint32(steps7-high))*ones | highs) - p.lo[k]
	}
	return uint32(keep & highs * gather >> 56)
}

// packAll packs the boxes of all nodes and leaves, which only plain Go needs.
func (b *builder) packAll(threads int) error {
	t := b.tree
	t.packedNodes, t.packedLeaves = make([]packed, len(t.nodes)), make([]packed, len(t.leaves))
	pages.Huge(t.packedNodes)
	pages.Huge(t.packedLeaves)
	err := parallel.Chunks(b.ctx, len(t.nodes), leafRun, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			n := &t.nodes[i]
			t.packedNodes[i] = pack(&n.lo, &n.hi, n.used)
		}
	})
	if err != nil {
		return err
	}
	return parallel.Chunks(b.ctx, len(t.leaves), leafRun, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			l := &t.leaves[i]
			var least, most [3]lanes
			used := uint32(0)
			for lane := range width {
				if l.face[lane] != noFace {
					used |= 1 << lane
				}
				for k := range 3 {
					least[k][lane] = min(l.a[k][lane], l.b[k][lane], l.c[k][lane])
					most[k][lane] = max(l.a[k][lane], l.b[k][lane], l.c[k][lane])
				}
			}
			t.packedLeaves[i] = pack(&least, &most, used)
		}
	})
}

// packedNode returns the packed boxes of a node's children, nil where the tree has none.
func (t *Tree) packedNode(at uint32) *packed {
	if int(at) < len(t.packedNodes) {
		return &t.packedNodes[at]
	}
	return nil
}

// packedLeaf returns the packed boxes of a leaf's triangles, nil where the tree has none.
func (t *Tree) packedLeaf(at uint32) *packed {
	if int(at) < len(t.packedLeaves) {
		return &t.packedLeaves[at]
	}
	return nil
}
