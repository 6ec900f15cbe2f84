package bench

import (
	"context"
	"errors"
	"time"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/gapflush"
)

// plan runs stages on what it was given, away from the bench, and posts each result as it is there.
type plan struct {
	*Bench
	job    *inspection.Inspection
	parts  *app.Parts
	placed *app.Placed

	compared *app.Compared
	scale    float64   // ppm, the scan's own scale error
	valid    []bool    // by seam: its result still holds, for the scale
	scales   []float64 // of each
	whole    bool      // the seams are stale, not only perhaps the scale
	began    time.Time // with the stage under way
}

func (p *plan) do(t task, s Stage) (err error) {
	p.began = time.Now()
	switch s {
	case Parts:
		p.parts, err = p.services.LoadParts(t.ctx, p.job, app.Settings{}, t.report)
		return p.deliver(t, s, err, func(parts *app.Parts, of *inspection.Inspection) func() {
			return func() { p.out.Parts, p.readOf = parts, of }
		}(p.parts, p.job))
	case Place:
		p.placed, err = p.services.Place(t.ctx, p.job, p.parts, app.Settings{}, t.report)
		return p.deliver(t, s, err, func(placed *app.Placed) func() {
			return func() { p.out.Placed = placed }
		}(p.placed))
	case Surface:
		placed := p.placed
		compared, err := p.services.Compare(t.ctx, p.job, p.parts, placed, app.Settings{Measured: func(f *deviation.Field) {
			t.post(func() {
				p.early, p.earlyOn = f, placed
				p.Listen(ColoursChanged)
			})
		}}, t.report)
		p.compared = compared
		return p.deliver(t, s, err, func() { p.out.Compared, p.early = compared, nil })
	case Trust:
		return p.trust(t)
	case Seams:
		return p.measure(t)
	}
	return nil
}

// deliver posts the result of a finished stage.
func (p *plan) deliver(t task, s Stage, err error, keep func()) error {
	if err != nil {
		return err
	}
	now := stint{p.began, time.Since(p.began)}
	t.post(func() {
		p.stints[s.String()] = now
		keep()
		p.finished(s)
	})
	return nil
}

// finished marks a stage done and tells whoever listens.
func (b *Bench) finished(s Stage) {
	b.stages[s] = status{done: true}
	b.gather()
	b.Listen(ResultsChanged)
}

// unexamined reports whether nothing is known of the meshes by themselves yet.
func (b *Bench) unexamined() bool { return b.out.Parts != nil && b.out.Parts.Unexamined() }

// examine looks at the meshes by themselves, unless that was done; placed is how the scan was placed meanwhile. What is found
// is kept on the bench while the work waits, as both look at the parts.
func (b *Bench) examine(t task, parts *app.Parts, placed *app.Placed) error {
	if t.ctx.Err() != nil || parts == nil || !parts.Unexamined() {
		return t.ctx.Err()
	}
	e, err := b.services.Examine(t.ctx, parts, app.Settings{}, t.report)
	if err != nil {
		return err
	}
	taken := make(chan struct{})
	t.post(func() {
		parts.Take(e, placed)
		b.Listen(ResultsChanged)
		close(taken)
	})
	select {
	case <-taken:
		return nil
	case <-t.ctx.Done():
		return t.ctx.Err()
	}
}

// trust looks what the scan can be trusted with. What that says of its scale counts in every gap.
func (p *plan) trust(t task) error {
	compared := p.compared
	if p.job.Reference == nil {
		compared = nil
	}
	found, err := p.services.Trust(t.ctx, p.job, p.parts, p.placed, compared, app.Settings{}, t.report)
	if err == nil {
		p.scale = found.Growth.ScalePPM()
	}
	scale := p.scale
	return p.deliver(t, Trust, err, func() {
		p.out.Take(found)
		p.Bench.scale = scale
	})
}

// measure measures the seams whose results no longer hold.
func (p *plan) measure(t task) error {
	same := !p.whole
	for k := range p.job.Seams {
		same = same && k < len(p.valid) && p.valid[k] && p.scales[k] == p.scale
	}
	if same { // nothing hangs on what has changed
		return nil
	}
	if !p.job.Complete() || !app.LaidOn(p.job, p.parts, p.placed) {
		if err := p.lay(t); err != nil {
			return err
		}
	}
	settings := app.Settings{ScalePPM: p.scale}
	for k, seam := range p.job.Seams {
		if p.valid[k] && p.scales[k] == p.scale {
			continue
		}
		part := func(what string, share float64) { t.report(what, (float64(k)+share)/float64(len(p.job.Seams))) }
		r, err := p.services.MeasureSeam(t.ctx, p.job, seam, p.parts, p.placed, settings, part)
		if err != nil {
			return err
		}
		placed, scale := p.placed, p.scale
		t.post(func() { p.seamFound(k, seam, r, placed, scale) })
	}
	if len(p.job.Sections) > 0 {
		sections, err := p.services.Sections(t.ctx, p.job, p.parts, p.placed, app.Settings{}, t.report)
		if err != nil {
			return err
		}
		t.post(func() { p.out.Sections = sections })
	} else {
		t.post(func() { p.out.Sections = nil })
	}
	return p.deliver(t, Seams, nil, func() {
		p.takeNominals()
		p.Bench.seams = app.HoldSeams(p.Bench.job, p.seams)
		p.out.Checks = app.CheckSeams(p.Bench.job, p.Measured())
	})
}

// takeNominals gives seams the nominals that other seams show, once all are measured.
func (b *Bench) takeNominals() {
	if len(b.job.Nominals) == 0 || len(b.Measured()) != len(b.job.Seams) {
		return
	}
	taken, err := app.TakeNominals(b.job, b.seams)
	if err != nil {
		b.Report(err)
		return
	}
	b.seams = taken
}

// lay gives every seam its path, also anew where another mesh has taken the place of the one they were laid on. From then
// on the job on the bench is the one with paths: what was traced or found can be looked at and changed like what was drawn,
// and is saved as what it was as long as it can be.
func (p *plan) lay(t task) error {
	before := p.job
	file, _ := app.AsFiled(before)
	laid, paths, err := p.services.LaySeams(t.ctx, file, p.parts, p.placed, app.Settings{}, t.report)
	if err != nil {
		return err
	}
	now := stint{p.began, time.Since(p.began)}
	p.began = time.Now()
	p.job, p.valid, p.scales = laid, make([]bool, len(laid.Seams)), make([]float64, len(laid.Seams))
	t.post(func() {
		p.stints[timePaths] = now
		if p.saved == before {
			p.saved = laid
		}
		p.Bench.job, p.out.Inspection, p.out.Paths = laid, laid, paths
		p.keepSeams()
		p.seam = min(p.seam, max(0, len(laid.Seams)-1))
		p.jobChanged()
	})
	return nil
}

// seamFound keeps the result of a seam; the first seam of a job marks itself.
func (b *Bench) seamFound(k int, spec gapflush.Seam, r *gapflush.Result, ground *app.Placed, scale float64) {
	r = app.HoldSeams(b.job, []*gapflush.Result{r})[0]
	b.seams[k], b.specs[k], b.ground[k], b.scales[k] = r, spec, ground, scale
	b.gather()
	if k == b.seam {
		station := b.station
		if station < 0 {
			station = Worst(r)
		}
		b.Select(k, station)
	}
	b.Listen(ResultsChanged)
}

// FindSeams looks for shut lines that the job does not measure yet and hands them
// to done. It ends work under way, which goes on afterwards.
func (b *Bench) FindSeams(done func(list []app.SeamPath, err error)) {
	if b.job == nil || b.out.Placed == nil {
		return
	}
	job, parts, placed := b.job, b.out.Parts, b.out.Placed
	var list []app.SeamPath
	b.start(Seams, func(t task) (err error) {
		list, err = b.services.FindSeams(t.ctx, job, parts, placed, app.Settings{}, t.report)
		return err
	}, func(err error) {
		done(list, err)
		if len(b.needed()) > 0 && !errors.Is(err, context.Canceled) {
			b.Refresh()
		}
	})
}

// WriteEvidence writes all results into a folder and calls done with its name.
func (b *Bench) WriteEvidence(dir string, replace bool, done func(dir string, err error)) {
	if b.job == nil || b.out.Placed == nil {
		return
	}
	out, job := b.out, b.job
	out.Paths = app.PathsOf(job)
	b.timed(&out)
	b.start(Evidence, func(t task) error {
		if err := b.examine(t, out.Parts, out.Placed); err != nil { // the work was stopped before
			return err
		}
		return b.services.Write(t.ctx, &out, dir, app.WriteOptions{Replace: replace}, t.report)
	}, func(err error) {
		if errors.Is(err, context.Canceled) {
			return
		}
		if err == nil {
			b.Written, b.Wrote, b.writtenOf = dir, dir, job
			b.stages[Evidence] = status{done: true}
		}
		done(dir, err)
		b.Listen(ResultsChanged)
	})
}
