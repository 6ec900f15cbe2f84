package parallel_test

import (
	"context"
	"errors"
	"math"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/parallel"
)

// Every item is met once, in chunks that do not depend on the number of threads, and a sum over
// chunks in their order is the same to the last bit.
func TestChunksCoverEverythingOnce(t *testing.T) {
	for _, n := range []int{0, 1, 99, 100, 101, 12345} {
		var sums []float64
		for _, threads := range []int{1, 2, 7, 0} {
			met := make([]int32, n)
			part := make([]float64, (n+99)/100)
			err := parallel.Chunks(context.Background(), n, 100, threads, nil, func(worker, chunk, lo, hi int) {
				require.Less(t, worker, parallel.Threads(threads))
				require.Equal(t, chunk*100, lo)
				for i := lo; i < hi; i++ {
					atomic.AddInt32(&met[i], 1)
					part[chunk] += 1 / float64(i+3)
				}
			})
			require.NoError(t, err)
			for i, k := range met {
				require.EqualValues(t, 1, k, i)
			}
			sum := 0.0
			for _, p := range part {
				sum += p
			}
			sums = append(sums, sum)
		}
		for _, s := range sums {
			require.Equal(t, math.Float64bits(sums[0]), math.Float64bits(s))
		}
	}
}

// A worker's number belongs to one goroutine at a time, so that scratch memory picked by it is safe.
func TestWorkersDoNotShare(t *testing.T) {
	busy := make([]atomic.Int32, 4)
	err := parallel.Chunks(context.Background(), 1000, 1, 4, nil, func(worker, _, _, _ int) {
		require.EqualValues(t, 1, busy[worker].Add(1))
		busy[worker].Add(-1)
	})
	require.NoError(t, err)
}

func TestProgressGrowsToOne(t *testing.T) {
	var mu sync.Mutex
	most, calls := 0.0, 0
	err := parallel.Chunks(context.Background(), 1000, 10, 3, func(share float64) {
		mu.Lock()
		defer mu.Unlock()
		most, calls = max(most, share), calls+1
	}, func(_, _, _, _ int) {})
	require.NoError(t, err)
	require.Equal(t, 1.0, most)
	require.Equal(t, 100, calls)
}

func TestStopsWhenTheContextEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var done atomic.Int32
	err := parallel.Chunks(ctx, 1000, 1, 2, nil, func(_, _, _, _ int) {
		if done.Add(1) == 10 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	// Each of the two threads ends at most the chunk it is in.
	require.LessOrEqual(t, done.Load(), int32(12))
	require.ErrorIs(t, parallel.Chunks(ctx, 0, 1, 2, nil, func(_, _, _, _ int) {}), context.Canceled)
}

// A panic on another goroutine reaches the caller, who can catch it.
func TestPanicsReachTheCaller(t *testing.T) {
	fault := errors.New("fault")
	require.PanicsWithValue(t, fault, func() {
		_ = parallel.Chunks(context.Background(), 100, 1, 4, nil, func(_, chunk, _, _ int) {
			if chunk == 57 {
				panic(fault)
			}
		})
	})
}
