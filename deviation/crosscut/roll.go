package crosscut

import (
	"math"

	"shutline/mesh/geom"
)

// roll is a run of places read as an arc with a straight at either end, each tangent to it. The arc goes from from to to, in
// places along the run, 2.5 is midway between the third and the fourth; those before and after lie on the straights.
type roll struct {
	from, to float64
	centre   Point2
	r        float64
	left     float64 // mm², the sum of squared distances from it
	unit     float64 // the variance of r when that of a place is 1, for this from and to
	arc      float64 // radians
	ok       bool
}

// trail is a run of places, and the way along it with the to and fro of noise taken out.
type trail struct{ at, way []Point2 }

// evened is over how many places either way the way along a trail is averaged.
const evened = 2

func newTrail(run []Point2) trail {
	way := make([]Point2, len(run))
	for k := range run {
		// The same number either way, so that the ends stay where they are.
		reach := min(evened, k, len(run)-1-k)
		for _, p := range run[k-reach : k+reach+1] {
			way[k].H += p.H / float64(2*reach+1)
			way[k].V += p.V / float64(2*reach+1)
		}
	}
	return trail{run, way}
}

// along returns the place so far along a trail.
func (t trail) along(at float64) Point2 {
	k := max(0, min(len(t.way)-2, int(at)))
	part := at - float64(k)
	a, b := t.way[k], t.way[k+1]
	return Point2{a.H + float64(part*(b.H-a.H)), a.V + float64(part*(b.V-a.V))}
}

// distance returns how far place k lies off the roll and its slopes by centre and radius.
func (f *roll) distance(run trail, k int) (e float64, by geom.Vec) {
	h, v := run.at[k].H-f.centre.H, run.at[k].V-f.centre.V
	foot := run.at[k]
	if float64(k) < f.from {
		foot = run.along(f.from)
	} else if float64(k) > f.to {
		foot = run.along(f.to)
	}
	fh, fv := foot.H-f.centre.H, foot.V-f.centre.V
	d := math.Sqrt(float64(fh*fh) + float64(fv*fv))
	if d == 0 {
		return 0, by
	}
	fh, fv = fh/d, fv/d
	off := float64(h*fh) + float64(v*fv)
	// The straight is tangent where the arc's last place is seen from the centre: moving that turns it.
	lever := (float64(v*fh) - float64(h*fv)) / d
	return off - f.r, geom.Vec{X: -fh + float64(lever*fv), Y: -fv - float64(lever*fh), Z: -1}
}

func (f *roll) sum(run trail) float64 {
	s := 0.0
	for k := range run.at {
		e, _ := f.distance(run, k)
		s += float64(e * e)
	}
	return s
}

// fit moves centre and radius to where the sum of squared distances is least (Gauss and Newton's steps, halved
// where they overshoot).
func (f *roll) fit(run trail) {
	const (
		steps   = 25
		halves  = 8
		settled = 1e-9 // of the sum
	)
	f.ok = false
	f.left = f.sum(run)
	var normal geom.Mat3
	for range steps {
		normal = geom.Mat3{}
		var g geom.Vec
		for k := range run.at {
			e, j := f.distance(run, k)
			g = g.AddScaled(-e, j)
			for row := range 3 {
				for col := range 3 {
					normal[row][col] += float64(j.At(row) * j.At(col))
				}
			}
		}
		move, ok := solve(normal, g)
		if !ok {
			return
		}
		before, share := *f, 1.0
		better := false
		for range halves {
			f.centre = Point2{before.centre.H + float64(share*move.X), before.centre.V + float64(share*move.Y)}
			f.r = before.r + float64(share*move.Z)
			if f.r > 0 {
				if f.left = f.sum(run); f.left <= before.left {
					better = true
					break
				}
			}
			share /= 2
		}
		if !better {
			*f = before
			break
		}
		if before.left-f.left <= float64(settled*before.left) {
			break
		}
	}
	unit, ok := solve(normal, geom.Vec{Z: 1})
	if !ok || !(unit.Z > 0) || !(f.r > 0) || math.IsInf(f.r, 0) || math.IsNaN(f.left) {
		return
	}
	f.unit, f.arc, f.ok = unit.Z, math.Abs(f.turned(run)), true
}

// turned is the angle by which the places from from to to go round the centre.
func (f *roll) turned(run trail) float64 {
	sum, last := 0.0, run.along(f.from)
	to := func(p Point2) {
		sum += turn(Point2{last.H - f.centre.H, last.V - f.centre.V}, Point2{p.H - f.centre.H, p.V - f.centre.V})
		last = p
	}
	for k := int(f.from) + 1; float64(k) < f.to; k++ {
		to(run.way[k])
	}
	to(run.along(f.to))
	return sum
}

// circleThrough is Kåsa's algebraic circle (1976) of some places: where a geometric fit begins.
func circleThrough(run []Point2) (centre Point2, r float64, ok bool) {
	n := float64(len(run))
	var mh, mv float64
	for _, p := range run {
		mh += p.H
		mv += p.V
	}
	mh, mv = mh/n, mv/n
	var hh, hv, vv, hz, vz, mz float64
	for _, p := range run {
		h, v := p.H-mh, p.V-mv
		z := float64(h*h) + float64(v*v)
		hh += float64(h * h)
		hv += float64(h * v)
		vv += float64(v * v)
		hz += float64(h * z)
		vz += float64(v * z)
		mz += z
	}
	det := float64(hh*vv) - float64(hv*hv)
	if !(det > float64(1e-12*float64((hh+vv)*(hh+vv)))) {
		return centre, 0, false
	}
	a, b := (float64(hz*vv)-float64(vz*hv))/(2*det), (float64(vz*hh)-float64(hz*hv))/(2*det)
	r = math.Sqrt(float64(a*a) + float64(b*b) + mz/n)
	return Point2{mh + a, mv + b}, r, r > 0 && !math.IsInf(r, 0)
}

const (
	// rollSteps is how many places for the end of the arc are tried along a run.
	rollSteps = 16
	// leastOnArc is how many places an arc with straights beside it must hold: three make a circle, one more checks it.
	leastOnArc = 4
)

// rolls fits arcs of every length along a run, with straights where they end, from the whole run inward: each begins at
// the best of those just longer, or at the circle through its own places. Last come those about the best, ever closer to it.
func rolls(run trail) (list []roll, best roll) {
	n := len(run.at)
	var ends []int
	for k := range rollSteps + 1 {
		at := k * (n - 1) / rollSteps
		if len(ends) == 0 || at > ends[len(ends)-1] {
			ends = append(ends, at)
		}
	}
	m := len(ends)
	fitted := make([]roll, m*m)
	best.left = math.Inf(1)
	add := func(f roll) {
		if f.ok {
			list = append(list, f)
			if f.left < best.left {
				best = f
			}
		}
	}
	for span := m - 1; span > 0; span-- {
		for a := 0; a+span < m; a++ {
			b := a + span
			from, to := ends[a], ends[b]
			if to-from+1 < leastOnArc {
				continue
			}
			f := roll{left: math.Inf(1)}
			try := func(centre Point2, r float64) {
				g := roll{from: float64(from), to: float64(to), centre: centre, r: r}
				if g.left = g.sum(run); g.left < f.left {
					f = g
				}
			}
			if centre, r, ok := circleThrough(run.at[from : to+1]); ok {
				try(centre, r)
			}
			if a > 0 && fitted[(a-1)*m+b].ok {
				try(fitted[(a-1)*m+b].centre, fitted[(a-1)*m+b].r)
			}
			if b < m-1 && fitted[a*m+b+1].ok {
				try(fitted[a*m+b+1].centre, fitted[a*m+b+1].r)
			}
			if !math.IsInf(f.left, 1) {
				f.fit(run)
				fitted[a*m+b] = f
				add(f)
			}
		}
	}
	if !best.ok {
		return nil, best
	}
	for step := float64(n) / rollSteps / 2; step > leastStep; {
		before := best
		for _, d := range [][2]float64{{-1, 0}, {1, 0}, {0, -1}, {0, 1}, {-1, -1}, {1, 1}, {-1, 1}, {1, -1}} {
			f := before
			f.from, f.to = min(float64(n-1), max(0, before.from+float64(step*d[0]))), min(float64(n-1), max(0, before.to+float64(step*d[1])))
			if f.to-f.from+1 < leastOnArc || f.from == before.from && f.to == before.to {
				continue
			}
			f.fit(run)
			add(f)
		}
		if best.left >= before.left {
			step /= 2
		}
	}
	return list, best
}

// leastStep is how closely the ends of the best arc are sought, in places.
const leastStep = 0.1
