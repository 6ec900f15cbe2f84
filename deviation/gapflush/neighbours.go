package gapflush

import (
	"fmt"
	"iter"
	"math"

	"shutline/mesh/geom"
)

// neighbourApart is how far apart, mm, stations stand at least that count as one another's neighbours: of denser ones
// those between are passed over, so that how many there are does not change what is said of each.
const neighbourApart = 5.0

// stride is of how many stations one is a neighbour.
func (j *job) stride() int { return max(int(math.Ceil(neighbourApart/j.seam.Every-1e-9)), 1) }

// around goes through the places of station i of n and of up to so many neighbours either way, in their order.
func around(i, n, many, stride int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for d := i - stride*min(many, i/stride); d <= min(i+stride*many, n-1); d += stride {
			if !yield(d) {
				return
			}
		}
	}
}

// neighbours is around without the station itself.
func neighbours(i, n, many, stride int) iter.Seq[int] {
	return func(yield func(int) bool) {
		for d := range around(i, n, many, stride) {
			if d != i && !yield(d) {
				return
			}
		}
	}
}

// expected returns where each side's shoulder should be: as the stations on
// either side with a found edge say, mm from the path toward the gap.
func (j *job) expected(raws []raw) [][2]float64 {
	const beside = 4
	out := make([][2]float64, len(raws))
	for i := range raws {
		for k := A; k <= B; k++ {
			out[i][k] = math.NaN()
			var near []float64
			for d := range neighbours(i, len(raws), beside, j.stride()) {
				if raws[d].side[k].edge.found {
					near = append(near, raws[d].side[k].edge.s)
				}
			}
			if len(near) >= 2 {
				out[i][k] = median(near)
			} else if j.ref != nil && j.ref[i].side[k].edge.found {
				out[i][k] = j.ref[i].side[k].edge.s
			}
		}
	}
	return out
}

// checkEnds refuses a face that stops short of where the edge must be: what
// was taken for the shoulder is the border of a hole.
func (j *job) checkEnds(raws []raw, i int, expected [2]float64, st *Station) {
	o := &raws[i]
	const (
		short    = 3.0     // mm; misfit moves both edges of a gap by less between stations
		unending = 1.0 / 3 // of the way to the other panel, one standard uncertainty of where a face ends that is seen to no edge anywhere
	)
	for k := A; k <= B; k++ {
		if st.State != NoseUnseen || o.side[k].edge.found {
			continue
		}
		if d := expected[k] - o.side[k].edge.s; d > short {
			st.State = NoFace
			st.Why = fmt.Sprintf("The face of side %s stops %.0f mm before its edge.", sideName[k], d)
		} else if math.IsNaN(d) {
			// Nothing beside it says that the panel ends where its points do; it may go on toward the other panel.
			u := aside
			if company(raws, i, j.stride()) {
				u = float64(-(o.side[A].edge.s + o.side[B].edge.s) * unending)
			}
			o.side[k].edge.u = max(o.side[k].edge.u, u)
		}
	}
}

// company reports whether stations beside one hold a seam too.
func company(raws []raw, i, stride int) bool {
	const beside, enough = 4, 2
	n := 0
	for d := range neighbours(i, len(raws), beside, stride) {
		if raws[d].state == Measured || raws[d].state == NoseUnseen {
			n++
		}
	}
	return n >= enough
}

// refuseTurned refuses stations whose outward direction is opposite to that of the
// stations on either side, as where a long hem's return outweighs the skin. Directions
// turn with the path, so that it may run over the edge of a body.
func refuseTurned(raws []raw, stride int) {
	const beside = 4 // stations either way
	var turned []int
	for i := range raws {
		if !raws[i].outU {
			continue
		}
		var sum geom.Vec
		for d := range neighbours(i, len(raws), beside, stride) {
			if raws[d].outU {
				sum = sum.Add(carriedTo(raws[i].frame.f, &raws[d].frame))
			}
		}
		if raws[i].frame.u.Dot(sum) < 0 {
			turned = append(turned, i)
		}
	}
	for _, i := range turned {
		raws[i] = raw{along: raws[i].along, frame: raws[i].frame, state: TwoSkins, why: "The faces look the other way here than at the stations on either side, so the outer skin cannot be told."}
	}
}

// carriedTo returns a frame's outward direction, turned as the shortest turn from its f
// to another turns; the zero vector where they are opposite and no turn is the shortest.
func carriedTo(f geom.Vec, r *frame) geom.Vec {
	cos := r.f.Dot(f)
	if cos <= -1+1e-9 {
		return geom.Vec{}
	}
	return r.u.AddScaled(-r.u.Dot(f)/(1+cos), r.f.Add(f))
}

// width is the distance of a station's shoulders; it does not hang on how
// straight the path was drawn.
func (o *raw) width() (w float64, ok bool) {
	return -o.side[A].edge.s - o.side[B].edge.s, o.state == Measured
}

const (
	// shortArc is less of a roll than tells it from a web by its shape alone: over 50°
	// a web that is straight leaves a roll of 1 mm by 0.1 mm.
	shortArc = 50 * math.Pi / 180
	wave     = 0.2 // mm, that real gaps change by over four stations besides their scatter
)

// widthBeside is the median width of the stations on either side, how it scatters and
// what the gap may change by as far as those looked at: where few of the nearest
// saw their edges, those farther off are.
func widthBeside(raws []raw, i, stride int) (w, spread, change float64, ok bool) {
	const beside, farthest = 4, 12
	var near []float64
	reach := beside
	for d := 1; d <= reach; d++ {
		for _, k := range [2]int{i - d*stride, i + d*stride} {
			if k < 0 || k >= len(raws) {
				continue
			}
			if v, ok := raws[k].width(); ok && raws[k].side[A].edge.seen >= shortArc && raws[k].side[B].edge.seen >= shortArc {
				near = append(near, v)
			}
		}
		if d == reach && len(near) < few && reach < farthest {
			reach++
		}
	}
	if len(near) < few {
		return 0, 0, 0, false
	}
	w = median(near)
	for k := range near {
		near[k] = math.Abs(near[k] - w)
	}
	return w, robustSigma(near, 1), float64(wave * float64(reach) / beside), true
}

// widthOff is a station's width and the course of those on either side.
type widthOff struct {
	off, noise float64 // mm, of the width from the course; mm², the variance that scatter gives it
	ok         bool
}

// widthsOff looks at every station's width, which in a real gap runs nearly straight over a few stations.
func widthsOff(raws []raw, stride int) []widthOff {
	const reach, enough = 6, 5
	out := make([]widthOff, len(raws))
	var at, width, slopes []float64
	for i := range raws {
		own, ok := raws[i].opening()
		if !ok {
			continue
		}
		at, width, slopes = at[:0], width[:0], slopes[:0]
		for d := range neighbours(i, len(raws), reach, stride) {
			if w, ok := raws[d].opening(); ok {
				at, width = append(at, float64(d-i)), append(width, w)
			}
		}
		if len(at) < enough {
			continue
		}
		// The median of all slopes (Theil 1950, Sen 1968) minds no single webs.
		for a := range at {
			for b := a + 1; b < len(at); b++ {
				slopes = append(slopes, (width[b]-width[a])/(at[b]-at[a]))
			}
		}
		slope := median(slopes)
		for k := range at {
			width[k] -= float64(slope * at[k])
		}
		// 1.57 is the variance of a median over that of a mean.
		out[i] = widthOff{own - median(width), raws[i].openingNoise() * (1 + 1.57/float64(len(at))), true}
	}
	return out
}

// unnoticed is by how much, in mm, a web may move a short arc of a station without its
// width leaving the course of the widths beside it: webs begin and end as they like. How far
// widths stray by more than their scatter, the whole seam says.
func unnoticed(raws []raw, stride int) []float64 {
	const least = 0.05
	of := widthsOff(raws, stride)
	var off, noise []float64
	for i := range of {
		if of[i].ok {
			off, noise = append(off, math.Abs(of[i].off)), append(noise, of[i].noise)
		}
	}
	s := robustSigma(off, 1)
	free := 2 * math.Sqrt(max(float64(s*s)-median(noise), 0))
	out := make([]float64, len(raws))
	for i := range out {
		if out[i] = wave; of[i].ok {
			out[i] = min(max(free, math.Abs(of[i].off)-float64(2*math.Sqrt(of[i].noise)), least), wave)
		}
	}
	return out
}

// opening is a station's gap from A's side. Of a short arc the shoulder and the radius scatter against one
// another, and along the frame's own axis a step between the panels adds to their distance where the frame leans.
func (o *raw) opening() (w float64, ok bool) {
	if o.state != Measured {
		return 0, false
	}
	g := evaluate(&o.side, &[2][5]float64{}, A)
	return g.gap, true
}

// openingNoise is the variance, mm², that scatter gives it.
func (o *raw) openingNoise() (v float64) {
	step := o.side[A].face.at0(o.side[A].edge.s) - o.side[B].face.at0(o.side[B].edge.s)
	v = float64(step * step * o.side[A].face.cov[1][1])
	for k := A; k <= B; k++ {
		f, e := &o.side[k].face, &o.side[k].edge
		h, m := e.toFace[0][0]+e.toFace[1][0], e.toFace[0][1]+e.toFace[1][1]
		v += e.data[0][0] + float64(2*e.data[0][1]) + e.data[1][1] + float64(h*h*f.cov[0][0]) + float64(2*h*m*f.cov[0][1]) + float64(m*m*f.cov[1][1])
	}
	return v
}

// checkWidth refuses a station with a short arc whose shoulders stand closer than
// those on either side: a web that goes on along the face before it dips looks
// like a panel that is longer there.
func checkWidth(o *raw, w, spread, change float64, st *Station) {
	if st.State != Measured {
		return
	}
	v := float64(spread * spread)
	worst := Side(-1)
	for k := A; k <= B; k++ {
		e := &o.side[k].edge
		v += e.data[0][0] + float64(e.prior[0]*e.prior[0])
		if e.kind == Round && e.seen < shortArc && (worst < 0 || e.seen < o.side[worst].edge.seen) {
			worst = k
		}
	}
	if got, _ := o.width(); worst >= 0 && w-got > change+float64(3*math.Sqrt(v)) {
		st.State = NoseUnseen
		st.Why = fmt.Sprintf("The edges stand %.1f mm closer than on either side, and too little of side %s's edge was seen to tell it from a web.", w-got, sideName[worst])
		o.side[worst].edge.found = false
	}
}

// noneBeside says which stations' rolls are none, as those of the stations on either side tell: what lies on an edge or juts out below it
// does so along a stretch, and one that looks like a roll by chance is not believed there. It returns how far, mm, such an edge may be
// from where it was taken to be; 0: it is believed.
func noneBeside(raws []raw, stated [2]EdgeKind, stride int) [][2]float64 {
	out := make([][2]float64, len(raws))
	for i := range raws {
		for k := A; k <= B; k++ {
			switch e := &raws[i].side[k].edge; {
			case raws[i].state != Measured || !e.found:
			case e.kind == Round:
				out[i][k] = max(longerBeside(raws, i, k, stride), raggedBeside(raws, i, k, stride))
			case e.kind != stated[k]: // what looks like a corner or a chamfer, where a roll was said to be, may be a bead's end as well
				out[i][k] = raggedBeside(raws, i, k, stride)
			}
		}
	}
	return out
}

// besideEither is how many stations either way tell of a roll.
const besideEither = 4

// longerBeside returns by how much, mm, a roll that runs on stands farther toward the gap than those of the stations on either side,
// most of which something leaves, as a web does, or juts out below: there it was taken for a piece of the roll.
func longerBeside(raws []raw, i int, k Side, stride int) float64 {
	o := &raws[i]
	e := &o.side[k].edge
	if e.webbed {
		return 0
	}
	var width []float64
	measured, prior := 0, 0.0
	for d := range neighbours(i, len(raws), besideEither, stride) {
		w, ok := raws[d].width()
		if !ok {
			continue
		}
		measured++
		if b := &raws[d].side[k].edge; b.kind == Round && b.webbed && b.seen < e.seen {
			width = append(width, w)
			prior = max(prior, float64(b.prior[0]*b.prior[0]))
		}
	}
	if len(width) < few || 2*len(width) <= measured {
		return 0
	}
	w := median(width)
	for n := range width {
		width[n] = math.Abs(width[n] - w)
	}
	spread := robustSigma(width, 1)
	v := float64(spread*spread) + prior
	for s := A; s <= B; s++ {
		own := &o.side[s].edge
		v += own.data[0][0] + float64(own.prior[0]*own.prior[0])
	}
	if got, _ := o.width(); w-got > wave+float64(3*math.Sqrt(v)) {
		return w - got
	}
	return 0
}

// other reports whether what was found where an edge should be is another part's, be it that little or much of it was seen.
func (e *edge) other() bool { return e.ragged || e.leans || e.solid || e.apart > 0 }

// raggedBeside returns the radius, mm, of a roll, or what one usually has for another form, where the edges of most stations on either side were
// another part's, or too small for the points on them; of one that was seen far also where they were none at all. 0: they were edges.
func raggedBeside(raws []raw, i int, k Side, stride int) float64 {
	e := &raws[i].side[k].edge
	seen, none := 0, 0
	for d := range neighbours(i, len(raws), besideEither, stride) {
		if !raws[d].seenA[k] {
			continue
		}
		seen++
		if b := &raws[d].side[k].edge; b.other() || raws[d].state == TooCoarse || !b.found && e.seen >= raggedFrom {
			none++
		}
	}
	if none < few || 2*none <= seen {
		return 0
	}
	if e.kind != Round {
		return max(e.r, defaultRadius)
	}
	return e.r
}

// checkBeside refuses a station one of whose rolls is none by noneBeside.
func (o *raw) checkBeside(none [2]float64, st *Station) {
	for k := A; k <= B; k++ {
		if e := &o.side[k].edge; none[k] > 0 && st.State == Measured {
			e.found, e.ragged, e.u = false, true, max(e.u, none[k])
			st.State, st.Why = NoseUnseen, o.unseenWhy(k, 0)
		}
	}
}

// shareCarry looks along the seam for what one station's few points before a
// shoulder do not prove: a face bent in the same way everywhere. What the whole
// seam's median is off by, beyond three standard deviations of it, every station has.
func shareCarry(raws []raw) {
	const few, beyond = 5, 3.0
	common := func(k Side, pick func(*carried) float64) float64 {
		var v []float64
		for i := range raws {
			if c := &raws[i].side[k].carry; c.ok {
				v = append(v, pick(c))
			}
		}
		n := len(v)
		if n < few {
			return 0
		}
		m := median(v)
		for i := range v {
			v[i] = math.Abs(v[i] - m)
		}
		// 1.57 is the variance of a median over that of a mean.
		if math.Abs(m) < beyond*robustSigma(v, 1)*math.Sqrt(1.57/float64(n)) {
			return 0
		}
		return math.Abs(m)
	}
	for k := A; k <= B; k++ {
		off := common(k, func(c *carried) float64 { return c.height })
		tilt := common(k, func(c *carried) float64 { return c.turn })
		for i := range raws {
			s := &raws[i].side[k]
			s.off, s.tilt = max(s.off, off), max(s.tilt, tilt)
			// One station's own points may lie too far off its face to count as before its edge.
			if s.left() && raws[i].state == Measured {
				raws[i].state, raws[i].why = NoseUnseen, raws[i].unseenWhy(k, 0)
			}
		}
	}
}
