package bench

import (
	"os"
	"path/filepath"
	"reflect"
	"slices"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/mesh/meshio"
)

// edit is a step of the history: what it was called and the job before or after it.
type edit struct {
	name string
	job  *inspection.Inspection
	text *filed // of that job, nil where it was neither opened nor saved
	seam int    // the seam that was marked
}

// filed is the text of an inspection file that said a job.
type filed struct {
	path string
	data []byte
}

// readFiled returns the text that a job was read from, nil where there is none or it is another one by now.
func readFiled(job *inspection.Inspection) *filed {
	if job.Path == "" {
		return nil
	}
	data, err := os.ReadFile(job.Path)
	if err != nil || sum(data) != job.SHA256 {
		return nil
	}
	return &filed{job.Path, data}
}

// filed returns the text that the job's file is to be written over: of the job itself, else of the state of it nearest
// before. The file as it is may be of a later state that was taken back, without the comments and the order of what is there again.
func (b *Bench) filed() *filed {
	if b.text != nil {
		return b.text
	}
	for _, e := range slices.Backward(b.past) {
		if e.text != nil {
			return e.text
		}
	}
	return b.root
}

// Edit changes a copy of the job and puts the copy in its place; name says what
// was changed. Stages that stand on the change become stale and are run again.
func (b *Bench) Edit(name string, change func(*inspection.Inspection)) {
	if b.job == nil {
		return
	}
	after := clone(b.job)
	change(after)
	after = app.OfWholes(after)
	if firstChanged(b.job, after) == Evidence && b.job.Title == after.Title {
		return
	}
	after.SHA256 = ""
	b.past = append(b.past, edit{name, b.job, b.text, b.seam})
	b.next, b.text = nil, nil
	b.turnTo(after)
}

// Check returns what would be refused about the job after a change, before it is
// made: the error with which an inspection file of it could not be read. A job that
// is refused as it is may be changed in any way.
func (b *Bench) Check(change func(*inspection.Inspection)) error {
	if b.job == nil {
		return nil
	}
	encode := func(i *inspection.Inspection) error {
		_, err := b.services.Encode(i, filepath.Dir(b.job.Path), nil, "")
		return err
	}
	err := encode(Changed(b.job, change))
	if err != nil && encode(b.job) != nil {
		return nil
	}
	return err
}

// Turn is what an undo or a redo did: what the change was called and where it is seen.
type Turn struct {
	Name  string // "" where there was nothing to take back
	Stage Stage
	Seam  int // the seam that it changed, counted from 0, or that was marked before one came that is gone again; -1: none
}

// Undo takes the last change back.
func (b *Bench) Undo() Turn {
	return b.turn(&b.past, &b.next)
}

// Redo makes the change that was taken back last again.
func (b *Bench) Redo() Turn {
	return b.turn(&b.next, &b.past)
}

func (b *Bench) turn(from, to *[]edit) Turn {
	n := len(*from)
	if n == 0 {
		return Turn{Seam: -1}
	}
	e := (*from)[n-1]
	*from = (*from)[:n-1]
	*to = append(*to, edit{e.name, b.job, b.text, b.seam})
	before := b.job
	b.text = e.text
	b.turnTo(e.job)
	seam := changedSeam(before, e.job)
	if len(e.job.Seams) < len(before.Seams) { // nothing of it is left to be looked at
		seam = min(e.seam, len(e.job.Seams)-1)
	}
	return Turn{e.name, seenAt(before, e.job), seam}
}

// seenAt returns the stage on which the difference between two jobs is seen.
func seenAt(before, after *inspection.Inspection) Stage {
	if s := firstChanged(before, after); s != Evidence || before.Title == after.Title {
		return s
	}
	return Parts
}

// changedSeam returns the first seam of after that is another one than before; -1 where seams are the same.
func changedSeam(before, after *inspection.Inspection) int {
	for k := range max(len(before.Seams), len(after.Seams)) {
		if k >= len(before.Seams) || k >= len(after.Seams) || !reflect.DeepEqual(before.Seams[k], after.Seams[k]) {
			return min(k, len(after.Seams)-1)
		}
	}
	return -1
}

// CanUndo returns the name of the change Undo would take back, "" for none.
func (b *Bench) CanUndo() string { return lastName(b.past) }

// CanRedo returns the name of the change Redo would make, "" for none.
func (b *Bench) CanRedo() string { return lastName(b.next) }

func lastName(edits []edit) string {
	if len(edits) == 0 {
		return ""
	}
	return edits[len(edits)-1].name
}

// turnTo puts another state of the same job on the bench.
func (b *Bench) turnTo(after *inspection.Inspection) {
	before := b.job
	b.job = after
	from := firstChanged(before, after)
	b.spoil(from, seamsDepend(from, before, after))
	if from == Parts && sameMeshes(after, b.readOf) {
		b.stages[Parts].stale = false // the change that is taken back had read nothing
	}
	switch {
	case from == Parts: // files are read again, and may be others when undo comes back to them
		b.writtenOf = nil
	case b.writtenOf != nil && saySame(after, b.writtenOf): // its results come out the same again
		b.Written = b.Wrote
		b.stages[Evidence] = status{done: true}
	}
	b.keepSeams()
	b.jobChanged()
	b.Refresh()
}

// spoil marks the stages from one on as out of date.
func (b *Bench) spoil(from Stage, seams bool) {
	for s := from; s < stageCount; s++ {
		if s == Seams && !seams {
			continue
		}
		if b.stages[s].done {
			b.stages[s].stale = true
		}
		b.stages[s].err = nil
	}
	b.Written = ""
}

// keepSeams moves results to the places their seams have now. A result whose
// settings were changed stays to look at until the new one is there.
func (b *Bench) keepSeams() {
	results, specs, ground, scales := b.seams, b.specs, b.ground, b.scales
	b.seams = make([]*gapflush.Result, len(b.job.Seams))
	b.specs = make([]gapflush.Seam, len(b.job.Seams))
	b.ground = make([]*app.Placed, len(b.job.Seams))
	b.scales = make([]float64, len(b.job.Seams))
	for k, seam := range b.job.Seams {
		for i, r := range results {
			if r != nil && specs[i].Name == seam.Name {
				b.seams[k], b.specs[k], b.ground[k], b.scales[k] = r, specs[i], ground[i], scales[i]
			}
		}
		if b.seams[k] == nil && len(results) == len(b.job.Seams) && !b.hasSeam(specs[k].Name) {
			b.seams[k], b.specs[k], b.ground[k], b.scales[k] = results[k], specs[k], ground[k], scales[k] // it was renamed
		}
	}
	if len(b.job.Seams) == 0 {
		b.stages[Seams] = status{}
	}
	b.Select(b.seam, b.station)
}

// hasSeam reports whether a seam of the job has a name.
func (b *Bench) hasSeam(name string) bool {
	return slices.ContainsFunc(b.job.Seams, func(s gapflush.Seam) bool { return s.Name == name })
}

// Dirty reports whether the job differs from the file it came from.
func (b *Bench) Dirty() bool { return b.job != b.saved }

// withFacts returns the job with what reading its meshes has shown, which files they are by their hashes; the job itself
// when it says all that. A unit that was judged stays so: only a person states one.
func (b *Bench) withFacts(job *inspection.Inspection) *inspection.Inspection {
	parts := b.out.Parts
	if parts == nil {
		return job
	}
	with := clone(job)
	facts := func(l *meshio.Loaded, file string, sum *string) {
		if l == nil || file == "" || l.Path != file {
			return
		}
		*sum = l.SHA256
	}
	facts(parts.Scan, job.Scan.File, &with.Scan.SHA256)
	if with.Reference != nil {
		facts(parts.Reference, job.Reference.File, &with.Reference.SHA256)
	}
	if with.Scan == job.Scan && reflect.DeepEqual(with.Reference, job.Reference) {
		return job
	}
	return with
}

// Changed returns a changed copy of a job that is not on the bench.
func Changed(job *inspection.Inspection, change func(*inspection.Inspection)) *inspection.Inspection {
	c := clone(job)
	change(c)
	return c
}
