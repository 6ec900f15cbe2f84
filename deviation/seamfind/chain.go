package seamfind

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	stride  = 4.0 // mm between the places of a chain
	catch   = 5.0 // mm about the next place within which spots carry it on
	leap    = 120.0
	leapOff = 0.12 // mm beside the line ahead, a mm leapt: a shut line of 500 mm radius
	// leapTurn is the cosine within which a line beyond a hole runs on.
	leapTurn = 0.94
	claim    = 7.0 // mm about a chain within which spots are its own
)

// chain is a line of places along one gap.
type chain struct {
	at     []geom.Vec
	out    []geom.Vec
	width  []float64 // 0: leapt over
	closed bool
}

// chains gathers the spots to lines, the best first.
func (c *cloud) chains() []chain {
	order := make([]int, 0, len(c.spots))
	for i := range c.spots {
		if c.spots[i].good {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := c.spots[a].weight, c.spots[b].weight; {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var list []chain
	for _, i := range order {
		if c.spots[i].taken != 0 {
			continue
		}
		number := len(list) + 1
		ahead, closed := c.follow(i, c.spots[i].along, number)
		ch := chain{closed: closed}
		if !closed {
			back, _ := c.follow(i, c.spots[i].along.Neg(), number)
			for k := len(back.at) - 1; k > 0; k-- {
				ch.at, ch.out, ch.width = append(ch.at, back.at[k]), append(ch.out, back.out[k]), append(ch.width, back.width[k])
			}
		}
		ch.at, ch.out, ch.width = append(ch.at, ahead.at...), append(ch.out, ahead.out...), append(ch.width, ahead.width...)
		for _, p := range ch.at {
			c.near(p, claim, func(k int) {
				if c.spots[k].taken == 0 {
					c.spots[k].taken = number
				}
			})
		}
		list = append(list, ch)
	}
	return list
}

// follow walks along the line through a spot. closed: it came back to where it began.
func (c *cloud) follow(first int, dir geom.Vec, number int) (ch chain, closed bool) {
	p, out := c.spots[first].at, c.spots[first].out
	ch.at, ch.out, ch.width = append(ch.at, p), append(ch.out, out), append(ch.width, c.spots[first].width)
	start := p
	const most = 100_000 // 400 m of one line: what runs on longer goes round and round
	for len(ch.at) < most {
		next := p.AddScaled(stride, dir)
		var sum, turn, outs geom.Vec
		n, free, wide := 0.0, 0.0, 0.0
		c.near(next, catch, func(k int) {
			s := &c.spots[k]
			if !s.good || s.out.Dot(out) < 0.5 {
				return
			}
			a := s.along
			if a.Dot(dir) < 0 {
				a = a.Neg()
			}
			if a.Dot(dir) < 0.5 { // another line that crosses
				return
			}
			n += s.weight
			if s.taken == 0 {
				free += s.weight
			}
			sum = sum.AddScaled(s.weight, s.at)
			turn = turn.AddScaled(s.weight, a)
			outs = outs.AddScaled(s.weight, s.out)
			wide += float64(s.weight * s.width)
		})
		if n == 0 {
			to, ok := c.leap(p, dir, out)
			if !ok {
				return ch, false
			}
			far := p.Dist(c.spots[to].at)
			for d := stride; d < far; d += stride {
				ch.at = append(ch.at, p.Lerp(c.spots[to].at, d/far))
				ch.out, ch.width = append(ch.out, out), append(ch.width, 0)
			}
			along := c.spots[to].along
			if along.Dot(dir) < 0 {
				along = along.Neg()
			}
			p, dir, out = c.spots[to].at, along, c.spots[to].out
			ch.at, ch.out, ch.width = append(ch.at, p), append(ch.out, out), append(ch.width, c.spots[to].width)
			continue
		}
		if 2*free < n { // the rest belongs to another line
			return ch, false
		}
		m := sum.Scale(1 / n)
		off := m.Sub(next)
		q := next.Add(off.AddScaled(-off.Dot(dir), dir))
		d := q.Sub(p).Unit().Add(turn.Unit()).Unit()
		if d.Dot(dir) < 0.3 {
			return ch, false
		}
		p, dir, out = q, d, outs.Unit()
		ch.at, ch.out, ch.width = append(ch.at, p), append(ch.out, out), append(ch.width, wide/n)
		if len(ch.at) > 15 && p.Dist(start) < stride {
			return ch, true
		}
	}
	return ch, false
}

// leap returns the nearest free spot that carries on a line beyond a place where nothing was seen.
func (c *cloud) leap(p, dir, out geom.Vec) (int, bool) {
	best, at := math.Inf(1), -1
	// Spheres along the way, each as wide as the line may have turned aside.
	for d := stride; d < leap; d += stride {
		q := p.AddScaled(d, dir)
		c.near(q, min(around, 3+float64(leapOff*d)), func(k int) {
			s := &c.spots[k]
			if !s.good || s.taken != 0 || s.out.Dot(out) < 0.7 || math.Abs(s.along.Dot(dir)) < leapTurn {
				return
			}
			ahead := s.at.Sub(p).Dot(dir)
			if ahead > stride && ahead < best {
				best, at = ahead, k
			}
		})
		if at >= 0 {
			return at, true
		}
	}
	return 0, false
}

// joined puts chains together that carry on one another: the walk along a line
// stops where hems, holes or webs hide it from where it stands.
func joined(list []chain) []chain {
	type joint struct {
		far          float64
		a, b         int // the chains
		endA, endB   int // 0 first place, 1 last
		dropA, dropB int // places at the end that strayed to the border of a hole
	}
	list = slices.DeleteFunc(list, func(ch chain) bool { return len(ch.at) < short })
	slices.SortStableFunc(list, func(a, b chain) int { return len(b.at) - len(a.at) })
	list = list[:min(len(list), mostChains)]
	for {
		best := joint{far: math.Inf(1)}
		for a := range list {
			for b := a + 1; b < len(list); b++ {
				for k := range 36 {
					j := joint{a: a, b: b, endA: k & 1, endB: k >> 1 & 1, dropA: k / 4 % 3 * stray, dropB: k / 12 * stray}
					j.far = math.Inf(1)
					p, d, u, ok := list[a].tip(j.endA, j.dropA)
					q, e, w, okB := list[b].tip(j.endB, j.dropB)
					if ok && okB && d.Dot(e) < -leapTurn && u.Dot(w) > 0.7 {
						j.far = carriesOn(p, d, q)
					}
					// What is dropped must make up for it.
					if j.far += float64(4 * stride * float64(j.dropA+j.dropB)); j.far < best.far {
						best = j
					}
				}
			}
		}
		if math.IsInf(best.far, 1) {
			return list
		}
		a, b := list[best.a], list[best.b]
		if best.endA == 0 {
			a.turn()
		}
		if best.endB == 1 {
			b.turn()
		}
		a, b = a.part(0, len(a.at)-best.dropA), b.part(best.dropB, len(b.at))
		p, q := a.at[len(a.at)-1], b.at[0]
		for k, n := 1, int(p.Dist(q)/stride); k < n; k++ {
			a.at = append(a.at, p.Lerp(q, float64(k)/float64(n)))
			a.out, a.width = append(a.out, a.out[len(a.out)-1]), append(a.width, 0)
		}
		a.at, a.out, a.width = append(a.at, b.at...), append(a.out, b.out...), append(a.width, b.width...)
		list[best.a] = a
		list = slices.Delete(list, best.b, best.b+1)
	}
}

const (
	// mostChains bounds the work, which grows with the third power at worst; a whole
	// body has some 50 shut lines.
	mostChains = 300

	stray = 4 // places
	tell  = 8 // places by which an end's direction is told: 32 mm
	short = 5 // places of a chain that has a direction
)

// tip returns an end of a chain, less some places, and the direction it points in.
func (ch *chain) tip(end, drop int) (p, dir, out geom.Vec, ok bool) {
	n := len(ch.at)
	if ch.closed || n < short || drop > 0 && n < drop+tell {
		return p, dir, out, false
	}
	k, from := drop, min(n-1, drop+tell)
	if end == 1 {
		k, from = n-1-drop, max(0, n-1-drop-tell)
	}
	return ch.at[k], ch.at[k].Sub(ch.at[from]).Unit(), ch.out[k], true
}

// carriesOn returns how far q lies from the tip p of a line that points along d, or
// infinity where it does not lie on the line carried on.
func carriesOn(p, d, q geom.Vec) float64 {
	v := q.Sub(p)
	ahead := v.Dot(d)
	aside := v.AddScaled(-ahead, d).Norm()
	if v.Norm() > leap || ahead < -claim || aside > 3+float64(leapOff*max(0, ahead)) {
		return math.Inf(1)
	}
	return v.Norm()
}

// part returns the places from lo to before hi, in memory of its own.
func (ch *chain) part(lo, hi int) chain {
	return chain{at: slices.Clone(ch.at[lo:hi]), out: slices.Clone(ch.out[lo:hi]), width: slices.Clone(ch.width[lo:hi])}
}

// turn reverses a chain.
func (ch *chain) turn() {
	slices.Reverse(ch.at)
	slices.Reverse(ch.out)
	slices.Reverse(ch.width)
}
