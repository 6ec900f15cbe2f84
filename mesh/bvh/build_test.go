package bvh

import (
	"math/rand/v2"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
)

// bytesOf lets leaves be compared whose normals are not numbers.
func bytesOf[T any](s []T) []byte {
	var one T
	return unsafe.Slice((*byte)(unsafe.Pointer(&s[0])), len(s)*int(unsafe.Sizeof(one)))
}

// More triangles than one goroutine builds, so that the threads share the work.
func TestTheSameTreeForAnyThreads(t *testing.T) {
	m := soup(rand.New(rand.NewPCG(1, 9)), 60000, 100)
	want := build(t, m, 1)
	for _, threads := range []int{2, 7} {
		got := build(t, m, threads)
		require.True(t, string(bytesOf(want.nodes)) == string(bytesOf(got.nodes)), "nodes differ with %d threads", threads)
		require.True(t, string(bytesOf(want.leaves)) == string(bytesOf(got.leaves)), "leaves differ with %d threads", threads)
		require.True(t, string(bytesOf(want.above)) == string(bytesOf(got.above)), "links differ with %d threads", threads)
	}
}
