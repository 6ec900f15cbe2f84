package ui

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/mesh/meshio"
)

// A mesh can be written anew, or another laid in its place, while its job is open. It is looked for when the window gets the focus
// back and when work begins: first by size and time, which costs nothing, and by its hash where those are others.

// stamp is what tells at a glance that a file may be another one.
type stamp struct {
	size int64
	at   time.Time
}

func stampOf(path string) (stamp, bool) {
	info, err := os.Stat(path)
	if err != nil {
		return stamp{}, false // one that is gone is said by what needs it
	}
	return stamp{info.Size(), info.ModTime()}, true
}

// fileWatch is what is known of the files a job's meshes were read from. It belongs to the drawing thread.
type fileWatch struct {
	of      *app.Parts
	known   map[string]stamp
	looking bool
}

// readFiles are the files that parts were read from, with their hashes.
func readFiles(parts *app.Parts) (list []*meshio.Loaded) {
	all := []*meshio.Loaded{parts.Scan, parts.Reference}
	if parts.Joined != nil {
		all = append(all[1:], parts.Joined.Files...)
	}
	for _, l := range all {
		if l != nil && l.Path != "" && l.SHA256 != "" {
			list = append(list, l)
		}
	}
	return list
}

// lookAtFiles looks, off the drawing thread, whether the meshes' files are those that were read, and tells where one is not.
func (w *Window) lookAtFiles() {
	parts, f := w.bench.Outcome().Parts, &w.files
	if parts == nil || w.bench.Job() == nil || f.looking {
		return
	}
	if f.of != parts {
		*f = fileWatch{of: parts, known: map[string]stamp{}}
	}
	f.looking = true
	before := make(map[string]stamp, len(f.known))
	for path, s := range f.known {
		before[path] = s
	}
	w.worker.aside(func() {
		now, other := map[string]stamp{}, ""
		// Also after a panic, so that it is looked again.
		defer w.opt.Post(func() { w.lookedAtFiles(parts, now, other) })
		for _, l := range readFiles(parts) {
			s, ok := stampOf(l.Path)
			if !ok || s == before[l.Path] {
				continue
			}
			sum, err := hashOf(l.Path)
			if after, still := stampOf(l.Path); err != nil || !still || after != s {
				continue // it is being written: the next look tells
			}
			if now[l.Path] = s; sum != l.SHA256 {
				other = l.Path
			}
		}
	})
}

// lookedAtFiles tells what lookAtFiles has found.
func (w *Window) lookedAtFiles(parts *app.Parts, now map[string]stamp, other string) {
	f := &w.files
	f.looking = false
	switch {
	case f.of != parts || w.bench.Outcome().Parts != parts:
		return
	case other != "" && w.asking(): // not over another question: the next look finds it again
		return
	}
	for path, s := range now {
		f.known[path] = s
	}
	if other != "" {
		w.tellChangedFile(other)
	}
}

// hashOf returns the SHA-256 of a file's bytes.
func hashOf(path string) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	h := sha256.New()
	if _, err := io.Copy(h, file); err != nil {
		return "", err
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}

// tellChangedFile says that a mesh's file is another one now than the one that was read, and offers to read it.
func (w *Window) tellChangedFile(path string) {
	job := w.bench.Job()
	said := trf("filewatch.text", "{{.File}} is another file now than the one that was read into this job. What is shown here, and what is written as evidence, is of the file as it was. Open the job again to measure the file as it is now.", map[string]any{"File": shorten(filepath.Base(path), 60)})
	w.trace.put(Trace{Event: "swapped", Text: said})
	d := dialog.NewCustomWithoutButtons(tr("filewatch.title", "A mesh has changed meanwhile"), wrapped(said), w.win)
	again := newButton(tr("filewatch.again", "Open the job again"), func() {
		d.Hide()
		switch {
		case job != w.bench.Job():
		case job.Path != "":
			w.openJob(job.Path)
		case job.Reference != nil:
			w.openPair(job.Scan.File, job.Reference.File)
		default:
			w.openPair(job.Scan.File, "")
		}
	})
	again.Importance = widget.HighImportance
	pose(d, 560, 220, newButton(tr("filewatch.stay", "Go on with what was read"), d.Hide), again)
}
