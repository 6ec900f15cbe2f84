package gapflush

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// On a drawing every station tells its own radius; on a scan one that shows twice that of its neighbours is noise.
func TestRadiiOfAScannedReference(t *testing.T) {
	j := &job{ref: make([]raw, 12)}
	for i := range j.ref {
		for k := A; k <= B; k++ {
			e := &j.ref[i].side[k].edge
			e.found, e.r, e.seen = true, 1.5, wholeFrom
		}
	}
	j.ref[4].side[A].edge.r = 2.8
	j.ref[7].side[B].edge.found = false
	drawn := j.referenceRadii()
	require.Equal(t, 2.8, drawn[A][4])
	require.Zero(t, drawn[B][7])
	j.set.Scanned = true
	scanned := j.referenceRadii()
	for i := range scanned[A] {
		require.Equal(t, 1.5, scanned[A][i])
	}
	require.Zero(t, scanned[B][7], "what is not shown is left to the seam's own")
}
