package meshio

// scratch is working memory outside the Go heap where the system allows it:
// given back at once when the work is done, and in huge pages, which make the
// scattered looks of a hash table several times cheaper. It starts as zeros.
// T must hold no pointers.
type scratch[T any] struct {
	data   []T
	mapped []byte // what data lies in when it is not on the Go heap
}

// release gives the memory back; data must not be used afterwards.
func (s *scratch[T]) release() {
	unmap(s.mapped)
	s.data, s.mapped = nil, nil
}
