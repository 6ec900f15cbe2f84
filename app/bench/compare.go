package bench

import (
	"context"
	"errors"

	"shutline/app"
	"shutline/app/inspection"
)

// compareResults is the service of the program that compares two results.
func compareResults(ctx context.Context, pair [2]*inspection.Inspection, s app.Settings, p app.Progress) (*app.Change, error) {
	c, err := app.LoadPair(ctx, pair, s, p)
	if err != nil {
		return nil, err
	}
	return c, c.Measure(ctx, 0, s, p)
}

// CompareWith compares the job, as the second, with the inspection in a file, as the
// first, and hands what has changed to done. It ends work under way, which goes on afterwards.
func (b *Bench) CompareWith(path string, done func(*app.Change, error)) {
	if b.job == nil || b.out.Placed == nil {
		return
	}
	job := b.job
	var change *app.Change
	b.start(Surface, func(t task) error {
		t.report("reading the inspection", 0)
		other, err := b.services.Read(path)
		if err == nil {
			change, err = b.services.Change(t.ctx, [2]*inspection.Inspection{other, job}, app.Settings{}, t.report)
		}
		return err
	}, func(err error) {
		done(change, err)
		if len(b.needed()) > 0 && !errors.Is(err, context.Canceled) {
			b.Refresh()
		}
	})
}

// WriteChange writes a comparison into a folder.
func (b *Bench) WriteChange(c *app.Change, dir string, replace bool, done func(error)) {
	b.start(Evidence, func(t task) error {
		return b.services.WriteChange(t.ctx, c, dir, app.WriteOptions{Replace: replace}, t.report)
	}, func(err error) {
		if !errors.Is(err, context.Canceled) {
			done(err)
		}
	})
}
