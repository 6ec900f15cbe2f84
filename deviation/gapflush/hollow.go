package gapflush

import (
	"cmp"
	"math"
	"slices"
)

// An edge is convex: over face and roll the way turns downward only. A ledge that juts out below a roll, or a bead that lies on it,
// leaves a hollow before it, and one larger or farther roll laid over both may lie as near its points as noise has them lie.
// But they lie under the chord over the hollow, and points of no convex edge do so, whatever its radius is
// and whether it is quite round. So three stretches that follow one another are compared: the middle of their middle one lies
// above the line between those of the others, on an edge.

const (
	// hollowFrom is how far before a shoulder, mm, a hollow is looked for: a roll laid over a hem and what juts out below it has its own there.
	hollowFrom = 2.0
	// hollowFromCorner is the same of a corner that was taken for a roll with something on it: that is as wide as a roll.
	hollowFromCorner = 3.5
	// leastHollow is the depth, mm, from which on it is one: what a form leaves a roll by elsewhere.
	leastHollow = leavesBy
	// surelyHollow is how many standard uncertainties deep it is then; of the hundred places that are looked at on an edge
	// the surest was 4.2 on some thousands of drawn edges that have none.
	surelyHollow = 4.5
	// hollowBlocks are the parts of the band along the seam that each have one say of a stretch, so that crumbs, which lie in one or two, have none.
	hollowBlocks = 8
	// leastBlocks of them hold points, and as many points, where a stretch counts.
	leastBlocks = 4
	// hollowSteps to a stretch's width are the places where one begins.
	hollowSteps = 4
)

// hollowWidths are how long, mm, the stretches are: from less than a bead's foot to a ledge.
var hollowWidths = [...]float64{0.35, 0.5, 0.7, 1}

// besideRoll is where a point lies to a face and the roll or facet on it, in the axes of the face at the shoulder.
type besideRoll struct {
	along, off float64 // mm from the shoulder on, and off the outline
	foot, up   Point2  // the place on the outline, and the direction square to it
	block      int
}

// edgeStretch is what the points of a stretch of an edge say of where it is.
type edgeStretch struct {
	middle  Point2
	share   float64 // its variance over that of one point
	scatter float64 // mm², sum of squares of the points' distances from their mean
	n       int
	telling bool
}

// hollow is how far points lie under the chord over them, mm, and of how many standard uncertainties that is.
type hollow struct{ deep, sure float64 }

func (h hollow) is() bool { return h.deep > leastHollow && h.sure > surelyHollow }

// hollow returns the surest hollow among the points that were taken for a roll or a facet and for the face before it.
func (g *rollFit) hollow(e *edge) (most hollow) {
	g.layBeside(e)
	n := len(g.beside)
	if n < 3*leastBlocks {
		return most
	}
	for _, width := range hollowWidths {
		g.parted(width)
		for i := 0; i+2*hollowSteps < len(g.parts); i++ {
			l, m, r := &g.parts[i], &g.parts[i+hollowSteps], &g.parts[i+2*hollowSteps]
			if !l.telling || !m.telling || !r.telling {
				continue
			}
			if h := hollowOf(l, m, r, g.noise, 1); h.sure > most.sure {
				most = h
			}
		}
	}
	return most
}

// hollowOf is how far the middle one of three stretches lies under the line between the others; none where it does not.
func hollowOf(l, m, r *edgeStretch, noise, shared float64) hollow {
	d, to := sub(r.middle, l.middle), sub(m.middle, l.middle)
	long := length(d)
	deep := (float64(d.H*to.S) - float64(d.S*to.H)) / long
	if deep <= 0 {
		return hollow{}
	}
	t := dot(d, to) / (long * long)
	scatter := (l.scatter + m.scatter + r.scatter) / float64(l.n+m.n+r.n-3)
	v := shared * max(scatter, noise*noise) * (float64((1-t)*(1-t)*l.share) + float64(t*t*r.share) + m.share)
	return hollow{deep, deep / math.Sqrt(v)}
}

// layBeside gathers the points that an edge's roll or facet and the face before it have, in their order along both; of a corner those before it.
func (g *rollFit) layBeside(e *edge) {
	from, r := hollowFrom, e.r
	if e.kind != Round {
		from, r = hollowFromCorner, 0 // of a wall nothing is asked
	}
	o := rollAt(g.face, e.s, r)
	slant := e.facet()
	run, drop := 0.0, 0.0 // of the facet's direction
	if slant > 0 {
		run, drop = e.r/slant, float64(e.r*e.fall)/slant
	}
	beside := g.beside[:0]
	for i := range g.pts {
		p := &g.pts[i]
		px, py := p.y-o.c.S, p.h-o.c.H
		v := float64(px*o.t.S) + float64(py*o.t.H)
		if p.off || v < -from || v > 0 && e.kind == Sharp {
			continue
		}
		block := min(max(int((p.x+g.band)/(2*g.band)*hollowBlocks), 0), hollowBlocks-1)
		if v <= 0 {
			if off := float64((p.h - g.face.at0(p.y)) * o.n.H); math.Abs(off) <= onRoll && p.nh > facing {
				beside = append(beside, besideRoll{v, off, Point2{S: v}, Point2{H: 1}, block})
			}
			continue
		}
		if e.kind == Chamfer {
			w := float64(px*o.n.S) + float64(py*o.n.H)
			along, off := float64(v*run)-float64(w*drop), float64(v*drop)+float64(w*run)
			if math.Abs(off) <= onRoll && along <= slant {
				beside = append(beside, besideRoll{along, off, Point2{float64(along * run), -float64(along * drop)}, Point2{drop, run}, block})
			}
			continue
		}
		at := o.place(p.y, p.h)
		off := at.d - o.r
		if math.Abs(off) > onRoll || float64(p.ny*at.ux)+float64(p.nh*at.uy) < facing {
			continue
		}
		phi := at.phi()
		if phi > e.seen {
			continue
		}
		if g.clear {
			off -= float64(at.ux * g.along.at(p.x))
		}
		if phi > firstArc && tukey(off/g.uneven.at(phi), e.cut) == 0 {
			continue // what the fit did not believe
		}
		up := Point2{at.v / at.d, at.w / at.d}
		beside = append(beside, besideRoll{float64(phi * o.r), off, Point2{o.r * up.S, float64(o.r*up.H) - o.r}, up, block})
	}
	slices.SortFunc(beside, func(a, b besideRoll) int { return cmp.Compare(a.along, b.along) })
	g.beside = beside
}

// parted parts what lies beside a roll into stretches so many mm long, each a part of that on from the one before.
func (g *rollFit) parted(width float64) {
	parts := g.parts[:0]
	first, last := g.beside[0].along, g.beside[len(g.beside)-1].along
	lo, hi := 0, 0
	for k := 0; ; k++ {
		from := first + float64(width*float64(k)/hollowSteps)
		if from+float64(width/2) > last {
			break
		}
		for lo < len(g.beside) && g.beside[lo].along < from {
			lo++
		}
		for hi < len(g.beside) && g.beside[hi].along < from+width {
			hi++
		}
		parts = append(parts, stretchOf(g.beside[lo:hi]))
	}
	g.parts = parts
}

// stretchOf is the mean place of points on the outline, and off it the mean of what blocks say without a quarter of them either way.
func stretchOf(pts []besideRoll) (s edgeStretch) {
	s.n = len(pts)
	if s.n < leastBlocks {
		return s
	}
	var sum, n [hollowBlocks]float64
	var foot, up Point2
	mean := 0.0
	for i := range pts {
		p := &pts[i]
		sum[p.block] += p.off
		n[p.block]++
		mean += p.off
		foot, up = Point2{foot.S + p.foot.S, foot.H + p.foot.H}, Point2{up.S + p.up.S, up.H + p.up.H}
	}
	all := float64(s.n)
	mean /= all
	for i := range pts {
		d := pts[i].off - mean
		s.scatter += float64(d * d)
	}
	var said [hollowBlocks]float64
	blocks, share := 0, 0.0
	for b := range sum {
		if n[b] > 0 {
			said[blocks] = sum[b] / n[b]
			blocks++
			share += 1 / n[b]
		}
	}
	if blocks < leastBlocks {
		return s
	}
	slices.Sort(said[:blocks])
	cut := blocks / 4
	off := 0.0
	for _, v := range said[cut : blocks-cut] {
		off += v
	}
	off /= float64(blocks-2*cut) * length(up)
	// A mean without a quarter of its values either way has 1.2 times the variance of the mean of all (Stigler 1973).
	s.share = 1.2 * share / float64(blocks*blocks)
	s.middle = Point2{foot.S/all + float64(off*up.S), foot.H/all + float64(off*up.H)}
	s.telling = true
	return s
}
