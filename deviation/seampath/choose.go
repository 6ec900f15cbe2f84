package seampath

import "math"

// What a path costs. A gap on it is worth up to 1; a bend sideways costs bend
// times its square, so that 4 mm over a step of 8 (a shut line at 27° to the line
// between clicks) costs less than losing the gap, and 8 mm more. far only decides between equals.
const (
	bend = 0.02
	far  = 1e-5
)

// choose picks the gaps that belong to one shut line: the path of least cost
// over all offsets, by dynamic programming (Bellman 1957). It returns each
// place's offset and the skin's level above it, NaN where no gap was found.
func choose(line []place, found [][]dip, width, grid float64) (offset, level []float64) {
	n := len(line)
	half := int(width/grid + 0.5)
	size := 2*half + 1
	reach := max(1, int(8/grid+0.5)) // steps sideways beyond 45° are not looked at
	cost := make([]float64, size)
	next := make([]float64, size)
	came := make([][]int32, n)
	pick := make([][]int8, n) // which dip of found stands on a bin, -1: none
	for i := range n {
		pick[i] = make([]int8, size)
		own := make([]float64, size)
		for k := range own {
			pick[i][k] = -1
			a := grid * float64(k-half)
			own[k] = float64(far * a * a)
			if s := line[i].slack; s > 0 {
				own[k] += float64((a / (2 * s)) * (a / (2 * s)))
			}
		}
		for d, x := range found[i] {
			k := int(math.Round(x.at/grid)) + half
			if k >= 0 && k < size && d < 127 {
				own[k] -= 0.25 + float64(0.75*min(1, x.depth/4))
				pick[i][k] = int8(d)
			}
		}
		came[i] = make([]int32, size)
		for k := range next {
			best, from := math.Inf(1), k
			if i == 0 {
				best = 0
			} else {
				for j := max(0, k-reach); j <= min(size-1, k+reach); j++ {
					d := grid * float64(k-j)
					if c := cost[j] + float64(bend*d*d); c < best {
						best, from = c, j
					}
				}
			}
			next[k], came[i][k] = best+own[k], int32(from)
		}
		cost, next = next, cost
	}
	at := 0
	for k := range cost {
		if cost[k] < cost[at] {
			at = k
		}
	}
	offset, level = make([]float64, n), make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		offset[i], level[i] = math.NaN(), math.NaN()
		if d := pick[i][at]; d >= 0 {
			offset[i], level[i] = found[i][d].at, found[i][d].level
		} else if line[i].slack > 0 || !any(found) {
			offset[i] = grid * float64(at-half) // a click without a gap stays where it is
		}
		at = int(came[i][at])
	}
	bridge(offset)
	return offset, level
}

// any reports whether a gap was seen anywhere.
func any(found [][]dip) bool {
	for _, f := range found {
		if len(f) > 0 {
			return true
		}
	}
	return false
}
