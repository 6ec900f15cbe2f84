package pages

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Working memory starts as zeros, holds what was asked for at least, and may be given back twice.
func TestScratch(t *testing.T) {
	for _, n := range []int{0, 1, 1000, 3 << 20} {
		s := NewScratch[uint32](n, 2*n)
		require.GreaterOrEqual(t, len(s.Data), n)
		for i, v := range s.Data[:n] {
			if v != 0 {
				t.Fatalf("value %d of %d is not zero", i, n)
			}
			s.Data[i] = uint32(i)
		}
		if n > 0 {
			require.EqualValues(t, n-1, s.Data[n-1])
		}
		s.Release()
		require.Nil(t, s.Data)
		s.Release()
	}
}

// Advice changes nothing of what a slice holds, of whatever size and wherever it begins.
func TestHugeLeavesContentsAlone(t *testing.T) {
	whole := make([]byte, 9<<20)
	for i := range whole {
		whole[i] = byte(i * 7)
	}
	for _, cut := range [][2]int{{0, 0}, {0, 1}, {5, 4 << 20}, {1, len(whole)}, {0, len(whole)}} {
		Huge(whole[cut[0]:cut[1]])
	}
	Huge[uint64](nil)
	for i := range whole {
		if whole[i] != byte(i*7) {
			t.Fatalf("byte %d changed", i)
		}
	}
}

// A slice that is made is of the length asked for, of zeros, whatever its size.
func TestMake(t *testing.T) {
	for _, n := range []int{0, 1, 1000, 3 << 20} {
		s := Make[[3]int32](n)
		require.Len(t, s, n)
		for i := range s {
			if s[i] != ([3]int32{}) {
				t.Fatalf("value %d of %d is not zero", i, n)
			}
		}
	}
}
