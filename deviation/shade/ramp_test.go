package shade

import (
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// luminance is the relative luminance of WCAG 2 (published: 0 black, 1 white).
func luminance(c color.RGBA) float64 {
	linear := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// The ramp darkens evenly enough to be read without its hue, starts at the
// grey of what is in tolerance, and never shows a colour of the deviation's scale.
func TestTheRampDarkens(t *testing.T) {
	r := Ramp{Limit: 0.2}
	require.Equal(t, Diverging(0.5), r.Color(0))
	require.Equal(t, r.Color(0.2), r.Color(5))
	require.Equal(t, unknownGrey, r.Color(math.NaN()))
	before := luminance(r.Color(0))
	for k := 1; k <= 20; k++ {
		c := r.Color(0.01 * float64(k))
		now := luminance(c)
		require.Less(t, now, before)
		before = now
		require.Greater(t, c.G, c.R, "green, not red")
		require.Greater(t, c.G, c.B, "green, not blue")
	}
	require.Less(t, before, 0.12)
}
