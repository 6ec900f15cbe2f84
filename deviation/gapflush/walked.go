package gapflush

import (
	"context"
	"math"

	"shutline/mesh/geom"
)

const (
	// walkStep is the distance in mm of the places at which a path is compared with what was walked before.
	walkStep = 5.0
	// opposite is the cosine of 150°: two walks along one gap that both may be drawn 15°
	// slantwise. The legs of a corner between panels enclose more than 30°.
	opposite = -0.866
)

// walked is a path as places in its order, in cells.
type walked struct {
	path  *polyline
	at    []geom.Vec
	f     []geom.Vec // unit, the way it is walked there
	back  []bool     // against the way it was walked first along the same gap
	cells map[cell][]int32
	spurs []spur // which are no part of the walk: it goes on behind them as it came

	crossing [2]float64 // mm from the start, where the path first crosses itself; the second is 0 where it does not
}

const (
	// besides is how far beside an earlier stretch, mm, a path is on the same gap: twice
	// as far as a carefully drawn one strays.
	besides = 6.0
	// sameWay is the cosine of 30°, between two walks along one gap the same way.
	sameWay = 0.866
	// roundTrip is how far a path goes, mm, before it can be back where it was.
	roundTrip = 60.0
)

// again reports whether the path comes, at arc length s, along a stretch that it was walked
// along before, the same way: what lies there was measured already.
func (w *walked) again(s float64) bool {
	p, f := w.path.at(s), w.path.tangent(s)
	found := false
	w.near(p, func(k int32) {
		at := float64(float64(k) * walkStep)
		// The end of a closed path may lie over its start, as where it crosses itself.
		if at > 2*besides && s-at > roundTrip && w.at[k].Dist(p) <= besides && w.f[k].Dot(f) > sameWay {
			found = true
		}
	})
	return found
}

// near calls f for the places in the cells about p.
func (w *walked) near(p geom.Vec, f func(k int32)) {
	c := cellOf(p)
	for x := c.x - 1; x <= c.x+1; x++ {
		for y := c.y - 1; y <= c.y+1; y++ {
			for z := c.z - 1; z <= c.z+1; z++ {
				for _, k := range w.cells[cell{x, y, z}] {
					f(k)
				}
			}
		}
	}
}

// crossed notes where the path first comes across itself.
func (w *walked) crossed(s float64, p, f geom.Vec) {
	if w.crossing[1] > 0 {
		return
	}
	w.near(p, func(k int32) {
		at := float64(float64(k) * walkStep)
		if dot := w.f[k].Dot(f); w.crossing[1] == 0 && at > 2*besides && s-at > roundTrip && w.at[k].Dist(p) <= walkStep && dot < sameWay && dot > -sameWay {
			w.crossing = [2]float64{at, s}
		}
	})
}

// walk goes along a path.
func walk(ctx context.Context, p *polyline) (*walked, error) {
	w := &walked{path: p, cells: map[cell][]int32{}, spurs: p.spurs()}
	for i := 0; float64(i)*walkStep <= p.full; i++ {
		if i%4096 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		s := float64(i) * walkStep
		at, f, back := p.at(s), p.tangent(s), w.against(s)
		if sp, ok := w.spurAt(s); ok {
			w.at, w.f, w.back = append(w.at, at), append(w.f, sp.f), append(w.back, back)
			continue
		}
		w.crossed(s, at, f)
		w.at, w.f, w.back = append(w.at, at), append(w.f, f), append(w.back, back)
		c := cellOf(at)
		w.cells[c] = append(w.cells[c], int32(i))
	}
	return w, nil
}

// against reports whether the path comes back at arc length s along a gap that it was
// walked along before, the other way: side A then lies on the right.
func (w *walked) against(s float64) bool {
	before := min(int(math.Ceil(s/walkStep)), len(w.at))
	if before == 0 {
		return false
	}
	p, f := w.path.at(s), w.path.tangent(s)
	if sp, ok := w.spurAt(s); ok {
		f = sp.f
	}
	// Where no gap's path was as near before, the way is that of the place before.
	first := int32(before - 1)
	c := cellOf(p)
	for x := c.x - 1; x <= c.x+1; x++ {
		for y := c.y - 1; y <= c.y+1; y++ {
			for z := c.z - 1; z <= c.z+1; z++ {
				for _, k := range w.cells[cell{x, y, z}] {
					if k >= first {
						break
					}
					if w.at[k].Dist(p) <= farAside {
						first = k
						break
					}
				}
			}
		}
	}
	return w.back[first] != (w.f[first].Dot(f) < opposite)
}
