package bodywork

import "math"

// The standard library's sine differs in its last bit between processors
// (assembly here, fused products there); these do not.

// sincos returns the sine and cosine of x, |x| up to a few turns, to about 1e-15.
func sincos(x float64) (s, c float64) {
	quarter := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	// pi/2 in two parts (Cody & Waite 1980): the first has trailing zeros, so quarter*hi is exact.
	const hi, lo = 1.57079632673412561417e+00, 6.07710050650619224932e-11
	r := x - float64(quarter*hi)
	r -= float64(quarter * lo)
	r2 := float64(r * r)
	// Taylor series; the first term left out is below 1e-17 for |r| <= pi/4.
	s, c = 1, 1
	for k := 17.0; k >= 3; k -= 2 {
		s = 1 - float64(s*r2)/(k*(k-1))
	}
	for k := 18.0; k >= 2; k -= 2 {
		c = 1 - float64(c*r2)/(k*(k-1))
	}
	s = float64(s * r)
	switch int64(quarter) & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// source is a seeded stream of numbers (SplitMix64, Steele, Lea & Flood 2014).
type source uint64

// keyed returns the stream of one thing, independent of every other key.
func keyed(seed uint64, key ...uint64) source {
	s := source(seed)
	for _, k := range key {
		s = source(s.next() ^ k)
	}
	return s
}

func (s *source) next() uint64 {
	*s += 0x9e3779b97f4a7c15
	z := uint64(*s)
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}

// uniform returns a number in [-1, 1).
func (s *source) uniform() float64 { return float64(int64(s.next())>>11) / (1 << 52) }

// normal returns a number of mean 0 and standard deviation 1: the sum of
// twelve 16-bit uniform ones (Irwin-Hall), whose tails end at 6.
func (s *source) normal() float64 {
	sum := int64(0)
	for range 3 {
		b := s.next()
		sum += int64(b&0xffff) + int64(b>>16&0xffff) + int64(b>>32&0xffff) + int64(b>>48)
	}
	// 12 values uniform on 0..65535 have the mean 12*32767.5 and the variance 65536²-1.
	return float64(sum-12*65535/2) / 65535.99999237061
}
