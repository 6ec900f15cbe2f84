// Package pages asks the system for memory that suits large arrays which are
// visited far and wide: in huge pages, and outside the Go heap where it is only
// needed for a while.
package pages

// Scratch is working memory outside the Go heap where the system allows it:
// given back at once when the work is done, and in huge pages, which make the
// scattered looks of a hash table several times cheaper. It starts as zeros.
// T must hold no pointers.
type Scratch[T any] struct {
	Data   []T
	mapped []byte // what Data lies in when it is not on the Go heap
	held   int64  // bytes of it that count as taken, outside the Go heap
}

// Release gives the memory back; Data must not be used afterwards.
func (s *Scratch[T]) Release() {
	unmap(s.mapped)
	hold(-s.held)
	s.Data, s.mapped, s.held = nil, nil, 0
}

// Make returns a slice on the Go heap that is about to be filled, in huge pages where it is large.
func Make[T any](n int) []T {
	s := make([]T, n)
	Huge(s)
	return s
}
