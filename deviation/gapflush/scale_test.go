package gapflush

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A scan that is 0.2 % too large makes a gap of 4 mm 0.008 mm wider, by definition, and may shift one panel against the other
// by as much for each millimetre between them, however small the flush is.
func TestTheScansScaleCountsInGapAndFlush(t *testing.T) {
	j := &job{set: Settings{ScalePPM: 2000}}
	require.InDelta(t, 0.008, j.further(-4, -4)[0].U, 1e-12)
	lines := [2]outline{{shoulder: Point2{-3, 0}}, {shoulder: Point2{3, 8}}}
	require.InDelta(t, 0.02, j.further(0, across(&lines))[0].U, 1e-12)
}
