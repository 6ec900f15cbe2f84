package seamfind

import (
	"context"
	"math"

	"shutline/mesh/geom"
)

// What is taken for a gap in a row of heights.
const (
	seekDepth = 0.7 // mm below the lower rim: where to look closer
	gapDepth  = 1.0 // mm below both skins carried on: hems of 0.5 to 3 mm are past their shoulders there
	gapWidest = 20.0
	// The skin beside a gap: begins behind the rollover of a usual hem and is long
	// enough for a direction; a narrow strip or a lamp's frame shows only its near part.
	skinFrom, skinTo = 2.5, 12.5
	skinNear         = 6.0
	skinShare        = 0.6 // of the stretch that must be seen
	skinRough        = 0.4 // mm, RMS about the line: what lies about in bits is no skin
	// Steeper than 40° a skin is seen better from another direction.
	skinSteep = 0.84
	// Two skins meet at less than 50° and step by less than 6 mm in a shut line.
	mostBend = 1.2
	mostStep = 6.0
)

// sight is a gap seen in one row: the place between the skins.
type sight struct {
	at     geom.Vec
	out    geom.Vec // unit, square to the row within its plane
	across geom.Vec // unit, along the skins
	width  float64  // mm between the places 1 mm deep
}

// lineScan looks for gaps in rows of one picture; it holds the memory for that.
type lineScan struct {
	h           []float64 // NaN: nothing that looks at the viewer
	left, right []float64
	up, down    []float64 // of blocks, see rims
}

// sights returns the gaps of all rows and columns, or some of them once ctx is done.
func (p *picture) sights(ctx context.Context) (list []sight) {
	s := &lineScan{}
	read := func(n int, index func(k int) int) {
		s.h = s.h[:0]
		for k := range n {
			i := index(k)
			v := math.NaN()
			if p.kind[i] == skin {
				v = float64(p.height[i])
			}
			s.h = append(s.h, v)
		}
	}
	add := func(x, y, z float64, dir geom.Vec, slope, width float64) {
		l := math.Sqrt(1 + float64(slope*slope))
		list = append(list, sight{
			at:     p.point(x, y, z),
			out:    p.out.AddScaled(-slope, dir).Scale(1 / l),
			across: dir.AddScaled(slope, p.out).Scale(1 / l),
			width:  width * l,
		})
	}
	for y := range p.h {
		if y%rowsEvery == 0 && ctx.Err() != nil {
			return nil
		}
		read(p.w, func(k int) int { return y*p.w + k })
		s.scan(p.size, func(at, z, slope, width float64) { add(at, float64(y), z, p.right, slope, width) })
	}
	for x := range p.w {
		if x%rowsEvery == 0 && ctx.Err() != nil {
			return nil
		}
		read(p.h, func(k int) int { return k*p.w + x })
		s.scan(p.size, func(at, z, slope, width float64) { add(float64(x), at, z, p.up, slope, width) })
	}
	return list
}

const deepest = -1e9 // mm, stands for nothing

// rims sets left and right to the highest of the n heights before and after each
// place. Based on: van Herk, "A fast algorithm for local minimum and maximum filters on
// rectangular and octagonal kernels" (1992): running highest of blocks of n from either end.
func (s *lineScan) rims(n int) {
	size := len(s.h)
	// n places of nothing on either side spare every question about the ends.
	total := (size+2*n)/n*n + n
	s.up, s.down = grown(s.up, total), grown(s.down, total)
	s.left, s.right = grown(s.left, size), grown(s.right, size)
	for i := range s.up {
		s.up[i] = deepest
	}
	for k, h := range s.h {
		if h == h {
			s.up[k+n] = h
		}
	}
	copy(s.down, s.up)
	for from := 0; from < total; from += n {
		up, down := s.up[from:from+n], s.down[from:from+n]
		for i := 1; i < n; i++ {
			up[i] = max(up[i], up[i-1])
			down[n-1-i] = max(down[n-1-i], down[n-i])
		}
	}
	for k := range size {
		s.left[k] = max(s.down[k], s.up[k+n-1])
		s.right[k] = max(s.down[k+n+1], s.up[k+2*n])
	}
}

// grown returns v with the length n; what it holds is left from before.
func grown(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	return v[:n]
}

// scan calls found for every gap of the row at hand: its middle in pixels, the
// skins' mean height and slope there, and its width in mm.
func (s *lineScan) scan(size float64, found func(at, z, slope, width float64)) {
	any := false
	for _, h := range s.h {
		if h == h {
			any = true
			break
		}
	}
	if !any {
		return
	}
	s.rims(max(1, int(gapWidest/size)))
	low := func(k int) bool {
		rim := min(s.left[k], s.right[k])
		return rim > deepest && !(rim-s.h[k] <= seekDepth)
	}
	for k := 0; k < len(s.h); k++ {
		if !low(k) {
			continue
		}
		first := k
		for k < len(s.h) && low(k) {
			k++
		}
		s.judge(first, k-1, size, found)
	}
}

// straight is a line through heights: z + slope (mm from the run's end, along the row).
type straight struct{ z, slope float64 }

func (l straight) at(d float64) float64 { return float64(l.z) + float64(l.slope*d) }

// judge looks closer at a run of low places.
func (s *lineScan) judge(first, last int, size float64, found func(at, z, slope, width float64)) {
	left, okL := s.skinBeside(first, -1, size)
	right, okR := s.skinBeside(last, +1, size)
	if !okL || !okR || math.Abs(left.slope) > skinSteep || math.Abs(right.slope) > skinSteep || math.Abs(left.slope-right.slope) > mostBend {
		return
	}
	// In mm from the first place of the run; the right skin's own zero is its last.
	long := size * float64(last-first)
	right.z -= float64(right.slope * long)
	depth := func(k int) float64 {
		d := size * float64(k-first)
		if h := s.h[k]; h == h {
			return min(left.at(d), right.at(d)) - h
		}
		return -deepest
	}
	deep := 0
	for k := first; k <= last; k++ {
		if depth(k) > gapDepth {
			deep++
		}
	}
	if deep == 0 || 2*deep < last-first+1 {
		return
	}
	from := s.cross(first, +1, last, size, left, first)
	to := s.cross(last, -1, first, size, right, first)
	width := float64((to - from) * size)
	mid := float64((from + to) / 2)
	d := float64((mid - float64(first)) * size)
	a, b := left.at(d), right.at(d)
	if !(width > 0) || width > gapWidest || math.Abs(a-b) > mostStep {
		return
	}
	found(mid, (a+b)/2, (left.slope+right.slope)/2, width)
}

// cross returns the place in pixels at which a row first lies gapDepth below its own side's skin.
func (s *lineScan) cross(k, step, last int, size float64, own straight, zero int) float64 {
	below := func(k int) float64 {
		if h := s.h[k]; h == h {
			return own.at(size*float64(k-zero)) - h
		}
		return -deepest
	}
	for k != last && below(k) <= gapDepth {
		k += step
	}
	before := k - step
	if before < 0 || before >= len(s.h) {
		return float64(k)
	}
	a, b := below(before), below(k)
	if b >= 10 || a >= gapDepth { // an edge beside nothing lies half way
		return float64(k) - float64(0.5*float64(step))
	}
	return float64(before) + float64(float64(step)*((gapDepth-a)/(b-a)))
}

// skinBeside fits the skin beside a run's end, robustly.
func (s *lineScan) skinBeside(end, step int, size float64) (straight, bool) {
	if l, ok := s.fit(end, step, size, skinTo); ok {
		return l, true
	}
	return s.fit(end, step, size, skinNear)
}

func (s *lineScan) fit(end, step int, size, to float64) (straight, bool) {
	lo, hi := int(math.Ceil(skinFrom/size)), int(to/size)
	var line straight
	within := math.Inf(1)
	for range 3 {
		var n, sx, sz, sxx, sxz, szz float64
		for j := lo; j <= hi; j++ {
			k := end + step*j
			if k < 0 || k >= len(s.h) || s.h[k] != s.h[k] {
				continue
			}
			d, h := float64(size*float64(step*j)), s.h[k]
			if math.Abs(h-line.at(d)) > within {
				continue
			}
			h -= line.z
			n++
			sx += d
			sz += h
			sxx += float64(d * d)
			sxz += float64(d * h)
			szz += float64(h * h)
		}
		if n < 4 || n < skinShare*float64(hi-lo+1) {
			return line, false
		}
		det := float64(n*sxx) - float64(sx*sx)
		z0 := line.z
		line.slope = (float64(n*sxz) - float64(sx*sz)) / det
		off := (sz - float64(line.slope*sx)) / n
		line.z = z0 + off
		left := szz - float64(off*sz) - float64(line.slope*sxz)
		rms := math.Sqrt(max(0, left) / n)
		if within < math.Inf(1) && rms > skinRough {
			return line, false
		}
		within = max(0.3, 2*rms)
	}
	return line, true
}
