package shade

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A colour under a light is the whole quotient of the division, channel by channel, whatever the two are.
func TestLitIsTheQuotient(t *testing.T) {
	for light := range uint32(lightMask + 1) {
		for c := range uint32(256) {
			other := 255 - c
			under := func(c uint32) uint32 { return min(c*light/lightUnit, 255) }
			want := under(c) | under(other)<<8 | under(c)<<16 | opaque
			if got := lit(c|other<<8|c<<16, uint64(light)); got != want {
				require.Equal(t, want, got, "colour %d, light %d", c, light)
			}
		}
	}
}
