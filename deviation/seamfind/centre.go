package seamfind

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	spacing = 5.0 // mm between the places of a course
	passes  = 3   // each cuts square to what the one before has found
	// A place more than this beside the middle of its neighbours, mm, was misread.
	mostAside   = 0.6
	mostUpAside = 1.5
	// Lips that were seen to fall this far below the skin are edges of panels, not
	// of what was scanned.
	lipSeen = 0.3
	// So far about a place, mm, the mean direction of the faces within 20 mm is the same to a degree.
	outwardFor = 1.0
	// A cut still shows where the gap's middle is when its place has moved by so much, mm, within it, or it has turned by
	// no more than the cosine says, 1°: over the width of a gap of 5 mm it then lies 0.1 mm farther along.
	looksFor  = 0.5
	turnedFor = 0.99985
)

// Course is a path laid into the middle of a gap.
type Course struct {
	Path    []geom.Vec // mm, 5 mm apart, on the skins carried on over the gap, in the middle between the noses
	Outward []geom.Vec // unit, at each point
	Seen    []bool     // the gap was seen there; elsewhere the path runs on between its neighbours
	Width   []float64  // mm from nose to nose, where seen

	lips    float64 // share of the seen places where the surface falls at both lips
	gentle  float64 // share of the seen places where it is a groove in one surface whose walls fall less than panels' edges do
	Grooved float64 // share of the seen places where one surface runs down one side and up the other
	Bridged float64 // share of the places where faces run from skin to skin
}

// SeenShare returns the share of places where the gap was seen, 0 to 1.
func (c *Course) SeenShare() float64 {
	n := 0
	for _, s := range c.Seen {
		if s {
			n++
		}
	}
	return float64(n) / float64(max(1, len(c.Seen)))
}

// Length returns the path's length in mm.
func (c *Course) Length() float64 { return lengthOf(c.Path) }

// MeanWidth returns the mean width of the gap where it was seen, mm; ok is false where it nowhere was.
func (c *Course) MeanWidth() (width float64, ok bool) {
	n := 0
	for i, s := range c.Seen {
		if s {
			width += c.Width[i]
			n++
		}
	}
	return width / float64(max(1, n)), n > 0
}

// Unseen returns the longest stretch of the path on which the gap was not seen, as
// its ends along the path, mm.
func (c *Course) Unseen() (from, to float64) {
	at, begin := 0.0, 0.0
	for i := range c.Seen {
		if i > 0 {
			at += c.Path[i].Dist(c.Path[i-1])
		}
		if c.Seen[i] {
			begin = at
		}
		if at-begin > to-from {
			from, to = begin, at
		}
	}
	return from, to
}

func lengthOf(path []geom.Vec) float64 {
	sum := 0.0
	for i := 1; i < len(path); i++ {
		sum += path[i].Dist(path[i-1])
	}
	return sum
}

// Centre moves a path that runs within some mm of a gap into the gap's middle.
// outward holds the direction away from the body at each point, roughly. A path
// of no length gives an empty course. The error is ctx's.
func (g *Ground) Centre(ctx context.Context, path, outward []geom.Vec, threads int) (Course, error) {
	c := Course{}
	c.Path, c.Outward = spread(path, outward)
	n := len(c.Path)
	if n < 2 {
		return Course{}, ctx.Err()
	}
	lookers := make([]*looker, parallel.Threads(threads))
	// Where the mean direction of the faces about each place was taken last.
	asked := slices.Clone(c.Path)
	begin := directions(c.Path)
	told, has, err := someAsked(ctx, c.Path, outwardEvery, threads, func(i int) (geom.Vec, bool) {
		return g.outward(c.Path[i], c.Outward[i].AddScaled(-c.Outward[i].Dot(begin[i]), begin[i]).Unit()), true
	})
	if err != nil {
		return Course{}, err
	}
	for i := range told {
		if !has[i] {
			told[i] = c.Outward[i]
		}
	}
	defer func() { g.keep(lookers) }()
	looks := make([]look, n)
	for range passes {
		c.Seen, c.Width = make([]bool, n), make([]float64, n)
		along := directions(c.Path)
		fell, bridged := make([]bool, n), make([]bool, n)
		mid := make([]geom.Vec, n)
		out := make([]geom.Vec, n)
		read := make([][2]lip, n)
		err = parallel.Chunks(ctx, n, 8, threads, nil, func(worker, _, lo, hi int) {
			if lookers[worker] == nil {
				lookers[worker] = g.looker()
			}
			for i := lo; i < hi; i++ {
				u := c.Outward[i].AddScaled(-c.Outward[i].Dot(along[i]), along[i]).Unit()
				if c.Path[i].Dist(asked[i]) > outwardFor {
					asked[i], told[i] = c.Path[i], g.outward(c.Path[i], u)
				}
				u = told[i]
				u = u.AddScaled(-u.Dot(along[i]), along[i]).Unit()
				out[i] = u
				if !looks[i].stands(c.Path[i], along[i], u) {
					looks[i] = lookers[worker].at(c.Path[i], along[i], u)
				}
				read[i], c.Seen[i], bridged[i] = looks[i].lips, looks[i].ok, looks[i].bridged
			}
		})
		if err != nil {
			return Course{}, err
		}
		carry(read, c.Seen)
		for i, lips := range read {
			width := lips[1].s - lips[0].s
			if c.Seen[i] = c.Seen[i] && width > -1 && width < gapWidest; c.Seen[i] {
				l := &looks[i]
				mid[i] = l.p.AddScaled((lips[0].s+lips[1].s)/2, l.f.Cross(l.u)).AddScaled((lips[0].level+lips[1].level)/2, l.u)
				c.Width[i] = width
				fell[i] = lips[0].deep > lipSeen && lips[1].deep > lipSeen
			}
		}
		c.settle(mid, along, out)
		c.Outward = out
		c.tally(read, fell, bridged)
	}
	return c, ctx.Err()
}

// tally tells the shares of a course's places at which both lips fall away, a groove or a gentle one was read, or the gap is bridged.
func (c *Course) tally(read [][2]lip, fell, bridged []bool) {
	seen, fallen, bridges, grooves, gentles := 0, 0, 0, 0, 0
	for i := range read {
		if c.Seen[i] {
			seen++
			if fell[i] {
				fallen++
			}
			if read[i][0].groove {
				grooves++
			}
			if read[i][0].gentle {
				gentles++
			}
		}
		if bridged[i] {
			bridges++
		}
	}
	c.lips = float64(fallen) / float64(max(1, seen))
	c.Grooved, c.gentle = float64(grooves)/float64(max(1, seen)), float64(gentles)/float64(max(1, seen))
	c.Bridged = float64(bridges) / float64(len(read))
}

// look is what was read of a gap at a place.
type look struct {
	p, f, u     geom.Vec
	lips        [2]lip
	ok, bridged bool
}

func (l *looker) at(p, f, u geom.Vec) look {
	lips, ok, bridged := l.look(p, f, u)
	return look{p, f, u, lips, ok, bridged}
}

// stands reports whether what was read there holds for a place at p as well.
func (l *look) stands(p, f, u geom.Vec) bool {
	return l.p.Dist(p) <= looksFor && l.f.Dot(f) >= turnedFor && l.u.Dot(u) >= turnedFor
}

// carry carries lips that were seen part of the way on to where their noses would
// be, by how far the seam's fully seen lips of the same side reach beyond that depth.
func carry(read [][2]lip, seen []bool) {
	const fully = 1.3 // mm deep: past the nose of the usual hem, or within 0.2 mm of that of one of 3 mm
	for side := range 2 {
		var beyond [levels][]float64
		for i := range read {
			if l := &read[i][side]; seen[i] && l.deep >= fully && !l.groove {
				for k, x := range l.at {
					if x == x {
						beyond[k] = append(beyond[k], x)
					}
				}
			}
		}
		toward := float64(1 - 2*side) // from the nose of A to larger s, of B to smaller
		for i := range read {
			l := &read[i][side]
			if !seen[i] || l.deep >= fully || l.groove {
				continue
			}
			if l.deep < depths[0] && 2*len(beyond[0]) > len(read) {
				// Elsewhere the panel's edge falls away: here it was not seen at all.
				seen[i] = false
				continue
			}
			for k := levels - 1; k >= 0; k-- {
				if x := l.at[k]; x == x && len(beyond[k]) >= 5 {
					l.s += float64(toward * max(0, median(beyond[k])-x))
					break
				}
			}
		}
	}
}

// spread lays places at equal distances on a path.
func spread(path, outward []geom.Vec) (at, out []geom.Vec) {
	long := lengthOf(path)
	if long == 0 || len(path) != len(outward) {
		return nil, nil
	}
	n := max(1, int(long/spacing+0.5))
	k, passed := 1, 0.0
	for i := range n + 1 {
		s := long * float64(i) / float64(n)
		for k < len(path)-1 && passed+path[k].Dist(path[k-1]) < s {
			passed += path[k].Dist(path[k-1])
			k++
		}
		t := 0.0
		if l := path[k].Dist(path[k-1]); l > 0 {
			t = min(1, (s-passed)/l)
		}
		u := outward[k-1].Lerp(outward[k], t).Unit()
		if u == (geom.Vec{}) {
			u = outward[k]
		}
		at, out = append(at, path[k-1].Lerp(path[k], t)), append(out, u)
	}
	return at, out
}

// directions returns the unit direction of a path at each of its points, over two to either side.
func directions(path []geom.Vec) []geom.Vec {
	d := make([]geom.Vec, len(path))
	for i := range path {
		d[i] = path[min(len(path)-1, i+2)].Sub(path[max(0, i-2)]).Unit()
	}
	return d
}

// settle moves the path to the middles that were seen: places out of line with
// their neighbours are left out, the rest smoothed, and what was not seen lies between.
func (c *Course) settle(mid, along, out []geom.Vec) {
	n := len(c.Path)
	aside, up := make([]float64, n), make([]float64, n)
	for i := range n {
		if c.Seen[i] {
			d := mid[i].Sub(c.Path[i])
			aside[i], up[i] = d.Dot(along[i].Cross(out[i])), d.Dot(out[i])
		}
	}
	keep := make([]bool, n)
	for i := range n {
		if !c.Seen[i] {
			continue
		}
		var a, h []float64
		for k := max(0, i-4); k <= min(n-1, i+4); k++ {
			if c.Seen[k] {
				a, h = append(a, aside[k]), append(h, up[k])
			}
		}
		keep[i] = len(a) >= 3 && math.Abs(aside[i]-median(a)) <= mostAside && math.Abs(up[i]-median(h)) <= mostUpAside
	}
	copy(c.Seen, keep)
	aside, up = smooth(aside, c.Seen), smooth(up, c.Seen)
	for i := range n {
		c.Path[i] = c.Path[i].AddScaled(aside[i], along[i].Cross(out[i])).AddScaled(up[i], out[i])
	}
	c.bridge()
}

// bridge lays the path over stretches where nothing was seen as the cubic that
// leaves and meets the seen path in its own direction.
func (c *Course) bridge() {
	const run = 6 // places by which that direction is told: 30 mm
	last := -1
	for i := range c.Path {
		if !c.Seen[i] {
			continue
		}
		if last >= 0 && i-last > 1 {
			a, b := c.Path[last], c.Path[i]
			long := a.Dist(b)
			before, after := max(0, last-run), min(len(c.Path)-1, i+run)
			for before < last && !c.Seen[before] {
				before++
			}
			for after > i && !c.Seen[after] {
				after--
			}
			ta, tb := b.Sub(a), b.Sub(a)
			if last-before >= run/2 {
				ta = a.Sub(c.Path[before]).Unit().Scale(long)
			}
			if after-i >= run/2 {
				tb = c.Path[after].Sub(b).Unit().Scale(long)
			}
			for k := last + 1; k < i; k++ {
				t := float64(k-last) / float64(i-last)
				t2 := float64(t * t)
				t3 := float64(t2 * t)
				c.Path[k] = a.Scale(1+float64(2*t3)-float64(3*t2)).AddScaled(t3-float64(2*t2)+t, ta).
					AddScaled(float64(3*t2)-float64(2*t3), b).AddScaled(t3-t2, tb)
			}
		}
		last = i
	}
}

// smooth fits a parabola to the known values within 4 places of each, a straight line
// where they lie on one side only, and bridges what has no neighbours by a straight line.
func smooth(v []float64, known []bool) []float64 {
	const reach = 4
	n := len(v)
	out, have := make([]float64, n), make([]bool, n)
	for i := range n {
		var s0, s1, s2, s3, s4, t0, t1, t2 float64
		before, after := 0, 0
		for k := max(0, i-reach); k <= min(n-1, i+reach); k++ {
			if !known[k] {
				continue
			}
			switch {
			case k <= i:
				before++
			default:
				after++
			}
			x := float64(k - i)
			x2 := float64(x * x)
			s0++
			s1 += x
			s2 += x2
			s3 += float64(x2 * x)
			s4 += float64(x2 * x2)
			t0 += v[k]
			t1 += float64(x * v[k])
			t2 += float64(x2 * v[k])
		}
		switch {
		case !known[i] && (before == 0 || after == 0) || s0 < 2:
			continue
		case s0 >= 5 && before >= 2 && after >= 2:
			// Normal equations of the parabola, by Cramer's rule; its value at x = 0.
			det := float64(s0*(float64(s2*s4)-float64(s3*s3))) - float64(s1*(float64(s1*s4)-float64(s2*s3))) + float64(s2*(float64(s1*s3)-float64(s2*s2)))
			num := float64(t0*(float64(s2*s4)-float64(s3*s3))) - float64(s1*(float64(t1*s4)-float64(s3*t2))) + float64(s2*(float64(t1*s3)-float64(s2*t2)))
			if det > 1e-9 {
				out[i], have[i] = num/det, true
				continue
			}
			fallthrough
		default:
			if det := float64(s0*s2) - float64(s1*s1); det > 1e-9 && s0 >= 3 {
				out[i], have[i] = (float64(t0*s2)-float64(s1*t1))/det, true
			} else {
				out[i], have[i] = t0/s0, true
			}
		}
	}
	last := -1
	for i := range n {
		if !have[i] {
			continue
		}
		for k := last + 1; k < i; k++ {
			out[k] = out[i]
			if last >= 0 {
				out[k] = out[last] + float64((out[i]-out[last])*(float64(k-last)/float64(i-last)))
			}
		}
		last = i
	}
	for k := last + 1; k < n && last >= 0; k++ {
		out[k] = out[last]
	}
	return out
}
