package meshio

import (
	"math"

	"shutline/mesh/geom"
)

// fromLinear turns a linear share of light into the sRGB value that other formats hold (IEC 61966-2-1).
func fromLinear(x float64) float64 {
	if x <= 0.0031308 {
		return 12.92 * x
	}
	return float64(1.055*geom.Pow(x, 1/2.4)) - 0.055
}

// byteOf turns a share into 0 to 255; what is no number is 0.
func byteOf(share float64) uint8 {
	if !(share > 0) {
		return 0
	}
	return uint8(math.Round(255 * min(share, 1)))
}

// bytesOf turns the colours of an OBJ file into 0 to 255. They are shares of 1 by
// common practice; some programs write 0 to 255, which shows in any value over 1.
func bytesOf(colours [][3]float32) [][3]uint8 {
	full := float32(1)
	for _, c := range colours {
		if c[0] > 1 || c[1] > 1 || c[2] > 1 {
			full = math.MaxUint8
		}
	}
	out := make([][3]uint8, len(colours))
	for i, c := range colours {
		for k, x := range c {
			out[i][k] = byteOf(float64(x / full))
		}
	}
	return out
}
