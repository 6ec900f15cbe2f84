package meshio

import (
	"context"
	"hash"
	"sync"
	"sync/atomic"

	"shutline/mesh"
)

// source is a file's bytes and what every decoder needs beside them.
type source struct {
	ctx      context.Context
	path     string
	size     int
	head     []byte // the first bytes, to tell the format by
	data     []byte // all of them, or nil: they are read block by block then
	file     *file  // where the blocks come from
	hash     hash.Hash
	blocks   meter
	failed   atomic.Bool // the file cannot be used: its digest is not needed
	threads  int
	unhashed bool
	progress mesh.Progress
}

// block returns bytes lo to hi, in buf if they have to be read.
func (s *source) block(buf []byte, lo, hi int) ([]byte, error) {
	if s.data != nil {
		return s.data[lo:hi], nil
	}
	b := buf[:hi-lo]
	return b, s.file.at(b, int64(lo))
}

// forward returns a progress that never goes back, though goroutines report out of turn.
func forward(p mesh.Progress) mesh.Progress {
	if p == nil {
		return nil
	}
	var mu sync.Mutex
	most := 0.0
	return func(share float64) {
		mu.Lock()
		defer mu.Unlock()
		if share >= most {
			most = share
			p(share)
		}
	}
}

// meter turns amounts of work done by several goroutines into a share.
type meter struct {
	mu          sync.Mutex
	progress    mesh.Progress
	done, total int
}

func (m *meter) add(n int) {
	if m.progress == nil {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.done += n
	m.progress(float64(m.done) / float64(m.total))
}
