package bodywork

import "shutline/mesh/geom"

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

// Source is a seeded stream of numbers for other makers of test data, the same on every processor.
type Source struct{ s source }

// Keyed returns the stream of one thing, independent of every other key.
func Keyed(seed uint64, key ...uint64) Source { return Source{keyed(seed, key...)} }

// Next returns 64 random bits.
func (s *Source) Next() uint64 { return s.s.next() }

// Uniform returns a number in [-1, 1).
func (s *Source) Uniform() float64 { return s.s.uniform() }

// Normal returns a number of mean 0 and standard deviation 1, never beyond 6.
func (s *Source) Normal() float64 { return s.s.normal() }

// Pose returns any turn, and a shift of up to half a metre along each axis.
func Pose(seed uint64) geom.Rigid { return pose(seed) }
