package lod

import "math/bits"

// table finds groups by their cell: their number and one more, in the first free place from where their cell is looked for.
type table struct {
	at    []uint32 // a power of two
	shift uint
}

const (
	leastTable = 1 << 12 // for some thousand groups
	partBits   = 6
	cellParts  = 1 << partBits // parts of the cells that are merged one by one, with a table that stays in the caches
)

// fit makes the table empty, for so many groups.
func (t *table) fit(groups int) {
	n := max(leastTable, 1<<bits.Len(uint(2*groups)))
	t.shift = uint(64 - bits.Len(uint(n-1)))
	if n > cap(t.at) {
		t.at = make([]uint32, n)
		return
	}
	t.at = t.at[:n]
	clear(t.at)
}

// grow makes a table of the groups that is twice as large.
func (t *table) grow(groups []group) {
	t.fit(len(t.at)/2 + 1)
	for k := range groups {
		slot := t.slot(groups[k].cell)
		for t.at[slot] != 0 {
			slot = t.next(slot)
		}
		t.at[slot] = uint32(k + 1)
	}
}

// slot returns where a cell is looked for first.
func (t *table) slot(cell uint64) int { return int(cell * spread << partBits >> t.shift) }

// partOf returns the part of the cells that a cell is of.
func partOf(cell uint64) int { return int(cell * spread >> (64 - partBits)) }

// next returns where a cell is looked for after a place.
func (t *table) next(slot int) int { return (slot + 1) & (len(t.at) - 1) }

// spread scatters cells over a table: 2^64 over the golden ratio (Knuth, The Art of Computer Programming, 6.4).
const spread = 0x9e3779b97f4a7c15
