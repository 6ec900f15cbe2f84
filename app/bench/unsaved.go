package bench

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"shutline/app/inspection"
)

// Unsaved are changes of a job that were not saved when the program that made them ended.
type Unsaved struct {
	Job   string    // the inspection file that was changed; "" for a job that had none
	File  string    // an inspection file with the changes
	Title string    // of the job
	Since bool      // the job's file was written after them
	When  time.Time // of the last change
	note  string    // the file that told of it; "" for none
}

// unsavedEnding is what a job's unsaved changes are called beside it: van.unsaved.toml.
const unsavedEnding = ".unsaved.toml"

// Beside returns where the unsaved changes of an inspection file are kept.
func Beside(job string) string {
	return strings.TrimSuffix(job, filepath.Ext(job)) + unsavedEnding
}

// keeper writes the job into a file beside its own after every change that is
// not saved, and a note about it into a folder of the user's, where the next start
// looks. The note is locked as long as the program lives, however it ends.
type keeper struct {
	dir    string // of notes, and of changes that cannot stand beside their job
	encode func(i *inspection.Inspection, dir string, old []byte, oldPath string) ([]byte, error)
	told   func(error) // of every attempt

	mu   sync.Mutex
	want *wanted // waits to be done
	busy bool
	idle sync.Cond // busy ended

	// Of the goroutine that is busy.
	note *os.File
	file string // that holds the changes
	of   string // path of the job they are of
	took string // a file of an earlier program that was taken over
}

// wanted is a job whose changes are to be kept, nil for none to be kept.
type wanted struct {
	job  *inspection.Inspection
	gone []Unsaved // that are contained in the job
}

// KeepUnsaved begins to keep unsaved changes; notes about them go into dir, which is
// made when it is needed. What goes wrong with it is told by Kept.
func (b *Bench) KeepUnsaved(dir string) {
	k := &keeper{dir: dir, encode: b.services.Encode}
	k.idle.L = &k.mu
	k.told = func(err error) {
		b.post(func() {
			if (err == nil) != (b.keptErr == nil) {
				b.keptErr = err
				b.Listen(KeptChanged)
			}
		})
	}
	b.keeper = k
}

// Kept returns why unsaved changes cannot be kept, nil when they are.
func (b *Bench) Kept() error { return b.keptErr }

// jobChanged tells that the job is another one, and has its changes kept.
func (b *Bench) jobChanged(gone ...Unsaved) {
	if b.keeper != nil {
		w := &wanted{gone: gone}
		if b.job != nil && b.Dirty() {
			w.job = b.job
		}
		b.keeper.ask(w)
	}
	b.Listen(JobChanged)
}

// Close takes kept changes away: the user has saved them or does not want them. It waits for the disk.
func (b *Bench) Close() {
	b.Stop()
	if b.keeper != nil {
		b.keeper.ask(&wanted{})
		b.keeper.wait()
	}
}

// ask replaces what waits to be done.
func (k *keeper) ask(w *wanted) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.want != nil {
		w.gone = append(k.want.gone, w.gone...)
	}
	k.want = w
	if !k.busy {
		k.busy = true
		go k.run()
	}
}

// wait returns when everything that was asked is done.
func (k *keeper) wait() {
	k.mu.Lock()
	defer k.mu.Unlock()
	for k.busy {
		k.idle.Wait()
	}
}

func (k *keeper) run() {
	for {
		k.mu.Lock()
		w := k.want
		k.want = nil
		if w == nil {
			k.busy = false
			k.idle.Broadcast()
			k.mu.Unlock()
			return
		}
		k.mu.Unlock()
		if w.job == nil {
			k.drop()
			k.told(nil)
		} else {
			err := k.keep(w)
			k.told(err)
			if err != nil {
				continue // what was kept before stays, taken over or not
			}
		}
		for _, u := range w.gone {
			if u.File != k.file {
				_ = os.Remove(u.File)
			}
			_ = os.Remove(u.note)
		}
	}
}

// drop removes what is kept.
func (k *keeper) drop() {
	if k.file != "" {
		_ = os.Remove(k.file)
	}
	if k.note != nil {
		_ = k.note.Close()
		_ = os.Remove(k.note.Name())
	}
	k.note, k.file, k.of = nil, "", ""
}

// keep writes a job's changes and the note about them.
func (k *keeper) keep(w *wanted) error {
	job := w.job
	if k.file != "" && k.of != job.Path {
		k.drop()
	}
	for _, u := range w.gone {
		k.took = u.File
	}
	k.of = job.Path
	if k.file == "" {
		k.file = k.place(job)
	}
	err := k.write(job)
	if inDir := filepath.Dir(k.file) == filepath.Clean(k.dir); err != nil && !inDir {
		k.file = k.own() // where the job's folder takes nothing
		err = k.write(job)
	}
	if err != nil {
		return err
	}
	return k.tell(job)
}

// place returns where a job's changes go: beside the job, unless what lies there is not ours.
func (k *keeper) place(job *inspection.Inspection) string {
	if job.Path == "" {
		return k.own()
	}
	beside := Beside(job.Path)
	if abs, err := filepath.Abs(beside); err == nil {
		beside = abs
	}
	if _, err := os.Lstat(beside); err == nil && beside != k.took {
		return k.own()
	}
	return beside
}

// own returns a file of this program's in the folder of notes.
func (k *keeper) own() string {
	return filepath.Join(k.dir, "job-"+time.Now().UTC().Format("20060102-150405.000000000")+unsavedEnding)
}

func (k *keeper) write(job *inspection.Inspection) error {
	dir := filepath.Dir(k.file)
	if filepath.Clean(k.dir) == dir {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return err
		}
	}
	old, _ := os.ReadFile(job.Path)
	data, err := k.encode(job, dir, old, job.Path)
	if err != nil {
		return err
	}
	return writeWhole(k.file, data)
}

// noteOf is what a note says, as JSON.
type noteOf struct {
	Job   string    `json:"job"`
	File  string    `json:"file"`
	Title string    `json:"title"`
	When  time.Time `json:"when"`
}

// noteBegin begins the names of notes.
const noteBegin = "note-"

// tell writes the note anew, in place: it must stay the file that is locked.
func (k *keeper) tell(job *inspection.Inspection) error {
	if k.note == nil {
		if err := os.MkdirAll(k.dir, 0o700); err != nil {
			return err
		}
		f, err := os.CreateTemp(k.dir, noteBegin+"*.json")
		if err != nil {
			return err
		}
		if err := lock(f); err != nil {
			_ = f.Close()
			return err
		}
		k.note = f
	}
	path := job.Path
	if abs, err := filepath.Abs(path); err == nil && path != "" {
		path = abs
	}
	data, err := json.Marshal(noteOf{Job: path, File: k.file, Title: job.Title, When: time.Now()})
	if err != nil {
		return err
	}
	if _, err = k.note.WriteAt(data, 0); err == nil {
		err = k.note.Truncate(int64(len(data)))
	}
	if err == nil {
		err = k.note.Sync()
	}
	return err
}

// unknownFile stands for the sum of a job's file that nobody saw.
const unknownFile = "unknown"

// isHeld reports whether a job's own file holds what a file of unsaved changes does, as when a program ended right after it
// had saved. Such changes are removed.
func isHeld(job, file string) bool {
	if job == "" || !sameJob(job, file) {
		return false
	}
	_ = os.Remove(file)
	return true
}

// writtenSince reports whether a job's own file was written after a file of unsaved changes, as by a colleague or by another
// window. The changes are none the less what somebody made and did not save.
func writtenSince(job, file string) bool {
	saved, err := os.Stat(job)
	if job == "" || err != nil {
		return false
	}
	changes, err := os.Stat(file)
	return err == nil && saved.ModTime().After(changes.ModTime())
}

// sameJob reports whether two inspection files say the same, but for what saving adds: which meshes they were.
func sameJob(a, b string) bool {
	x, err := inspection.Read(a)
	if err != nil {
		return false
	}
	y, err := inspection.Read(b)
	if err != nil {
		return false
	}
	return saySame(x, y)
}

// FindUnsaved returns the changes that programs left in a folder of notes when they
// ended without saving, the newest first. Changes of programs that still run are not among them, nor those that their job's
// file holds or that are older than it.
func FindUnsaved(dir string) []Unsaved {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var out []Unsaved
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), noteBegin) {
			continue
		}
		path := filepath.Join(dir, e.Name())
		u, err := readNote(path)
		switch {
		case err == nil:
			out = append(out, u)
		case errors.Is(err, fs.ErrNotExist):
			_ = os.Remove(path) // what it tells of is gone or saved
		}
	}
	slices.SortFunc(out, func(a, b Unsaved) int { return b.When.Compare(a.When) })
	return out
}

// readNote reads the note of a program that has ended; fs.ErrNotExist where its file is gone.
func readNote(path string) (Unsaved, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return Unsaved{}, errors.New("it is in use")
	}
	defer f.Close()
	if err := lock(f); err != nil {
		return Unsaved{}, err
	}
	var n noteOf
	if err := json.NewDecoder(f).Decode(&n); err != nil || n.File == "" {
		return Unsaved{}, fs.ErrNotExist // it was ended before it had told anything
	}
	if _, err := os.Stat(n.File); err != nil || isHeld(n.Job, n.File) {
		return Unsaved{}, fs.ErrNotExist
	}
	return Unsaved{Job: n.Job, File: n.File, Title: n.Title, Since: writtenSince(n.Job, n.File), When: n.When, note: path}, nil
}

// UnsavedBeside returns changes that lie beside an inspection file without a note,
// as in a folder that came from elsewhere; ok is false without.
func UnsavedBeside(job, dir string) (u Unsaved, ok bool) {
	file := Beside(job)
	if abs, err := filepath.Abs(file); err == nil {
		file = abs
	}
	info, err := os.Stat(file)
	if err != nil {
		return Unsaved{}, false
	}
	notes, _ := filepath.Glob(filepath.Join(dir, noteBegin+"*.json"))
	for _, path := range notes {
		var n noteOf
		data, err := os.ReadFile(path)
		if err == nil && json.Unmarshal(data, &n) == nil && n.File == file {
			return Unsaved{}, false // of a program that runs, or offered already
		}
	}
	if isHeld(job, file) {
		return Unsaved{}, false
	}
	return Unsaved{Job: job, File: file, Since: writtenSince(job, file), When: info.ModTime()}, true
}

// Recover puts a job with its unsaved changes on the bench; they can then be saved
// into its own file. What it was recovered from goes when the changes are kept anew.
func (b *Bench) Recover(u Unsaved) {
	b.start(Parts, func(t task) error {
		t.report("reading the inspection", 0)
		job, err := b.services.Read(u.File)
		if err != nil {
			return err
		}
		own := Changed(job, func(i *inspection.Inspection) { i.Path, i.SHA256 = u.Job, "" })
		parts, err := b.loadParts(t, job) // what is wrong with the job stands in the file it is read from
		var refused *LoadError
		if errors.As(err, &refused) {
			refused.Job = own
		}
		if err != nil {
			return err
		}
		job = own
		onDisk := ""
		var text *filed
		if data, err := os.ReadFile(u.Job); err == nil {
			onDisk, text = sum(data), &filed{u.Job, data}
			if u.Since {
				onDisk = unknownFile // what is changed here began from another one: saving asks
			}
		}
		t.post(func() {
			b.replace(func() { b.adopt(job, parts, func() { b.saved, b.onDisk, b.root = nil, onDisk, text }, u) })
		})
		return nil
	}, b.ended)
}

// Discard removes unsaved changes for good.
func Discard(u Unsaved) {
	_ = os.Remove(u.File)
	if u.note != "" {
		_ = os.Remove(u.note)
	}
}
