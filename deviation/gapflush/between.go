package gapflush

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Stations that stand close together are measured from nearly the same points. What a seam shares is taken from some of
// them, which are looked at first; those between begin from what these found, carried along the edges.
const (
	// lookApart is how far apart, mm, stations that are looked at first stand at most: an edge is followed in slabs that
	// are as long, so that nothing lies between them that neither has seen.
	lookApart = 2 * slabStep
	// lookLeast is how many of them say what a seam shares.
	lookLeast = 48
)

// lookStep is of how many stations one is looked at first.
func (j *job) lookStep() int {
	return max(min(int(lookApart/j.seam.Every), len(j.at)/lookLeast), 1)
}

// look says what is known of every station, and where its edges run, before it is measured.
func (j *job) look(ctx context.Context, c *cutter, progress mesh.Progress) ([]known, []raw, error) {
	step := j.lookStep()
	if step == 1 {
		return j.lookAtAll(ctx, c, progress)
	}
	some := *j
	some.at, some.ref = nil, nil
	some.seam.Every *= float64(step)
	for i := step / 2; i < len(j.at); i += step {
		some.at = append(some.at, j.at[i])
		if j.ref != nil {
			some.ref = append(some.ref, j.ref[i])
		}
	}
	kn, first, err := some.lookAtAll(ctx, c, progress)
	if err != nil {
		return nil, nil, err
	}
	j.noise = some.noise
	return j.between(ctx, c, kn, first, step)
}

// lookAtAll looks at every station of a job, and takes together what they have in common.
func (j *job) lookAtAll(ctx context.Context, c *cutter, progress mesh.Progress) ([]known, []raw, error) {
	kn, err := j.before(ctx, c)
	if err != nil {
		return nil, nil, err
	}
	first, err := j.lookEvenly(ctx, c, kn, progress)
	if err != nil {
		return nil, nil, err
	}
	pitches(first, kn, j.stride())
	j.poolForms(first, kn)
	j.poolGrazed(first, kn)
	j.poolRadius(first, kn, j.poolSmoothing(first, kn))
	return kn, first, j.poolShortArcs(ctx, c, first, kn)
}

// between gives all stations what every step-th of them, from half a step on, was found to be. Where one
// beside a station holds no two edges that are followed, that station is looked at for itself.
func (j *job) between(ctx context.Context, c *cutter, some []known, seen []raw, step int) ([]known, []raw, error) {
	kn, first := make([]known, len(j.at)), make([]raw, len(j.at))
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, len(j.at), stationChunk, j.set.Threads, nil, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			nearest := min(i/step, len(seen)-1)
			kn[i] = some[nearest]
			off := i - (nearest*step + step/2)
			other := nearest
			switch {
			case off == 0:
				first[i] = seen[nearest]
				continue
			case off > 0:
				other = min(nearest+1, len(seen)-1)
			default:
				other = max(nearest-1, 0)
			}
			if a, b := &seen[nearest], &seen[other]; a.followed() && b.followed() {
				share := math.Abs(float64(off)) / float64(step)
				if o, ok := a.movedAlong(j.at[i], j.path.at(j.at[i]), a.frame.u.Lerp(b.frame.u, share)); ok {
					first[i] = o
					continue
				}
			}
			first[i] = c.trace(&workers[w], j.at[i], kn[i], j.hint(c, i))
		}
	})
	refuseTurned(first, j.stride())
	return kn, first, err
}

// followed reports whether a station's edges were followed to its slabs beside the middle one, on both sides.
func (o *raw) followed() bool {
	return o.traced && (o.state == Measured || o.state == NoseUnseen) && o.curves[A].slabs > 0 && o.curves[B].slabs > 0
}

// movedAlong returns where a station finds its edges that stands a little along, at p, by those of this one;
// outward is the direction it takes for that. ok is false where p does not lie along these edges.
func (o *raw) movedAlong(along float64, p, outward geom.Vec) (to raw, ok bool) {
	old := &o.frame
	x0, y0, h0 := old.local(p)
	if math.Abs(x0) > 2*lookApart || math.Abs(y0) > lookApart || math.Abs(h0) > lookApart {
		return to, false
	}
	ca, cb := &o.curves[A], &o.curves[B]
	slope := float64((ca.s1-cb.s1)/2) + float64((ca.s2-cb.s2)*x0)
	rise := float64((ca.h1+cb.h1)/2) + float64((ca.h2+cb.h2)*x0)
	f := old.f.AddScaled(slope, old.a).AddScaled(rise, old.u).Unit()
	to = raw{along: along, frame: newFrame(p, f, outward), spread: o.spread, outU: true, traced: true, apart: o.apart, wellKnown: o.wellKnown, seenA: o.seenA}
	r := &to.frame
	for k := A; k <= B; k++ {
		flip := 1.0
		if k == B {
			flip = -1
		}
		cv := &o.curves[k]
		// Where as many knots of the edge lie as it was laid through.
		knots := make([]knot, cv.slabs)
		for i := range knots {
			x := x0 + float64(slabStep*(float64(i)-float64(float64(cv.slabs-1)/2)))
			v := old.p.AddScaled(x, old.f).AddScaled(flip*cv.y(x), old.a).AddScaled(cv.h(x), old.u)
			x, y, h := r.local(v)
			knots[i] = knot{x, flip * y, h}
		}
		if to.curves[k], ok = fitCurve(knots); !ok {
			return to, false
		}
		now := &to.curves[k]
		dy := now.s0 - cv.s0
		// The skin leans against the new frame by as much more as that has turned.
		skin := old.a.Scale(flip).AddScaled(o.lines[k].m, old.u)
		m := skin.Dot(r.u) / (flip * skin.Dot(r.a))
		to.lines[k] = line{h0: now.h0 - float64(m*now.s0), m: m, g: now.h1}
		to.ends[k] = o.ends[k] + dy
		to.side[k] = sideState{edge: o.side[k].edge, face: o.side[k].face}
		to.side[k].edge.s += dy
		to.side[k].face.carry(x0, dy, m-o.lines[k].m, old, r, flip)
	}
	return to, true
}

// carry moves a face to the frame of a station x mm along, in which its edge lies dy farther on and across which it
// leans by so much more: near enough to begin a fit with.
func (f *face) carry(x, dy, lean float64, old, to *frame, flip float64) {
	t := float64(x / alongScale)
	g := f.g
	at := f.course(t)
	// The powers of t about the new place; the new frame's own direction is taken out of the first.
	f.g = [4]float64{
		g[0] + float64(t*(float64(2*g[1])+float64(t*(float64(3*g[2])+float64(4*t*g[3]))))),
		g[1] + float64(t*(float64(3*g[2])+float64(6*t*g[3]))),
		g[2] + float64(4*t*g[3]),
		g[3],
	}
	f.g[0] -= float64(alongScale * to.f.Dot(old.u) / to.f.Dot(old.f))
	_, y, h := old.local(to.p)
	// Heights are those over the new frame, which lies h higher and leans.
	f.h0 += at - h + float64(lean*(f.y0-float64(flip*y)))
	f.m += float64(f.b*t/acrossScale) + lean
	f.y0 += dy
}
