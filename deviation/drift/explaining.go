package drift

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// rounds of looking again with the shape so far taken out: closest points slide along a
	// curved skin by the square of what was taken out.
	rounds = 3
	// settling is how often the fit by what hangs together is done again at most, with what lies where it then should, until no shape
	// changes by settled, mm.
	settling = 5
	settled  = 0.01
)

// explaining is a field on the way to its shapes.
type explaining struct {
	in      *Input
	threads int
	r       *Result
	list    []sample
	spread  float64 // mm, of samples in their cells
	x       row     // taken out so far, mm
	before  row     // taken out before the last fit
	sd      row     // how large each unknown may be
	cut     float64 // mm: what lies farther off follows no shape
	off     float64 // share of the cells that lie off here and there
	all     []cell  // as measured
	kept    []cell  // with what was taken out, those set aside marked
}

// look compares the samples anew, with what was taken out.
func (e *explaining) look(ctx context.Context) error {
	return look(ctx, e.list, &e.r.Frame, &e.x, e.in.Surface, e.in.Reach+most(&e.x), e.threads)
}

func (e *explaining) cells(keep func(s *sample) bool) []cell {
	return cellsOf(e.list, &e.r.Frame, e.r.Cell, e.spread, keep)
}

// follows says of a sample that it may follow a shape.
func (e *explaining) follows(p *sample) bool { return math.Abs(p.d) < max(e.cut, 4*e.spread) }

// gather compares the samples and lays them into cells, or says why no shape can be told.
func (e *explaining) gather(ctx context.Context, progress mesh.Progress) (why string, err error) {
	const few = "there are too few measured points to tell a shape from"
	r := e.r
	if len(e.list) < leastSamples {
		return few, nil
	}
	if err := look(ctx, e.list, nil, nil, e.in.Surface, e.in.Reach, e.threads); err != nil {
		return "", err
	}
	e.list, r.Chord = leaveCoarse(e.list)
	if len(e.list) < leastSamples {
		return few, nil
	}
	progress.Report(0.25)
	f, ok := frameOf(e.list)
	if !ok {
		return "the measured points have no extent", nil
	}
	r.Frame = f
	for i := range e.list {
		if p := &e.list[i]; p.ok {
			p.q, p.n = f.local(p.q), geom.Vec{X: p.n.Dot(f.Axes[0]), Y: p.n.Dot(f.Axes[1]), Z: p.n.Dot(f.Axes[2])}
			r.Samples++
		}
	}
	r.Cell = cellSize(e.list)
	e.spread = spreadOf(e.list, &f, r.Cell)
	e.all = e.cells(nil)
	r.Cells = len(e.all)
	if len(e.all) < leastCells {
		return "the measured points cover too little to tell a shape from", nil
	}
	return "", nil
}

// robustly takes out what most of the cells agree on.
func (e *explaining) robustly(ctx context.Context, progress mesh.Progress) error {
	f := &e.r.Frame
	e.x, _, _, _ = robustly(e.all, f, e.r.Cell)
	// Again from there: edges find their places only once the scan lies as it should.
	if err := e.look(ctx); err != nil {
		return err
	}
	var dx row
	dx, e.cut, e.sd, e.off = robustly(e.cells(nil), f, e.r.Cell)
	add(&e.x, &dx)
	progress.Report(0.4)
	e.spread = spreadOf(e.list, f, e.r.Cell)
	floor := judgeCut
	for k := range rounds {
		if err := e.look(ctx); err != nil {
			return err
		}
		e.kept = e.cells(e.follows)
		floor = max(floor/2, leastCut)
		dx, e.cut = descend(following(e.kept), row{}, &e.sd, floor)
		if k+1 < rounds {
			add(&e.x, &dx)
		}
		progress.Report(0.4 + 0.2*float64(k+1)/rounds)
	}
	return nil
}

// together takes out what is likeliest where the rest hangs together.
func (e *explaining) together(ctx context.Context) (fit correlated, err error) {
	var zero row
	var fine []cell
	var inside within
	for k := range settling {
		if k > 0 {
			// Places at edges that the robust fit, in which they count by their little area, had left off come back.
			if err := e.look(ctx); err != nil {
				return fit, err
			}
			e.kept = e.cells(e.follows)
		}
		e.before = e.x
		setAside(e.kept, &zero, e.cut, e.r.Cell)
		if fine, inside, err = finely(ctx, e.list, e.kept, &e.r.Frame, e.r.Cell, e.follows, e.threads); err != nil {
			return fit, err
		}
		if fit, err = fitCorrelated(ctx, fine, &inside, &e.r.Frame, &e.x, true, e.threads); err != nil {
			return fit, err
		}
		if !fit.ok || largest(&fit.x) < settled || k+1 == settling {
			break
		}
		add(&e.x, &fit.x)
	}
	if fit, err = fitCorrelated(ctx, fine, &inside, &e.r.Frame, &e.x, false, e.threads); err != nil || !fit.ok {
		return fit, err
	}
	add(&e.x, &fit.x)
	return fit, nil
}

func add(x, dx *row) {
	for m := range x {
		x[m] += dx[m]
	}
}
