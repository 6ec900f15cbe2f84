package mesh

// Sets is a union-find of numbers: what was joined, directly or by others, has the same root, which is
// the smallest of its set (Tarjan 1975; path halving).
type Sets []uint32

// NewSets returns the sets of the numbers below n, each alone.
func NewSets(n int) Sets {
	s := make(Sets, n)
	for i := range s {
		s[i] = uint32(i)
	}
	return s
}

// Root returns the smallest number of i's set.
func (s Sets) Root(i uint32) uint32 {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

// Join makes the sets of a and b one.
func (s Sets) Join(a, b uint32) {
	a, b = s.Root(a), s.Root(b)
	if a < b {
		s[b] = a
	} else {
		s[a] = b
	}
}
