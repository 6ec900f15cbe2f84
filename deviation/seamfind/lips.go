package seamfind

import (
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/order"
	"shutline/mesh/section"
)

// How a cut across a gap is read.
const (
	cutReach  = 24.0 // mm about the place: the widest gap, a place beside its middle, and the skin behind it
	cutApart  = 2.5  // mm between the cuts that are taken together, over a point spacing of 1.5 mm
	cutBin    = 0.5
	cutStep   = 0.4 // mm between places on a cut at most: none of the bins that a surface runs through is empty
	voidOver  = 0.9 // mm from the middle of a bin to that of the next: one between them is empty in all cuts
	lipFrom   = 2.0 // mm behind the shoulder: the skin by which depth is told
	lipTo     = 12.0
	shoulder  = 0.5  // mm below the skin: past the shoulder
	lipDeep   = 4.0  // mm below the skin, to which a lip is followed: past the nose of a hem of 3 mm
	turnsBack = 1.0  // mm behind the farthest place: the lip has turned back
	least     = 1.0  // mm deep is a gap
	farthest  = 13.0 // mm beside the place, where a lip may begin
	membrane  = 0.35 // the share of cuts that may be bridged
	// gentleWall is the slope, that of 55°, between a quarter and three quarters of a groove's depth below which its wall is none of
	// a panel's edge: those fall by 90°, and a scanner that closes a gap sees two thirds of that before.
	gentleWall = 1.43
)

// lip is one side's edge of a gap, in mm along a and along u of the cut.
type lip struct {
	s      float64         // of the nose
	level  float64         // of the skin carried on to the nose
	deep   float64         // how far below the skin the lip was seen
	at     [levels]float64 // how far behind the nose the lip lies at each of the depths, mm; NaN where not seen
	groove bool            // the surface goes on to the other side
	gentle bool            // and its wall falls less than a panel's edge does
}

// depths below the skin, mm, at which lips are compared: one that was seen only so
// far is carried on by what the seam's other places show beyond.
var depths = [levels]float64{0.25, 0.5, 0.8, 1.2}

const levels = 4

// cutPoint is a place on a cut: x toward the skin from the middle, h outward.
type cutPoint struct {
	x, h   float64
	facing bool // looks outward
}

// looker looks at cuts. Not for several goroutines at once.
type looker struct {
	*Ground
	cutter *section.Cutter
	cuts   [][]cutPoint // runs, x along a
	points []cutPoint   // of all runs, one after the other
	sides  [][]cutPoint // the runs of one side
	turned []cutPoint   // their points, where they are not those of cuts
	tops   [skinBins][]float64
}

// looker returns one that is not in use. A cutter's memory grows with the mesh, so they are kept.
func (g *Ground) looker() *looker {
	g.looking.Lock()
	defer g.looking.Unlock()
	if n := len(g.idle); n > 0 {
		l := g.idle[n-1]
		g.idle = g.idle[:n-1]
		return l
	}
	return &looker{Ground: g, cutter: g.index.NewCutter()}
}

// keep gives lookers back; nil are none.
func (g *Ground) keep(lookers []*looker) {
	g.looking.Lock()
	defer g.looking.Unlock()
	for _, l := range lookers {
		if l != nil {
			g.idle = append(g.idle, l)
		}
	}
}

// look finds both lips of the gap at p; f is the direction along it, u outward.
// bridged: faces run from skin to skin.
func (l *looker) look(p, f, u geom.Vec) (lips [2]lip, ok, bridged bool) {
	f = f.AddScaled(-f.Dot(u), u).Unit()
	a := f.Cross(u)
	if a == (geom.Vec{}) {
		return lips, false, false
	}
	var noses, heights, deeps [2][]float64
	var at [2][levels][]float64
	grooves, gentles, bridges, cuts := 0, 0, 0, 0
	l.cuts, l.points = l.cuts[:0], l.points[:0]
	var first []int // where the runs of each cut begin
	for i := -2; i <= 2; i++ {
		first = append(first, len(l.cuts))
		l.cut(p.AddScaled(cutApart*float64(i), f), f, a, u)
	}
	first = append(first, len(l.cuts))
	var lines [2]straight
	var edges [2]float64
	for side := range 2 {
		l.turn(side)
		if lines[side], edges[side], ok = l.skinOf(); !ok {
			return lips, false, false
		}
	}
	for i := 0; i+1 < len(first); i++ {
		var found [2]lip
		complete, bridge := true, false
		for side := range 2 {
			l.turn(side)
			nose, flat, seen := noseOf(l.sides[first[i]:first[i+1]], lines[side], edges[side])
			complete = complete && seen
			bridge = bridge || flat
			found[side] = nose
		}
		if !complete {
			continue
		}
		cuts++
		if bridge {
			bridges++
			continue
		}
		for side := range 2 {
			noses[side] = append(noses[side], found[side].s)
			heights[side] = append(heights[side], found[side].level)
			for k, x := range found[side].at {
				if x == x {
					at[side][k] = append(at[side][k], x)
				}
			}
			deeps[side] = append(deeps[side], found[side].deep)
		}
		if found[0].groove && found[1].groove {
			grooves++
			if found[0].gentle && found[1].gentle {
				gentles++
			}
		}
	}
	if cuts == 0 {
		return lips, false, false
	}
	if float64(bridges) > membrane*float64(cuts) || len(noses[0]) == 0 {
		return lips, false, true
	}
	for side := range 2 {
		lips[side] = lip{s: median(noses[side]), level: median(heights[side]), deep: median(deeps[side]), groove: 2*grooves > cuts, gentle: 2*gentles > cuts}
		for k := range depths {
			lips[side].at[k] = math.NaN()
			if v := at[side][k]; 2*len(v) > len(noses[side]) {
				lips[side].at[k] = median(v)
			}
		}
	}
	lips[0].s = -lips[0].s // x runs away from the middle on both sides, s from A to B
	return lips, true, false
}

// cut appends the runs of one cut.
func (l *looker) cut(p, f, a, u geom.Vec) {
	lines, err := l.cutter.Near(p, f, cutReach)
	if err != nil {
		return
	}
	for _, line := range lines {
		first := len(l.points)
		n := len(line.Points)
		if line.Closed {
			n++
		}
		for i := 1; i < n; i++ {
			q0, q1 := line.Points[i-1], line.Points[i%len(line.Points)]
			d := q1.Sub(q0)
			long := d.Norm()
			if long == 0 {
				continue
			}
			d0 := q0.Sub(p)
			facing := d.Cross(f).Dot(u) > 0.3*long // the outside lies on the right, f toward the eye
			steps := max(1, int(math.Ceil(long/cutStep)))
			for k := range steps {
				e := d0.AddScaled(float64(k)/float64(steps), d)
				l.points = append(l.points, cutPoint{e.Dot(a), e.Dot(u), facing})
			}
			if i == n-1 {
				e := q1.Sub(p)
				l.points = append(l.points, cutPoint{e.Dot(a), e.Dot(u), facing})
			}
		}
		if run := l.points[first:len(l.points):len(l.points)]; len(run) > 1 {
			l.cuts = append(l.cuts, run)
		}
	}
}

// turn sets sides to the cuts as side 0 (A) or 1 (B) sees them: x away from the middle.
func (l *looker) turn(side int) {
	l.sides, l.turned = l.sides[:0], l.turned[:0]
	for _, run := range l.cuts {
		if side == 0 {
			first := len(l.turned)
			for _, q := range run {
				q.x = -q.x
				l.turned = append(l.turned, q)
			}
			run = l.turned[first:len(l.turned):len(l.turned)]
		}
		l.sides = append(l.sides, run)
	}
}

// skinBins is how many stretches of cutBin a side is divided into.
const skinBins = int((cutReach + farthest) / cutBin)

// skinOf finds the line of a side's skin and where it falls away, from all cuts.
func (l *looker) skinOf() (line straight, edge float64, ok bool) {
	const bins = skinBins
	tops := &l.tops
	for k := range tops {
		tops[k] = tops[k][:0]
	}
	for _, run := range l.sides {
		var highest [bins]float64
		var any [bins]bool
		for _, q := range run {
			k := int((q.x + farthest) / cutBin)
			if !q.facing || q.x < -farthest || k >= bins || math.Abs(q.h) > 8 {
				continue
			}
			if !any[k] || q.h > highest[k] {
				highest[k], any[k] = q.h, true
			}
		}
		for k := range highest {
			if any[k] {
				tops[k] = append(tops[k], highest[k])
			}
		}
	}
	var x, h []float64
	for k := range tops {
		if len(tops[k]) > 0 {
			x, h = append(x, float64((float64(k)+0.5)*cutBin)-farthest), append(h, median(tops[k]))
		}
	}
	// Begin with the skin farther out, then look from there for the edge.
	line, ok = robust(x, h, 6, 16)
	if !ok {
		if line, ok = robust(x, h, 4, 9); !ok {
			return line, 0, false
		}
	}
	for range 3 {
		edge = edgeOf(x, h, line)
		next, fits := robust(x, h, edge+lipFrom, edge+lipTo)
		if !fits {
			if next, fits = robust(x, h, edge+lipFrom, edge+skinNear); !fits {
				return line, edge, false
			}
		}
		line = next
	}
	edge = edgeOf(x, h, line)
	return line, edge, edge < farthest
}

// edgeOf walks over the skin toward the gap and returns where it falls away or ends.
func edgeOf(x, h []float64, line straight) float64 {
	last := math.Inf(1)
	for i := len(x) - 1; i >= 0; i-- {
		d := line.at(x[i]) - h[i]
		if d >= shoulder || last-x[i] > voidOver && !math.IsInf(last, 1) {
			if math.IsInf(last, 1) || x[i] > 10 { // not on the skin yet
				continue
			}
			break
		}
		if d > -shoulder {
			last = x[i]
		}
	}
	return last
}

// robust fits a line to the heights between from and to, leaving out what lies off it.
func robust(x, h []float64, from, to float64) (line straight, ok bool) {
	var px, ph []float64
	for i := range x {
		if x[i] >= from && x[i] <= to {
			px, ph = append(px, x[i]), append(ph, h[i])
		}
	}
	if len(px) < 5 || px[len(px)-1]-px[0] < 0.5*(to-from) {
		return line, false
	}
	// The median of all slopes (Theil 1950, Sen 1968) minds no strays.
	slopes := make([]float64, 0, len(px)*(len(px)-1)/2)
	for i := range px {
		for k := i + 1; k < len(px); k++ {
			slopes = append(slopes, (ph[k]-ph[i])/(px[k]-px[i]))
		}
	}
	line.slope = median(slopes)
	for i := range px {
		ph[i] -= float64(line.slope * px[i])
	}
	line.z = median(ph)
	for i := range ph {
		ph[i] = math.Abs(ph[i] - line.z)
	}
	return line, median(ph) < skinRough && math.Abs(line.slope) < 1
}

// noseOf follows a side's lip on the runs of one cut from its skin on, as far
// toward the other side as it reaches (x falls that way). flat: it runs into the
// other skin without a fall.
func noseOf(runs [][]cutPoint, line straight, edge float64) (nose lip, flat, seen bool) {
	nose.s = math.Inf(1)
	for _, run := range runs {
		// The place of the skin nearest to the edge on this run.
		at := -1
		for k, q := range run {
			if q.facing && q.x > edge-0.75 && q.x < edge+4 && math.Abs(line.at(q.x)-q.h) < shoulder && (at < 0 || q.x < run[at].x) {
				at = k
			}
		}
		if at < 0 {
			continue
		}
		step := 1
		if ahead, behind := run[min(len(run)-1, at+3)].x, run[max(0, at-3)].x; ahead > behind || ahead == behind && at+3 >= len(run) {
			step = -1
		}
		found, joined := follow(run, at, step, line, lipDeep)
		switch {
		case joined && found.deep < least:
			flat = true
		case joined && found.deep < lipDeep:
			deep := found.deep
			found, _ = follow(run, at, step, line, deep/2)
			found.deep, found.gentle = deep, gentle(run, at, step, line, deep)
		case found.deep >= lipDeep:
			var deep float64
			if deep, joined = bottom(run, at, step, line); joined {
				found.gentle = gentle(run, at, step, line, deep)
			}
		}
		if joined {
			for k := range found.at {
				found.at[k] = math.NaN() // a groove has no noses to carry on to
			}
		}
		if found.s < nose.s {
			nose = found
			nose.groove = joined
		}
		seen = true
	}
	for k := range nose.at {
		nose.at[k] -= nose.s
	}
	nose.level = line.at(nose.s)
	return nose, flat, seen
}

// follow walks along a run from the skin until it lies deeper than most, turns
// back or ends. joined: it came up to a skin again.
func follow(run []cutPoint, at, step int, line straight, most float64) (l lip, joined bool) {
	l.s = run[at].x
	for k := range l.at {
		l.at[k] = math.NaN()
	}
	from := run[at].x
	for k := at; k >= 0 && k < len(run); k += step {
		q := run[k]
		d := line.at(q.x) - q.h
		for j := range depths {
			if d >= depths[j] && l.at[j] != l.at[j] {
				l.at[j] = q.x
			}
		}
		if d > most {
			l.deep = max(l.deep, most)
			return l, false
		}
		l.deep = max(l.deep, d)
		l.s = min(l.s, q.x)
		switch {
		case q.x > l.s+turnsBack:
			return l, false
		case from-q.x > 1 && l.deep >= least && d < l.deep/4 && d < least, from-q.x > gapWidest,
			from-q.x > 2*skinNear && l.deep < least: // up again, or on over more than any gap: the other skin
			return l, true
		}
	}
	return l, false
}

// gentle reports whether the wall of a groove so deep, mm, falls less than a panel's edge does.
func gentle(run []cutPoint, at, step int, line straight, deep float64) bool {
	upper, _ := follow(run, at, step, line, deep/4)
	lower, _ := follow(run, at, step, line, 3*deep/4)
	return deep/2 < gentleWall*(upper.s-lower.s)
}

// bottom walks along a run from the skin down a groove deeper than a lip is followed, and reports whether it comes up
// again on the other side, and how deep it was, mm. A hem turns back under its own panel.
func bottom(run []cutPoint, at, step int, line straight) (deep float64, through bool) {
	farthest := run[at].x
	for k := at; k >= 0 && k < len(run); k += step {
		q := run[k]
		d := line.at(q.x) - q.h
		deep, farthest = max(deep, d), min(farthest, q.x)
		switch {
		case q.x > farthest+turnsBack, run[at].x-q.x > gapWidest+lipFrom:
			return deep, false
		case deep > lipDeep && d < deep/4:
			return deep, true
		}
	}
	return deep, false
}

// median returns the middle of values, which it reorders.
func median(v []float64) float64 { return order.Median(v) }
