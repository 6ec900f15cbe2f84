package align

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// leastSaid in mm: a stretch that is nearer than the fit's own aim is said to be within this.
const leastSaid = 0.01

// heldBy lets the borders of the part decide where the surface leaves the scan free, and returns the placement so held;
// nil where they do not. A border counts where a stretch of it lies along one of the reference's, scatters no
// more than its facets explain, and agrees with all others about one motion that the surface allows; and only as far as the
// others confirm it: two that face one another across the part, or one whose shape cannot be slid along itself. chosen says
// that skin and borders have spoken for this pose rather than for where the skin comes to rest: that limits nothing then.
func (f *fit) heldBy(ctx context.Context, set *borderSet, p *Placement, chosen bool, progress mesh.Progress) (*Placement, error) {
	if p.weakest() <= weakSigma {
		return nil, nil
	}
	w := f.walkOn(set)
	w.chosen = chosen
	r, h, ok, err := w.walk(ctx, p.ReferenceFromScan, borderPoints, progress.Part(0, 0.5))
	if err != nil || !ok {
		return nil, err
	}
	runs, s := w.held(r.g, &h)
	if s == nil {
		return nil, nil
	}
	if r, err = w.m.settle(ctx, r.g, f.draw(finalPoints, seedFinal), exactLast, progress.Part(0.5, 1)); err != nil {
		return nil, err
	}
	r.heldTo = w.heldTo
	r.borders = func(h *held) [][]float64 {
		if _, s := w.held(r.g, h); s != nil {
			return s.cov
		}
		return nil
	}
	out := f.describe("best-fit", &r)
	if p.directionsFree > 0 && out.directionsFree >= p.directionsFree {
		return nil, nil
	}
	length, worst := 0.0, 0.0
	for _, u := range runs {
		worst = max(worst, u.left)
		length += u.length
		out.Borders = append(out.Borders, BorderRun{Middle: meanOf(u.at), Length: u.length, Left: u.left})
	}
	stretches := "one stretch of the scan's lies"
	if len(runs) > 1 {
		stretches = fmt.Sprintf("%d stretches of the scan's, %.0f mm in all, lie", len(runs), length)
	}
	out.Notes = append(out.Notes, fmt.Sprintf("Where the surface leaves the scan free or holds it weakly, the part's borders hold it: %s along the reference's to within %.2g mm.", stretches, max(worst, leastSaid)))
	out.described = len(out.Notes)
	return &out, nil
}

// borderWalk slides a scan to where its borders lie along the reference's.
type borderWalk struct {
	f     *fit
	m     matcher
	set   *borderSet
	sd    float64 // mm, that a border of the part scatters by
	scale float64 // mm, how far borders may lie from one another; it falls as they meet
	// heldTo in mm: what the surface knows no better is asked of the borders.
	heldTo float64
	// alongSkin asks the borders for the motions along the skin whatever the surface says of them.
	alongSkin bool
	chosen    bool // as of heldBy
}

func (f *fit) walkOn(set *borderSet) borderWalk {
	return borderWalk{f: f, m: *f.matcher, set: set, sd: set.sd(), scale: borderReach}
}

// walk moves the scan, of which n points are used, from g along the motions that its surface leaves free, h.notHeld, until its borders lie along the
// reference's; the surface keeps the rest of the pose. ok is false where the borders show too little, or lead farther than the
// surface allows.
func (w *borderWalk) walk(ctx context.Context, g geom.Rigid, n int, progress mesh.Progress) (r rest, h held, ok bool, err error) {
	points := w.f.draw(n, seedFinal)
	if r, err = w.m.settle(ctx, g, points, exactLast, nil); err != nil {
		return r, h, false, err
	}
	for _, w.heldTo = range [2]float64{weakSigma, heldSigma} {
		r.heldTo = w.heldTo
		if h = holdOf(&r, w.f.ref, w.f.settings.Threads); len(h.notHeld) <= mostFree {
			break
		}
	}
	if w.alongSkin {
		h.notHeld, h.looseSigma = h.weakest[:mostOfSkin], slices.Repeat([]float64{math.Inf(1)}, mostOfSkin)
	}
	k := len(h.notHeld)
	if k == 0 || k > mostFree {
		return r, h, false, nil
	}
	w.m.lock = w.m.locked(h.notHeld, h.centre, h.lever)
	prior := make([]float64, k)
	if !w.chosen {
		for i, s := range h.looseSigma {
			prior[i] = 1 / (s * s) // nothing for what is free altogether
		}
	}
	moved := make([]float64, k)
	for turn := range borderTurns {
		progress.Report(float64(turn) / borderTurns)
		_, sights := w.set.sights(r.g, h.notHeld, h.centre, h.lever, w.scale)
		if observations(sights) < float64(k+1) {
			return r, h, false, nil
		}
		s := w.set.solve(sights, k, 0, prior, moved)
		var x vec6
		for i, m := range s.move {
			moved[i] += m
			for c := range 6 {
				x[c] += float64(m * h.notHeld[i][c])
			}
		}
		if r, err = w.m.settle(ctx, moveBy(r.g, x, h.centre, h.lever), points, exactLast, nil); err != nil {
			return r, h, false, err
		}
		w.scale = max(w.scale/2, float64(3*w.sd)+math.Abs(s.inset))
	}
	for i, sigma := range h.looseSigma {
		if !w.chosen && math.Abs(moved[i]) > float64(predicted*sigma)+w.sd {
			return r, h, false, nil
		}
	}
	return r, h, true, nil
}

// weakSigma in mm, half of what faces of 4 mm let borders tell: motions that the surface knows no better than this are worth asking the borders for.
const weakSigma = 0.25

// weakest is the greatest standard uncertainty of the six directions, mm at the lever; infinite where one is free.
func (p *Placement) weakest() float64 {
	most := 0.0
	for k := range p.Directions {
		if d := &p.Directions[k]; d.Free {
			return math.Inf(1)
		} else if d.Sigma > most {
			most = d.Sigma
		}
	}
	return most
}

// held returns what the borders show at a pose of the motions that the surface does not hold, nil where they show nothing.
func (w *borderWalk) held(g geom.Rigid, h *held) ([]run, *borderSolution) {
	runs, sights, s := w.shown(g, h)
	if s == nil {
		return nil, nil
	}
	k := len(h.notHeld)
	known := make([]float64, k)
	for i, sigma := range h.looseSigma {
		if sigma <= heldSigma && !w.chosen {
			known[i] = 1 / float64(sigma*sigma)
		}
	}
	return runs, w.set.solve(sights, k, s.inset, known, make([]float64, k))
}

// confirmed reports whether the borders still hold, at a pose, what they hold of these motions if any one straight stretch were no border of the part.
func (w *borderWalk) confirmed(g geom.Rigid, h *held) bool {
	_, sights, s := w.shown(g, h)
	return s != nil && w.set.confirmed(sights, len(h.notHeld), s.inset)
}

func (w *borderWalk) shown(g geom.Rigid, h *held) ([]run, []sight, *borderSolution) {
	k, none := len(h.notHeld), make([]float64, len(h.notHeld))
	runs, sights := w.set.sights(g, h.notHeld, h.centre, h.lever, w.scale)
	if observations(sights) < float64(k+1) {
		return nil, nil, nil
	}
	runs, sights = scattered(runs, sights, k, w.set.solve(sights, k, 0, none, none).inset, w.sd)
	s := w.set.solve(sights, k, 0, none, none)
	s = w.set.solve(sights, k, s.inset, none, none)
	// Where the inset is not nothing these are ends of the scan, and not of the part.
	if observations(sights) < float64(k+1) || math.Abs(s.inset) > 2*w.sd {
		return nil, nil, nil
	}
	return runs, sights, s
}
