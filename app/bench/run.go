package bench

import (
	"context"
	"errors"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// run is the work under way. A newer run, or stopping it, takes the number
// away from an older one, whose results are then dropped when they arrive.
type run struct {
	active bool
	number int
	cancel context.CancelFunc
	stage  Stage
	what   string
	share  float64
}

// Running reports whether work is under way, what is being done and its share done, 0 to 1.
func (b *Bench) Running() (what string, share float64, running bool) {
	return b.run.what, b.run.share, b.run.active
}

// Stop ends the work under way; everything stays as it was before it. The bench
// is free at once, however long the work takes to notice.
func (b *Bench) Stop() {
	if !b.run.active {
		return
	}
	b.abandon()
	b.Listen(ProgressChanged)
}

func (b *Bench) abandon() {
	if b.run.cancel != nil {
		b.run.cancel()
	}
	b.run = run{number: b.run.number + 1}
	b.early = nil
}

// task is what one run may use: post delivers to the bench unless the run was
// stopped or overtaken in the meantime.
type task struct {
	ctx    context.Context
	post   func(func())
	stage  func(Stage)
	report app.Progress
}

// start ends the work under way and begins another. finish is called on the
// bench with the error of work, unless the run was stopped or overtaken.
func (b *Bench) start(first Stage, work func(task) error, finish func(error)) {
	b.abandon()
	ctx, cancel := context.WithCancel(context.Background())
	b.run.active, b.run.cancel, b.run.stage = true, cancel, first
	number := b.run.number
	t := task{ctx: ctx, post: func(f func()) {
		b.post(func() {
			if b.run.number == number {
				f()
			}
		})
	}}
	t.report = throttled(func(what string, share float64) {
		t.post(func() {
			b.run.what, b.run.share = what, share
			b.Listen(ProgressChanged)
		})
	})
	t.stage = func(s Stage) {
		t.post(func() {
			b.run.stage, b.run.share = s, 0
			b.Listen(ProgressChanged)
		})
	}
	b.Listen(ProgressChanged)
	go func() {
		defer cancel()
		err := guarded(work, t)
		t.post(func() {
			b.run = run{number: b.run.number + 1}
			b.early = nil
			finish(err)
			b.Listen(ProgressChanged)
		})
	}()
}

// reportEvery bounds how often progress reaches the screen: the whole window is painted anew each time, which without a
// graphics card takes a good deal of what the work itself needs.
const reportEvery = 200 * time.Millisecond

// throttled passes progress on when the words change, at the end, and at most every reportEvery.
func throttled(to app.Progress) app.Progress {
	var last atomic.Int64
	var words atomic.Value
	words.Store("")
	return func(what string, share float64) {
		now := time.Now().UnixNano()
		before := last.Load()
		fresh := words.Load() != what
		if !fresh && share < 1 && now-before < int64(reportEvery) {
			return
		}
		if last.CompareAndSwap(before, now) || fresh {
			words.Store(what)
			to(what, share)
		}
	}
}

// guarded makes a panic of the work an error, so that the window stays.
func guarded(work func(task) error, t task) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = &app.FaultError{What: fault, Stack: debug.Stack()}
		}
	}()
	return work(t)
}

// Open reads an inspection file and, when its meshes can be read, puts it on
// the bench. Until then, and when it fails, the present job stays as it is.
func (b *Bench) Open(path string) {
	b.start(Parts, func(t task) error {
		t.report("reading the inspection", 0)
		job, err := b.services.Read(path)
		if err != nil {
			return err
		}
		sweep(filepath.Dir(behind(path)))
		return b.load(t, job)
	}, b.ended)
}

// OpenPair makes a new job of a scan and a reference; reference may be "". It is
// called what the scan is called.
func (b *Bench) OpenPair(scan, reference string) {
	job := b.services.Default(scan, reference)
	if job.Title == "" {
		job.Title = strings.TrimSuffix(filepath.Base(scan), filepath.Ext(scan))
	}
	b.OpenJob(job)
}

// OpenJob puts a job on the bench when its meshes can be read.
func (b *Bench) OpenJob(job *inspection.Inspection) {
	b.start(Parts, func(t task) error { return b.load(t, job) }, b.ended)
}

// load reads the meshes of a new job; on success the job replaces the present one and is worked through.
func (b *Bench) load(t task, job *inspection.Inspection) error {
	parts, err := b.loadParts(t, job)
	if err != nil {
		return err
	}
	text := readFiled(job)
	t.post(func() { b.replace(func() { b.adopt(job, parts, func() { b.text, b.root = text, text }) }) })
	return nil
}

// replace lets another job take the place of the present one, as soon as that may go. Until then the present one is worked on.
func (b *Bench) replace(adopt func()) {
	now := true
	b.Replacing(func() {
		if now {
			adopt() // and the run that has read it goes on with it
			return
		}
		b.abandon()
		adopt()
		b.Refresh()
	})
	now = false
}

// OpenMoved puts a job on the bench some of whose files were found elsewhere than its file says, which is a change
// that is not saved.
func (b *Bench) OpenMoved(file, moved *inspection.Inspection) {
	moved = Changed(moved, func(i *inspection.Inspection) { i.SHA256 = "" })
	b.start(Parts, func(t task) error {
		parts, err := b.loadParts(t, moved)
		if err != nil {
			return err
		}
		text := readFiled(file)
		t.post(func() {
			b.replace(func() { b.adopt(moved, parts, func() { b.saved, b.onDisk, b.root = file, file.SHA256, text }) })
		})
		return nil
	}, b.ended)
}

func (b *Bench) loadParts(t task, job *inspection.Inspection) (*app.Parts, error) {
	began := time.Now()
	parts, err := b.services.LoadParts(t.ctx, job, app.Settings{}, t.report)
	if err != nil {
		return nil, &LoadError{Job: job, Err: err}
	}
	b.read.Store(&reading{parts, stint{began, time.Since(began)}})
	return parts, nil
}

// LoadError says that a job's meshes cannot be read. Err is the reason and the
// sentence for the user.
type LoadError struct {
	Job *inspection.Inspection
	Err error
}

func (e *LoadError) Error() string { return e.Err.Error() }

// Unwrap returns the reason.
func (e *LoadError) Unwrap() error { return e.Err }

// adopt replaces what is on the bench; as sets what else is known of the job. The unsaved changes in it need not be kept elsewhere.
func (b *Bench) adopt(job *inspection.Inspection, parts *app.Parts, as func(), gone ...Unsaved) {
	b.job, b.saved, b.onDisk = job, job, job.SHA256
	b.past, b.next, b.text, b.root = nil, nil, nil, nil
	b.out, b.readOf = app.Outcome{Inspection: job, Parts: parts}, job
	b.stages = [stageCount]status{Parts: {done: true}}
	b.stints = map[string]stint{}
	if r := b.read.Load(); r != nil && r.of == parts {
		b.stints[Parts.String()] = r.stint
	}
	b.seams = make([]*gapflush.Result, len(job.Seams))
	b.specs = make([]gapflush.Seam, len(job.Seams))
	b.ground = make([]*app.Placed, len(job.Seams))
	b.scales = make([]float64, len(job.Seams))
	b.seam, b.station, b.Written, b.Wrote, b.writtenOf = 0, -1, "", "", nil
	b.shown = Parts
	as()
	b.jobChanged(gone...)
	b.Listen(StageShown)
}

// ended reports an error of a run and goes on with whatever is out of date.
func (b *Bench) ended(err error) {
	if err != nil {
		if !errors.Is(err, context.Canceled) {
			b.Report(err)
		}
		return
	}
	b.Refresh()
}

// Refresh runs every stage that has no result or a stale one. Evidence is never written by itself.
func (b *Bench) Refresh() {
	if b.job == nil {
		return
	}
	need := b.needed()
	if len(need) == 0 && !b.unexamined() {
		b.Stop()
		return
	}
	plan := plan{Bench: b, job: b.job, parts: b.out.Parts, placed: b.out.Placed, compared: b.out.Compared, scale: b.scale,
		valid: b.valid(need), scales: slices.Clone(b.scales), whole: slices.Contains(need, Seams)}
	if slices.Contains(need, Trust) && b.Applies(Seams) && !plan.whole && b.stages[Seams].err == nil {
		need = append(need, Seams) // its uncertainties may be others then
	}
	at := Parts
	if len(need) > 0 {
		at = need[0]
	}
	b.start(at, func(t task) error {
		for _, s := range need {
			at = s
			t.stage(s)
			// What is looked at first is there by now: the part, where it lies, its surface.
			if s >= Trust {
				if err := b.examine(t, plan.parts, plan.placed); err != nil {
					return err
				}
			}
			if err := plan.do(t, s); err != nil {
				return err
			}
		}
		return b.examine(t, plan.parts, plan.placed)
	}, func(err error) {
		if err == nil || errors.Is(err, context.Canceled) {
			return
		}
		b.stages[at].err = err
		if at == Parts && b.backToRead() {
			b.Report(err)
			return
		}
		b.Show(at) // its card says why
	})
}

// backToRead goes to the nearest state of the job whose meshes are those that were read: a change that makes the files
// unreadable is not kept, nor is one taken back that needs files which are gone by now. It reports whether there is one.
func (b *Bench) backToRead() bool {
	steps := func(list []edit) int { // to it, 0 for none
		for k, e := range slices.Backward(list) {
			if sameMeshes(e.job, b.readOf) {
				return len(list) - k
			}
		}
		return 0
	}
	back, again := steps(b.past), steps(b.next)
	for range back {
		if again == 0 || back <= again {
			b.Undo()
		}
	}
	for range again {
		if back == 0 || again < back {
			b.Redo()
		}
	}
	return back+again > 0
}

// needed lists the stages to run, in order.
func (b *Bench) needed() []Stage {
	var need []Stage
	for _, s := range []Stage{Parts, Place, Surface, Trust, Seams} {
		st := b.stages[s]
		// A job without a reference is still placed (as it is) so that seams can be cut.
		if (b.Applies(s) || s == Place) && (!st.done || st.stale) && st.err == nil {
			need = append(need, s)
		}
	}
	return need
}

// valid tells which seams keep their results when the stages of need are run.
func (b *Bench) valid(need []Stage) []bool {
	valid := make([]bool, len(b.job.Seams))
	for k, seam := range b.job.Seams {
		valid[k] = b.seams[k] != nil && sameSeam(b.specs[k], seam) &&
			!slices.Contains(need, Place) && b.ground[k] == b.out.Placed
	}
	return valid
}

// SeamHolds reports whether a seam's result is of the job as it is, while others may be measured anew.
func (b *Bench) SeamHolds(k int) bool {
	if b.job == nil || k < 0 || k >= len(b.job.Seams) {
		return false
	}
	need := b.needed()
	return b.valid(need)[k] && !slices.Contains(need, Trust)
}

// Retry runs again what failed or was stopped.
func (b *Bench) Retry() {
	for s := range b.stages {
		b.stages[s].err = nil
	}
	b.Refresh()
	b.Listen(ResultsChanged)
}

// OpenMade lets make write a job's files, away from the bench, and opens the
// inspection file it returns.
func (b *Bench) OpenMade(make func(ctx context.Context, report func(string, float64)) (string, error)) {
	b.start(Parts, func(t task) error {
		path, err := make(t.ctx, t.report)
		if err != nil {
			return err
		}
		job, err := b.services.Read(path)
		if err != nil {
			return err
		}
		return b.load(t, job)
	}, b.ended)
}
