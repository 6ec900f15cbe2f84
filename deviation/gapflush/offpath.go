package gapflush

import (
	"fmt"
	"math"
	"strings"

	"shutline/mesh/geom"
)

const (
	// aside is how far from P, in mm, a gap's edge may begin and still be the path's:
	// half a wide gap and a carelessly drawn line.
	aside = 8.0
	// farAside is the same for the middle of a gap that was found: none farther off is
	// taken for the path's own.
	farAside = 12.0

	coverStep   = 0.5 // mm, a cell of a cut
	coverReach  = 16.0
	acrossCells = int(2 * coverReach / coverStep)
	coverHole   = 2   // cells; a missing triangle is no gap
	coverJump   = 0.6 // mm from cell to cell; a skin leaning 30° rises half of that
	coverDepth  = 10.0
	coverCuts   = 9 // 4 mm apart, out to the ±16 mm of a station's points
	coverApart  = 4.0
)

// cover is the outer surface along one cut across the seam, by its faces: how high
// it lies in each cell, or not at all where no face looks outward.
type cover [acrossCells]float64

// cell returns the cell that holds s.
func (c *cover) cell(s float64) int { return int(math.Floor((s + coverReach) / coverStep)) }

// reach returns how far the surface runs on from cell i toward dir, as the last
// cell that belongs to it. It may have holes of a missing triangle.
func (c *cover) reach(i, dir int) int {
	last := i
	for j := i + dir; j >= 0 && j < acrossCells && (j-last)*dir <= coverHole+1; j += dir {
		if h := c[j]; h > -math.MaxFloat64 && math.Abs(h-c[last]) <= coverJump*float64((j-last)*dir) {
			last = j
		}
	}
	return last
}

// near returns the covered cell nearest to s; ok is false without any.
func (c *cover) near(s float64) (cell int, ok bool) {
	at := c.cell(s)
	for d := range acrossCells {
		for _, i := range [2]int{at - d, at + d} {
			if i >= 0 && i < acrossCells && c[i] > -math.MaxFloat64 {
				return i, true
			}
		}
	}
	return 0, false
}

// covers cuts the patch's faces square to the seam and keeps the uppermost.
func (c *cutter) covers(r *frame, w *worker) *[coverCuts]cover {
	const far = coverApart * (coverCuts - 1) / 2
	cs := &w.covers
	for k := range cs {
		for i := range cs[k] {
			cs[k][i] = math.Inf(-1)
		}
	}
	more := c.patch.far
	w.runs = append(collectIn(c.patch.faces, r, far+more, coverReach+more, coverDepth+more, w.runs[:0]), c.patch.large)
	for t := range c.patch.each(w.runs) {
		if t.n.Dot(r.u) < onSkin*t.long {
			continue
		}
		var v [3][3]float64
		lo, hi := math.Inf(1), math.Inf(-1)
		for k, i := range t.corner {
			v[k][0], v[k][1], v[k][2] = r.local(c.patch.v[i])
			lo, hi = min(lo, v[k][0]), max(hi, v[k][0])
		}
		first := max(int(math.Ceil((lo+far)/coverApart)), 0)
		for k := first; k < coverCuts; k++ {
			x := float64(coverApart*float64(k)) - far
			if x > hi {
				break
			}
			if p, q, ok := cutTriangle(&v, x); ok {
				cs[k].add(p, q)
			}
		}
	}
	return cs
}

// add covers the cells from p to q. A cell counts when its middle is covered, and
// that of either end, so that short pieces leave no holes.
func (c *cover) add(p, q Point2) {
	if p.S > q.S {
		p, q = q, p
	}
	from, to := max(c.cell(p.S), 0), min(c.cell(q.S), acrossCells-1)
	for i := from; i <= to; i++ {
		h := p.H
		if q.S > p.S {
			mid := min(max(float64((float64(i)+0.5)*coverStep)-coverReach, p.S), q.S)
			h += (q.H - p.H) * (mid - p.S) / (q.S - p.S)
		}
		if math.Abs(h) <= coverDepth {
			c[i] = max(c[i], h)
		}
	}
}

// place says whether the station holds a seam. Where the surface runs on under P
// there is none, whatever was found aside; nor where the gap that was found lies
// far aside, or one surface joins what was taken for two panels. What one look
// cannot pay for waits for the last.
func (c *cutter) place(o *raw, w *worker, last bool) {
	switch {
	case !o.outU:
	case (o.state == Measured || o.state == NoseUnseen) && math.Abs(o.middle()) > farAside:
		o.leave("The gap lies more than 12 mm aside of the path.")
	case o.state == NoseUnseen && o.crossed():
		o.leave(joinedWhy)
	case o.state == Measured || !last:
	case o.state == NoseUnseen:
		o.joined = joined(c.covers(&o.frame, w), o.side[A].edge.s, -o.side[B].edge.s)
		if o.joined && c.reference {
			o.leave(joinedWhy)
		}
	default:
		cs := c.covers(&o.frame, w)
		switch o.plain = plain(cs); {
		case o.plain && (o.state != Bridged || o.traced && !(o.side[A].edge.found || o.side[B].edge.found)):
			o.leave("The surface runs on without a seam under the path.")
		default:
			o.ended = ended(cs)
			o.besideGap = gapBeside(cs)
		}
	}
}

// leave says that there is no seam, and forgets what was taken for its sides.
func (o *raw) leave(why string) {
	o.state, o.why, o.side, o.seenA = OffPath, why, [2]sideState{}, [2]bool{}
}

const joinedWhy = "One surface joins what lies on either side of the path: the gap is not where the path runs."

// crossed reports whether what was taken for the two panels' ends lies the wrong way round.
func (o *raw) crossed() bool { return o.side[A].edge.s+o.side[B].edge.s >= 0 }

// settle tells gaps that faces run across from places beside the gap: by where the
// stations on either side, or the reference, have it.
func (j *job) settle(raws []raw) {
	const (
		same    = 3.0 // mm; between stations a gap strays from the line by less
		centred = 4.0 // mm; from a path nearer than that to its middle both panels of a gap are looked for where they are
	)
	all := middles(raws)
	for i := range raws {
		o := &raws[i]
		if !o.outU || o.state == Measured {
			continue
		}
		at, ok := j.gapAt(raws, i)
		lacking := o.state == SideMissing && strings.HasSuffix(o.why, doScanPanel)
		switch {
		case o.ended && !(ok && math.Abs(at) <= aside):
			o.leave("The surface ends more than 8 mm aside of the path.")
		case o.joined && !(ok && math.Abs(at-o.middle()) <= same):
			o.leave(joinedWhy)
		case lacking && ok && math.Abs(at) > centred && math.Abs(at) <= farAside:
			o.leave(with(fmt.Sprintf("The gap of the stations on either side lies %.0f mm aside of the path here.", math.Abs(at)), doCentre))
		case lacking && math.Abs(o.besideGap) > centred && math.Abs(o.besideGap) <= farAside:
			o.leave(with(fmt.Sprintf("A gap lies %.0f mm aside of the path here.", math.Abs(o.besideGap)), doCentre))
		case lacking && !ok && math.Abs(all) > centred:
			o.leave(with(fmt.Sprintf("Where this seam's gap is seen it lies %.0f mm aside of the path.", math.Abs(all)), doCentre))
		case !ok:
		case o.joined, o.plain && math.Abs(at) <= aside:
			o.state, o.why = Bridged, "Faces run across the gap, so its edges cannot be seen."
		case o.state != OffPath && math.Abs(at) > farAside:
			o.leave(fmt.Sprintf("The gap of the stations on either side lies %.0f mm aside of the path here.", math.Abs(at)))
		}
	}
}

// middles returns where the middle of the gap lies in the middling one of the measured stations, mm from P toward B; 0
// with fewer than three of them.
func middles(raws []raw) float64 {
	var at []float64
	for i := range raws {
		if raws[i].outU && raws[i].state == Measured {
			at = append(at, raws[i].middle())
		}
	}
	if len(at) < 3 {
		return 0
	}
	return median(at)
}

// gapAt returns where a station's plane should hold the middle of the gap, in mm
// from P toward B: where the reference has it, else on the straight line between
// the nearest measured stations before and after.
func (j *job) gapAt(raws []raw, i int) (at float64, ok bool) {
	const beside = 3 // stations; over 150 mm a line curved by 1/m strays from its chord by 3 mm
	if j.ref != nil && j.ref[i].state == Measured {
		return j.ref[i].middle(), true
	}
	var ends [2]geom.Vec
	for k, dir := range [2]int{-1, 1} {
		found := false
		for d := 1; d <= beside && !found; d++ {
			n := i + dir*d
			if n < 0 || n >= len(raws) {
				break
			}
			if o := &raws[n]; o.state == Measured {
				ends[k], found = o.frame.p.AddScaled(o.middle(), o.frame.a), true
			}
		}
		if !found {
			return 0, false
		}
	}
	r := &raws[i].frame
	x0, s0, _ := r.local(ends[0])
	x1, s1, _ := r.local(ends[1])
	if x1 <= x0 {
		return 0, false
	}
	return s0 - (s1-s0)*x0/(x1-x0), true
}

// middle is where the middle of the two shoulders lies, mm from P toward B.
func (o *raw) middle() float64 { return float64((o.side[A].edge.s - o.side[B].edge.s) / 2) }

// plain reports whether the surface runs on under P, in most of the cuts near it.
func plain(cs *[coverCuts]cover) bool {
	n := 0
	for k := coverCuts/2 - 1; k <= coverCuts/2+1; k++ {
		c := &cs[k]
		if i, ok := c.near(0); ok && c.reach(i, -1) <= c.cell(-aside) && c.reach(i, 1) >= c.cell(aside) {
			n++
		}
	}
	return n >= 2
}

// ended reports whether the surface lies on one side of P alone, and not near it.
func ended(cs *[coverCuts]cover) bool {
	for k := coverCuts/2 - 1; k <= coverCuts/2+1; k++ {
		c := &cs[k]
		var side [2]bool
		for i, h := range c {
			if h == math.Inf(-1) {
				continue
			}
			s := float64((float64(i)+0.5)*coverStep) - coverReach
			if math.Abs(s) < aside {
				return false
			}
			side[A], side[B] = side[A] || s < 0, side[B] || s > 0
		}
		if side[A] && side[B] {
			return false
		}
	}
	return true
}

// gapBeside returns where the middle of a gap lies that the cuts near P show beside it, mm toward B: a surface that ends
// and within a wide gap's width goes on again; 0 where most of them show none.
func gapBeside(cs *[coverCuts]cover) float64 {
	const (
		least = 4                     // cells of surface on either side
		wide  = int(12.0 / coverStep) // cells of the widest gap
	)
	var at []float64
	for k := coverCuts/2 - 1; k <= coverCuts/2+1; k++ {
		c := &cs[k]
		start, ok := c.near(0)
		if !ok {
			continue
		}
		best := math.Inf(1)
		for _, dir := range [2]int{-1, 1} {
			last := c.reach(start, dir)
			if (last-c.reach(last, -dir))*dir < least {
				continue
			}
			for j := last + dir; j >= 0 && j < acrossCells && (j-last)*dir <= wide; j += dir {
				if math.IsInf(c[j], -1) || (c.reach(j, dir)-j)*dir < least {
					continue
				}
				if mid := float64(float64(last+j+1)/2*coverStep) - coverReach; math.Abs(mid) < math.Abs(best) {
					best = mid
				}
				break
			}
		}
		if !math.IsInf(best, 0) {
			at = append(at, best)
		}
	}
	if len(at) < 2 {
		return 0
	}
	return median(at)
}

// joined reports whether one surface runs, in any cut, from behind one shoulder to behind the other.
func joined(cs *[coverCuts]cover, ya, yb float64) bool {
	const behind = 1.0 // mm
	for k := range cs {
		c := &cs[k]
		i, j := c.cell(ya-behind), c.cell(yb+behind)
		if i < 0 || j >= acrossCells || math.IsInf(c[i], -1) {
			continue
		}
		if c.reach(i, 1) >= j {
			return true
		}
	}
	return false
}
