package gapflush

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// A face runs on to its edge without a step. What steps down from it toward the gap and runs on beside it, a little lower, is a ledge below
// its edge or a part laid against it: where that ends, the panel does not, however good a roll or a corner it has there. A step that a hem
// of little arc leads down to leans too little to be told as an edge by its normals, and lies farther back than a hollow is
// looked for before a roll. So the face is asked for it as far as its zone reaches.

const (
	// ledgeFrom is how far before a shoulder, mm, the last points lie that are surely none of the roll's.
	ledgeFrom = 0.2
	// ledgeBin is how long, mm, the parts are of which the mean is taken first: where none lies lower than another there is no step.
	ledgeBin = 0.5
	// ledgeDeep is how far off the face, mm, what is asked lies at most: more is another skin.
	ledgeDeep = deepest
)

// ledgeWidths are how long, mm, the stretches are that are compared: a hem of 3 mm is led down over as much.
var ledgeWidths = [...]float64{0.7, 1, 1.5, 2}

// stepsDown returns how far before the shoulder at s, mm, a face steps down toward the gap and runs on lower; 0 where it does not.
// It is told from points as one another's scatter has them lie; shared is by how much their mean varies more than that of as many
// independent ones.
func (g *rollFit) stepsDown(pts []zonePoint, f *face, s, from, band, noise, shared float64) (before float64) {
	sum, n := g.ledgeSum[:0], g.ledgeN[:0]
	beside := g.beside[:0]
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	for range int(from/ledgeBin) + 1 {
		sum, n = append(sum, 0), append(n, 0)
	}
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < ledgeFrom || d > from || p.nh <= facing || math.Abs(p.x) > band {
			continue
		}
		off := (p.h - f.at(p.x, p.y)) / q
		if math.Abs(off) > ledgeDeep {
			continue
		}
		b := int(d / ledgeBin)
		sum[b] += off
		n[b]++
		beside = append(beside, besideRoll{-d * q, off, Point2{S: -d * q}, Point2{H: 1}, min(max(int((p.x+band)/(2*band)*hollowBlocks), 0), hollowBlocks-1)})
	}
	g.ledgeSum, g.ledgeN, g.beside = sum, n, beside
	lowest, falls := math.Inf(1), false // of the bins nearer to the gap
	for b := range sum {
		if n[b] < leastBlocks {
			continue
		}
		mean := sum[b] / n[b]
		falls = falls || mean-lowest > leastHollow
		lowest = min(lowest, mean)
	}
	if !falls {
		return 0
	}
	slices.SortFunc(beside, func(a, b besideRoll) int { return cmp.Compare(a.along, b.along) })
	sure := surelyHollow
	for _, width := range ledgeWidths {
		g.parted(width)
		for i := 0; i+2*hollowSteps < len(g.parts); i++ {
			l, m, r := &g.parts[i], &g.parts[i+hollowSteps], &g.parts[i+2*hollowSteps]
			if !l.telling || !m.telling || !r.telling || l.middle.H-m.middle.H < math.Abs(m.middle.H-r.middle.H) {
				continue
			}
			h := hollowOf(l, m, r, noise, shared)
			if h.deep > leastHollow && h.sure > sure {
				sure, before = h.sure, -m.middle.S/q
			}
		}
	}
	return before
}

// stepsDown says that a side's face steps down so far before what ends it.
func stepsDown(k Side, before float64) string {
	return fmt.Sprintf("The face of side %s steps down %.1f mm before what ends it: that is a ledge below its edge, or another part laid against it.", sideName[k], before)
}

// checkLedge refuses a station where those on either side, most of them, have a side's face step down before what ends it: a ledge runs along
// a stretch, and where noise hides its step it is one still.
func checkLedge(raws []raw, i, stride int, st *Station) {
	for k := A; k <= B; k++ {
		if st.State != Measured && st.State != NoseUnseen || raws[i].side[k].edge.ledge > 0 {
			continue
		}
		seen := 0
		var before []float64
		for d := range neighbours(i, len(raws), besideEither, stride) {
			if raws[d].seenA[k] {
				if seen++; raws[d].side[k].edge.ledge > 0 {
					before = append(before, raws[d].side[k].edge.ledge)
				}
			}
		}
		if len(before) >= few && 2*len(before) > seen {
			st.State, st.Why = ThirdPanel, stepsDown(k, median(before))
		}
	}
}
