// Package parallel runs loops over several goroutines so that results do not
// depend on how many there are: the work is cut into chunks of a fixed size,
// and whoever sums over chunks adds their partial sums in the chunks' order.
package parallel

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Threads returns n, or the number of usable processors when n is not positive.
func Threads(n int) int {
	if n > 0 {
		return n
	}
	return runtime.GOMAXPROCS(0)
}

// Chunks calls body(worker, chunk, lo, hi) for every chunk of size items out of
// n, on the given number of threads (0: all processors). worker is 0 to
// threads-1 and serves to pick scratch memory; results must depend on chunk,
// lo and hi only. It stops early, within one chunk, when ctx is done and
// returns its error. A panic in body is raised again in the caller.
func Chunks(ctx context.Context, n, size, threads int, progress func(share float64), body func(worker, chunk, lo, hi int)) error {
	if n <= 0 {
		return ctx.Err()
	}
	chunks := (n + size - 1) / size
	threads = min(Threads(threads), chunks)
	var next, done atomic.Int64
	var failed atomic.Value
	var group sync.WaitGroup
	work := func(worker int) {
		defer func() {
			if r := recover(); r != nil {
				failed.CompareAndSwap(nil, fault{r})
			}
		}()
		for ctx.Err() == nil && failed.Load() == nil {
			c := int(next.Add(1)) - 1
			if c >= chunks {
				return
			}
			body(worker, c, c*size, min(n, (c+1)*size))
			if share := float64(done.Add(1)) / float64(chunks); progress != nil {
				progress(share)
			}
		}
	}
	for w := 1; w < threads; w++ {
		group.Add(1)
		go func() {
			defer group.Done()
			work(w)
		}()
	}
	work(0)
	group.Wait()
	if f, ok := failed.Load().(fault); ok {
		panic(f.value)
	}
	return ctx.Err()
}

// fault wraps what a worker panicked with, since atomic.Value wants one type.
type fault struct{ value any }
