package bench

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// SaveError says that the job could not be written to a file. The file is what it
// was before, and so is the job on the bench.
type SaveError struct {
	Path string
	Err  error
}

func (e *SaveError) Error() string {
	if errors.Is(e.Err, fs.ErrNotExist) {
		return fmt.Sprintf("%s cannot be written: its folder is not there. Nothing is lost: the job stays on the bench. Make the folder and save again, or save elsewhere", e.Path)
	}
	why := meshio.ReplaceWhy(e.Err) // without the name of the file beside it that was written first
	return fmt.Sprintf("%s cannot be written: %s. Nothing is lost: the job stays on the bench, and the file is as it was. Make room or change its permissions and save again, or save elsewhere", e.Path, why)
}

// Unwrap returns the cause.
func (e *SaveError) Unwrap() error { return e.Err }

// ChangedError says that a file holds something else than when it was opened or saved last.
type ChangedError struct{ Path string }

func (e *ChangedError) Error() string {
	return fmt.Sprintf("%s was changed by somebody else since it was opened here; save over it, or save elsewhere", e.Path)
}

// saving is a job on its way into a file.
type saving struct {
	path    string
	job     *inspection.Inspection // that is written
	before  *inspection.Inspection // the job it was made of
	filed   *filed                 // the text of it or of what it was before, nil for none
	over    bool                   // also a file that was changed by somebody else
	data    []byte
	written *inspection.Inspection // as it is read back; nil where it cannot be
}

// Save writes the job as an inspection file, whole or not at all; comments of the
// file it came from are kept. Which meshes they are is written out, and a unit only where
// it was stated: one that was judged is judged again, of the same bytes. The error is a [SaveError], or says what cannot be written as it stands.
func (b *Bench) Save(path string) error {
	if b.job == nil {
		return nil
	}
	s := b.saving(path, true)
	if err := b.write(s); err != nil {
		return err
	}
	b.keep(s)
	return nil
}

// SaveThen is Save off the drawing thread, which may wait for a disk; done is then
// called on the bench. Without over, a file that somebody else has changed since
// it was opened or saved here is left alone, with a [ChangedError].
func (b *Bench) SaveThen(path string, over bool, done func(error)) {
	if b.job == nil {
		return
	}
	s := b.saving(path, over)
	go func() {
		err := b.write(s)
		b.post(func() {
			if err == nil {
				b.keep(s)
			}
			done(err)
		})
	}()
}

func (b *Bench) saving(path string, over bool) *saving {
	return &saving{path: path, before: b.job, job: b.withFacts(b.job), filed: b.filed(), over: over}
}

// write brings a job into its file. It may run anywhere, one at a time.
func (b *Bench) write(s *saving) (err error) {
	b.writing.Lock()
	defer b.writing.Unlock()
	old, _ := os.ReadFile(s.before.Path)
	oldPath := s.before.Path
	if !s.over && s.before.Path != "" && sameFile(s.before.Path, s.path) && b.onDisk != "" && old != nil && sum(old) != b.onDisk {
		return &ChangedError{s.path}
	}
	if s.filed != nil && (old == nil || sum(old) == b.onDisk) {
		old, oldPath = s.filed.data, s.filed.path
	}
	s.data, err = b.services.Encode(s.job, filepath.Dir(s.path), old, oldPath)
	if err != nil {
		return err
	}
	if err := writeWhole(s.path, s.data); err != nil {
		return &SaveError{s.path, err}
	}
	sweep(filepath.Dir(behind(s.path)))
	if again, err := b.services.Read(s.path); err == nil {
		s.written = again
	}
	return nil
}

func sum(data []byte) string {
	h := sha256.Sum256(data)
	return hex.EncodeToString(h[:])
}

func sameFile(a, b string) bool {
	x, errX := filepath.Abs(a)
	y, errY := filepath.Abs(b)
	if errX == nil && errY == nil && x == y {
		return true
	}
	// Also by another path or, under Windows, in other letters.
	s, errS := os.Stat(a)
	t, errT := os.Stat(b)
	return errS == nil && errT == nil && os.SameFile(s, t)
}

// keep makes what was saved the job, unless that has been changed meanwhile.
func (b *Bench) keep(s *saving) {
	saved := clone(s.job)
	saved.Path, saved.SHA256 = s.path, sum(s.data)
	if s.written != nil {
		saved.Defaulted = s.written.Defaulted // as everybody has them who measures the saved file
	}
	b.onDisk = saved.SHA256
	text := &filed{s.path, s.data}
	if b.job != s.before {
		for _, steps := range [][]edit{b.past, b.next} {
			for k := range steps {
				if steps[k].job == s.before {
					steps[k].text = text
				}
			}
		}
		b.saved = saved
		b.job = Changed(b.job, func(i *inspection.Inspection) { i.Path = s.path })
		b.out.Inspection = b.job
		b.jobChanged()
		return
	}
	for _, steps := range [][]edit{b.past, b.next} { // what undo brings back belongs to the same file
		for k := range steps {
			steps[k].job = Changed(steps[k].job, func(i *inspection.Inspection) { i.Path = s.path })
		}
	}
	b.job, b.saved, b.out.Inspection, b.text = saved, saved, saved, text
	b.jobChanged()
}

// behind returns the file that a path stands for: another one where the path is a link.
func behind(path string) string {
	if file, err := filepath.EvalSymlinks(path); err == nil {
		return file
	}
	return path
}

// writeWhole writes a file beside its place and moves it there once it is on the disk. What a link leads to is written, not
// the link; who may read the file stays, and one that nobody may write is not written, though its folder would allow it.
func writeWhole(path string, data []byte) error {
	path = behind(path)
	may := fs.FileMode(0o644)
	if info, err := os.Stat(path); err == nil {
		if may = info.Mode().Perm(); may&0o222 == 0 {
			return fs.ErrPermission
		}
	}
	temporary, err := os.CreateTemp(filepath.Dir(path), unfinishedPattern)
	if err != nil {
		return err
	}
	defer os.Remove(temporary.Name())
	_, err = temporary.Write(data)
	if err == nil {
		err = temporary.Sync()
	}
	if closing := temporary.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Chmod(temporary.Name(), may)
	}
	if err == nil {
		err = os.Rename(temporary.Name(), path)
	}
	return err
}
