package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// leastSaid in mm: a stretch that is nearer than the fit's own aim is said to be within this.
const leastSaid = 0.01

// byBorders lets the borders of the part decide where the surface leaves the scan free, and returns the placement so held;
// nil where they do not. A border counts where a stretch of it lies along one of the reference's, scatters no
// more than its facets explain, and agrees with all others about one motion that the surface allows; and only as far as the
// others confirm it: two that face one another across the part, or one whose shape cannot be slid along itself.
func (f *fit) byBorders(ctx context.Context, p *Placement, progress mesh.Progress) (*Placement, error) {
	if len(f.cloud.mesh.Faces) == 0 || !f.cloud.signed || p.directionsFree == 0 {
		return nil, nil
	}
	set, err := f.borderSet(ctx)
	if err != nil || set == nil {
		return nil, err
	}
	w := borderWalk{f: f, m: *f.matcher, set: set, sd: max(borderScatter*set.spacing, borderFloor), scale: borderReach}
	r, h, ok, err := w.walk(ctx, p.ReferenceFromScan, progress.Part(0, 0.5))
	if err != nil || !ok {
		return nil, err
	}
	runs, s := w.held(r.g, h.notHeld, h.centre, h.lever)
	if s == nil {
		return nil, nil
	}
	if r, err = w.m.settle(ctx, r.g, f.draw(finalPoints, seedFinal), exactLast, progress.Part(0.5, 1)); err != nil {
		return nil, err
	}
	r.borders = func(free []vec6, centre geom.Vec, lever float64) [][]float64 {
		if _, s := w.held(r.g, free, centre, lever); s != nil {
			return s.cov
		}
		return nil
	}
	out := f.describe("best-fit", &r)
	if out.directionsFree >= p.directionsFree {
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
	out.Notes = append(out.Notes, fmt.Sprintf("Where the surface leaves the scan free, the part's borders hold it: %s along the reference's to within %.2g mm.", stretches, max(worst, leastSaid)))
	return &out, nil
}

// borderWalk slides a scan to where its borders lie along the reference's.
type borderWalk struct {
	f     *fit
	m     matcher
	set   *borderSet
	sd    float64 // mm, that a border of the part scatters by
	scale float64 // mm, how far borders may lie from one another; it falls as they meet
}

// walk moves the scan from g along the motions that its surface leaves free, h.notHeld, until its borders lie along the
// reference's; the surface keeps the rest of the pose. ok is false where the borders show too little, or lead farther than the
// surface allows.
func (w *borderWalk) walk(ctx context.Context, g geom.Rigid, progress mesh.Progress) (r rest, h held, ok bool, err error) {
	points := w.f.draw(borderPoints, seedFinal)
	if r, err = w.m.settle(ctx, g, points, exactLast, nil); err != nil {
		return r, h, false, err
	}
	h = holdOf(&r, w.f.ref, w.f.settings.Threads)
	k := len(h.notHeld)
	if k == 0 || k > mostFree {
		return r, h, false, nil
	}
	w.m.lock = w.m.locked(h.notHeld, h.centre, h.lever)
	prior := make([]float64, k)
	for i, s := range h.looseSigma {
		prior[i] = 1 / (s * s) // nothing for what is free altogether
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
		if math.Abs(moved[i]) > float64(predicted*sigma)+w.sd {
			return r, h, false, nil
		}
	}
	return r, h, true, nil
}

// held returns what the borders show at a pose of the motions given, nil where they show nothing.
func (w *borderWalk) held(g geom.Rigid, free []vec6, centre geom.Vec, lever float64) ([]run, *borderSolution) {
	k, none := len(free), make([]float64, len(free))
	runs, sights := w.set.sights(g, free, centre, lever, w.scale)
	if observations(sights) < float64(k+1) {
		return nil, nil
	}
	runs, sights = scattered(runs, sights, k, w.set.solve(sights, k, 0, none, none).inset, w.sd)
	s := w.set.solve(sights, k, 0, none, none)
	s = w.set.solve(sights, k, s.inset, none, none)
	// Where the inset is not nothing these are ends of the scan, and not of the part.
	if observations(sights) < float64(k+1) || math.Abs(s.inset) > 2*w.sd {
		return nil, nil
	}
	return runs, s
}
