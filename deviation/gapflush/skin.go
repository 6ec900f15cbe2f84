package gapflush

import (
	"math"
	"slices"
)

// line is a skin near its edge in one slab: h = h0 + m y + g x.
type line struct{ h0, m, g float64 }

func (l line) at(x, y float64) float64 { return l.h0 + float64(l.m*y) + float64(l.g*x) }

const (
	seedFar, seedNear = 20.0, 3.0 // mm on a side of P, where its skin is looked for
	seedHeight        = 10.0      // mm above or below P
	// leanHeight is the same for skins that the frame leans against, as it does beside wide rolls at different heights: under P
	// such a skin carried on lies within seedHeight all the same.
	leanHeight  = 22.0
	minSeeds    = 8
	layerHeight = 0.8  // mm, points of one skin, its slope taken out
	layerShare  = 0.3  // of the seeds, the least a skin holds
	lineReach   = 0.4  // mm off the line and still on the skin
	facing      = 0.5  // cosine of 60°, the normals of an outer skin
	onSkin      = 0.87 // cosine of 30°: a roll has left the skin here
	gapReach    = 14.0 // mm from P, the farthest a skin's end is its edge
)

// findSkin finds the uppermost skin on a side in the slab |x| <= half.
func (t *tracing) findSkin(pts []pt, half float64) (l line, ok bool) {
	if l, ok = t.skinWithin(pts, half, seedHeight); !ok {
		l, ok = t.skinWithin(pts, half, leanHeight)
		ok = ok && math.Abs(l.h0) <= seedHeight
	}
	return l, ok
}

// skinWithin is findSkin by the points up to so many mm above or below P.
func (t *tracing) skinWithin(pts []pt, half, height float64) (l line, ok bool) {
	seeds, slopes := t.near[:0], t.vs[:0]
	for i := range pts {
		p := &pts[i]
		if math.Abs(p.x) <= half && p.y >= -seedFar && p.y <= -seedNear && p.nh > facing && math.Abs(p.h) <= height {
			seeds = append(seeds, *p)
			slopes = append(slopes, -p.ny/p.nh)
		}
	}
	t.near, t.vs = seeds, slopes
	if len(seeds) < minSeeds {
		return l, false
	}
	l.m = median(slopes)
	sorted := t.ws[:0]
	for i := range seeds {
		sorted = append(sorted, seeds[i].h-float64(l.m*seeds[i].y))
	}
	t.ws = sorted
	slices.Sort(sorted)
	need := max(int(layerShare*float64(len(sorted))), minSeeds/2)
	// The highest window of one layer's height that holds enough points.
	top := len(sorted) - 1
	for ; top >= need-1; top-- {
		if sorted[top]-sorted[top-need+1] <= layerHeight {
			break
		}
	}
	if top < need-1 {
		return l, false
	}
	l.h0 = sorted[top-need/2]
	return fitLine(seeds, l, -seedFar, -seedNear, half)
}

// fitLine improves l on the points with y from lo to hi, |x - mid| within the
// slab being the caller's choice of points.
func fitLine(pts []pt, l line, lo, hi, half float64) (line, bool) {
	for _, cut := range []float64{0.8, lineReach, lineReach} {
		q := normalEq{n: 3}
		n := 0
		for i := range pts {
			p := &pts[i]
			if p.y < lo || p.y > hi || p.nh < facing {
				continue
			}
			e := p.h - l.at(p.x, p.y)
			if w := tukey(e, cut/4.685); w > 0 {
				q.add(&row{1, p.y / 10, p.x / 10}, p.h, w)
				n++
			}
		}
		if n < minSeeds/2 {
			return l, false
		}
		inv, ok := q.inverse()
		if !ok {
			return l, false
		}
		b := q.apply(&inv)
		l = line{b[0], b[1] / 10, b[2] / 10}
	}
	return l, true
}

// skinEnd returns where the skin ends toward the gap: the start of that void
// among its points which lies nearest to P. voidWidth is the length without
// points that counts as a void. continuous: the skin runs on past the path. A skin
// beyond the gap that lies a little higher or lower has only some of its points near
// the line: where such end is no end of this one, if there is another.
//
// other is where the other side's skin ends, as far as that is known, else infinite: the
// line of a skin that leans may run into the other panel, whose points then lie on it. Then
// the void that ends there is this skin's; ok is false without one.
func (t *tracing) skinEnd(pts []pt, l line, half, voidWidth, other float64) (end float64, continuous, ok bool) {
	const (
		stretch = 3.0 // mm before an end
		beside  = 2.5 // mm, to which the other panel's first points, of its roll, lie at its end
	)
	ys, aside := t.vs[:0], t.ws[:0]
	q := math.Sqrt(1 + float64(l.m*l.m))
	for i := range pts {
		p := &pts[i]
		if math.Abs(p.x) > half || (p.nh-float64(l.m*p.ny))/q <= onSkin {
			continue
		}
		switch e := math.Abs(p.h - l.at(p.x, p.y)); {
		case e <= lineReach:
			ys = append(ys, p.y)
		case e <= 4*lineReach:
			aside = append(aside, p.y)
		}
	}
	t.vs, t.ws = ys, aside
	if len(ys) == 0 {
		return 0, false, false
	}
	slices.Sort(ys)
	slices.Sort(aside)
	within := func(v []float64, lo, hi float64) int {
		from, _ := slices.BinarySearch(v, lo)
		to, _ := slices.BinarySearch(v, hi)
		return to - from
	}
	// Half as many as the skin has on average where it was looked for.
	least := float64(within(ys, -seedFar, -seedNear)) * stretch / (seedFar - seedNear) / 2
	if t.laid {
		least /= 3
	}
	best := math.Inf(1)
	alone := false // the end found is one of a skin that has its points on the line
	for i, y := range ys {
		next := math.Inf(1)
		if i+1 < len(ys) {
			next = ys[i+1]
		}
		if next-y < voidWidth || !math.IsInf(other, 1) && math.Abs(next-other) > beside {
			continue
		}
		on := within(ys, y-stretch, y+1e-9)
		one := 2*within(aside, y-stretch, y+1e-9) <= on && float64(on) >= least
		if alone && !one {
			continue
		}
		// 0 when the void holds P
		if d := max(y, -next, 0); d < best || one && !alone {
			best, end, alone = d, y, one
		}
	}
	return end, best > gapReach-2, end > -gapReach
}
