package shade

import (
	"context"
	"sync"

	"shutline/mesh/parallel"
)

// shares hands chunks of work to workers. Each begins with a run of its own and then takes from the end of the
// longest run left: workers keep to their part of the picture as long as they can, so that
// little of it has to be merged.
type shares struct {
	sync.Mutex
	runs [][2]int // from, to
}

// each calls do for every chunk of size of n things.
func each(n, size, threads int, do func(worker, lo, hi int)) {
	chunks := (n + size - 1) / size
	threads = min(threads, chunks)
	s := shares{runs: make([][2]int, threads)}
	for i := range s.runs {
		s.runs[i] = [2]int{chunks * i / threads, chunks * (i + 1) / threads}
	}
	parallel.Chunks(context.Background(), threads, 1, threads, nil, func(_, worker, _, _ int) {
		for {
			c, ok := s.take(worker)
			if !ok {
				return
			}
			do(worker, c*size, min(n, (c+1)*size))
		}
	})
}

func (s *shares) take(worker int) (chunk int, ok bool) {
	s.Lock()
	defer s.Unlock()
	if r := &s.runs[worker]; r[0] < r[1] {
		r[0]++
		return r[0] - 1, true
	}
	most := &s.runs[0]
	for i := range s.runs {
		if r := &s.runs[i]; r[1]-r[0] > most[1]-most[0] {
			most = r
		}
	}
	if most[0] >= most[1] {
		return 0, false
	}
	most[1]--
	return most[1], true
}
