package bench

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/crosscut"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Change says what a listener must look at again.
type Change int

// The changes.
const (
	JobChanged Change = iota
	ResultsChanged
	SelectionChanged
	StageShown
	ProgressChanged
	KeptChanged    // whether unsaved changes can be kept
	ColoursChanged // the deviations are known before their figures
)

// Services are what the bench stands on. Every field must be set.
type Services struct {
	Read    func(path string) (*inspection.Inspection, error)
	Default func(scan, reference string) *inspection.Inspection
	// Encode returns the job's file for a folder, over the text of the file it came from, which may be empty.
	Encode func(i *inspection.Inspection, dir string, old []byte, oldPath string) ([]byte, error)
	// LoadParts may leave the examination to Examine, which is called as soon as nothing that is looked at first has to wait for it.
	LoadParts   func(context.Context, *inspection.Inspection, app.Settings, app.Progress) (*app.Parts, error)
	Examine     func(context.Context, *app.Parts, app.Settings, app.Progress) (app.Examined, error)
	Place       func(context.Context, *inspection.Inspection, *app.Parts, app.Settings, app.Progress) (*app.Placed, error)
	Compare     func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, app.Settings, app.Progress) (*app.Compared, error)
	MeasureSeam func(context.Context, *inspection.Inspection, gapflush.Seam, *app.Parts, *app.Placed, app.Settings, app.Progress) (*gapflush.Result, error)
	LaySeams    func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, app.Settings, app.Progress) (*inspection.Inspection, []app.SeamPath, error)
	FindSeams   func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, app.Settings, app.Progress) ([]app.SeamPath, error)
	Sections    func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, app.Settings, app.Progress) ([]*crosscut.Section, error)
	Trust       func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, *app.Compared, app.Settings, app.Progress) (*app.Trust, error)
	Change      func(context.Context, [2]*inspection.Inspection, app.Settings, app.Progress) (*app.Change, error)
	WriteChange func(context.Context, *app.Change, string, app.WriteOptions, app.Progress) error
	Write       func(context.Context, *app.Outcome, string, app.WriteOptions, app.Progress) error
}

// Production returns the services of the program.
func Production() Services {
	return Services{
		Read: inspection.Read, Default: inspection.Default,
		Encode: func(i *inspection.Inspection, dir string, old []byte, oldPath string) ([]byte, error) {
			file, _ := app.AsFiled(i)
			return file.EncodeOver(dir, old, oldPath)
		},
		LoadParts: readDrawn, Place: app.Place, Compare: app.Compare, MeasureSeam: app.MeasureSeam,
		LaySeams: app.LaySeams, FindSeams: app.FindSeams, Sections: app.CutSections, Trust: app.LookForTrust, Write: app.Write,
		Examine: func(ctx context.Context, parts *app.Parts, s app.Settings, p app.Progress) (app.Examined, error) {
			return parts.Examine(ctx, s, p)
		},
		Change: compareResults, WriteChange: app.WriteChange,
	}
}

// readDrawn reads the parts of an inspection that is drawn in a window.
func readDrawn(ctx context.Context, i *inspection.Inspection, s app.Settings, p app.Progress) (*app.Parts, error) {
	s.Drawn = true
	return app.ReadParts(ctx, i, s, p)
}

// Bench is the job and everything known about it.
type Bench struct {
	services Services
	post     func(func())
	// Listen is called after every change, on the goroutine that owns the bench.
	Listen func(Change)
	// Report is told errors the user must see.
	Report func(error)
	// Replacing is asked when another job could be read and is to take the place of the present one: then, which it may call
	// later or never, puts it there.
	Replacing func(then func())

	job     *inspection.Inspection // never changed in place; nil: nothing on the bench
	saved   *inspection.Inspection // the job as last opened or saved
	onDisk  string                 // SHA-256 of the job's file as it was opened or saved last, "" without
	text    *filed                 // that says the job, nil for none
	root    *filed                 // that the job was opened with, nil for none
	writing sync.Mutex             // of files
	keeper  *keeper                // of unsaved changes, nil for none
	keptErr error
	past    []edit
	next    []edit

	out     app.Outcome
	readOf  *inspection.Inspection // the job whose meshes were read last
	seams   []*gapflush.Result     // by seam of the job; nil where not measured
	specs   []gapflush.Seam        // what each of seams was measured with
	ground  []*app.Placed          // and on
	scales  []float64              // and with, the scan's own scale error in ppm
	scale   float64                // as trust was looked for last
	early   *deviation.Field       // of the surface being compared, whose figures are not there yet
	earlyOn *app.Placed
	stages  [stageCount]status
	stints  map[string]stint        // by the name of the stage
	read    atomic.Pointer[reading] // of the parts that were read last
	run     run

	shown         Stage
	seam, station int
	Written       string                 // folder the evidence of the present results was written to
	Wrote         string                 // folder any evidence of the job was written to last
	writtenOf     *inspection.Inspection // the job whose evidence lies there; nil where its meshes may be others by now
}

// New returns an empty bench. post brings a function to the goroutine that owns it.
func New(s Services, post func(func())) *Bench {
	return &Bench{services: s, post: post, Listen: func(Change) {}, Report: func(error) {}, Replacing: func(then func()) { then() }, station: -1}
}

// Job returns the job, nil when nothing is on the bench. It must not be changed; use Edit.
func (b *Bench) Job() *inspection.Inspection { return b.job }

// Outcome returns what was found; stages that were not run are nil.
func (b *Bench) Outcome() *app.Outcome { return &b.out }

// Field returns the deviations to be shown on the placed scan, those being compared as soon as they are known; nil for none.
func (b *Bench) Field() *deviation.Field {
	switch {
	case b.early != nil && b.earlyOn == b.out.Placed:
		return b.early
	case b.out.Compared != nil:
		return b.out.Compared.Field
	}
	return nil
}

// Results returns the seams' results in the order of the job's seams, nil where not measured.
func (b *Bench) Results() []*gapflush.Result { return b.seams }

// Measured returns the results that exist.
func (b *Bench) Measured() []*gapflush.Result {
	return slices.DeleteFunc(slices.Clone(b.seams), func(r *gapflush.Result) bool { return r == nil })
}

// Err returns the error that stopped a stage, or nil.
func (b *Bench) Err(s Stage) error { return b.stages[s].err }

// IsStale reports whether a stage's result belongs to an earlier state of the job.
func (b *Bench) IsStale(s Stage) bool { return b.stages[s].stale }

// IsDone reports whether a stage has a result, stale or not.
func (b *Bench) IsDone(s Stage) bool { return b.stages[s].done }

// Applies reports whether the job asks for a stage at all.
func (b *Bench) Applies(s Stage) bool {
	switch {
	case b.job == nil:
		return false
	case s == Place || s == Surface:
		return b.job.Reference != nil
	case s == Seams:
		return len(b.job.Seams) > 0
	}
	return true
}

// Lamp returns what a stage's lamp shows.
func (b *Bench) Lamp(s Stage) Lamp {
	st := b.stages[s]
	switch {
	case b.run.active && b.run.stage == s:
		return Working
	case st.err != nil && !errors.Is(st.err, context.Canceled):
		return Failed
	case s == Place && !b.Applies(Place):
		return NotDone // a scan alone stays where it lies
	case st.stale:
		return Stale
	case !st.done:
		return NotDone
	}
	switch s {
	case Place:
		p := b.out.Placed.Placement
		if p.Ambiguous || slices.Contains(p.Free[:], true) || p.NoSigma != "" || p.Pairs != nil && p.Pairs.Wrong >= 0 {
			return Open
		}
		return Good
	case Surface:
		return lampOf(b.out.Compared.Worst())
	case Trust:
		return lampOf(b.lengthsVerdict())
	case Seams:
		return b.unlessUnjudged(lampOf(b.SeamsVerdict()))
	case Evidence:
		return b.unlessUnjudged(lampOf(b.out.Verdict))
	}
	switch {
	case b.out.Parts == nil:
	case b.out.Parts.Unexamined():
		return Done
	case b.out.Parts.Exchanged() != "":
		return Open
	}
	return Good
}

// unlessUnjudged gives no tick where a seam has no tolerance for its gap or its flush.
func (b *Bench) unlessUnjudged(l Lamp) Lamp {
	if l == Good && slices.ContainsFunc(b.Measured(), func(r *gapflush.Result) bool { return !r.Seam.Gap.Judged || !r.Seam.Flush.Judged }) {
		return Done
	}
	return l
}

// lengthsVerdict returns the worst verdict of the known lengths.
func (b *Bench) lengthsVerdict() verdict.Verdict {
	worst := verdict.NotJudged
	for _, l := range b.out.Lengths {
		worst = verdict.Worst(worst, l.Verdict)
	}
	return worst
}

// SeamsVerdict returns the worst verdict of all measured seams.
func (b *Bench) SeamsVerdict() verdict.Verdict {
	worst := verdict.NotJudged
	for _, r := range b.Measured() {
		worst = verdict.Worst(worst, r.Verdict)
	}
	for _, c := range b.out.Checks {
		worst = verdict.Worst(worst, c.Verdict)
	}
	return worst
}

// Show brings a stage to the front.
func (b *Bench) Show(s Stage) {
	b.shown = s
	b.Listen(StageShown)
}

// Shown returns the stage in front.
func (b *Bench) Shown() Stage { return b.shown }

// gather puts the pieces together after a stage came in.
func (b *Bench) gather() {
	b.out.Inspection = b.job
	b.out.Seams = b.Measured()
	b.out.Verdict = b.out.Worst()
}

// Complete reports whether every stage the job asks for has a result for the job as it is.
func (b *Bench) Complete() bool { return b.job != nil && len(b.needed()) == 0 && b.noErrors() }

// Waits reports whether a stage's results are missing or out of date; those of Evidence are of all stages.
func (b *Bench) Waits(s Stage) bool {
	if s == Evidence {
		return b.job != nil && !b.Complete()
	}
	return b.job != nil && slices.Contains(b.needed(), s)
}

func (b *Bench) noErrors() bool {
	for _, s := range []Stage{Parts, Place, Surface, Trust, Seams} {
		if b.stages[s].err != nil {
			return false
		}
	}
	return true
}
