package evidence

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"shutline/mesh/meshio"
)

// WriteError says that results cannot be written; it wraps the cause, if there is one.
type WriteError struct {
	Path    string
	Problem string // what is wrong and what to do
	Err     error
}

func (e *WriteError) Error() string { return fmt.Sprintf("evidence: %s: %s", e.Path, e.Problem) }

// Unwrap returns the cause.
func (e *WriteError) Unwrap() error { return e.Err }

// putInPlace begins what is said of a file that was written and cannot take another's place.
const putInPlace = "cannot be put in place"

// cannot words an error of the system.
func cannot(path, what string, err error) *WriteError {
	why := meshio.SystemWhy(err)
	if strings.HasPrefix(what, putInPlace) {
		why = meshio.ReplaceWhy(err)
	}
	return &WriteError{path, fmt.Sprintf("%s: %s; check the disk and the folder's permissions, or choose another folder", what, why), err}
}

// partialPrefix starts the names of folders that are being written.
const partialPrefix = ".shutline-partial-"

// previous is what a folder already holds.
type previous struct {
	exists  bool
	files   []string // that an earlier run wrote and listed
	foreign []string // first names of what is not ours
	results *results // nil: none
}

// look examines a folder without changing it.
func look(dir string) (previous, error) {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Lstat(dir); err == nil {
			return previous{}, &WriteError{Path: dir, Problem: "is a link to a folder that does not exist; make that folder, or name another one"}
		}
		return previous{}, nil
	case err != nil:
		return previous{}, cannot(dir, "cannot be looked at", err)
	case !info.IsDir():
		return previous{}, &WriteError{Path: dir, Problem: "is a file; name a folder for the results"}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return previous{}, cannot(dir, "cannot be listed", err)
	}
	p := previous{exists: true, results: readResults(filepath.Join(dir, "results.json"))}
	listed := map[string]bool{}
	if p.results != nil {
		for _, name := range append([]string{"results.json", "run.json"}, p.results.Files...) {
			if ours(name) && !listed[name] {
				listed[name] = true
				p.files = append(p.files, name)
			}
		}
	}
	for _, e := range entries {
		if !listed[e.Name()] && !strings.HasPrefix(e.Name(), partialPrefix) {
			p.foreign = append(p.foreign, e.Name())
		}
	}
	return p, nil
}

// mostResults is the largest results.json that is read back: stations take
// about 2 kB each, so this is some 30,000 of them.
const mostResults = 64 << 20

// readResults reads an earlier results.json of ours, nil when there is none.
func readResults(path string) *results {
	info, err := os.Lstat(path)
	if err != nil || !info.Mode().IsRegular() || info.Size() > mostResults {
		return nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil
	}
	var head struct {
		Format     int              `json:"format"`
		Tool       string           `json:"tool"`
		Inspection inspectionResult `json:"inspection"`
		Inputs     []inputResult    `json:"inputs"`
		Files      []string         `json:"files"`
	}
	if json.Unmarshal(data, &head) != nil || head.Format < 1 || head.Tool != toolName {
		return nil
	}
	return &results{Format: head.Format, Tool: head.Tool, Inspection: head.Inspection, Inputs: head.Inputs, Files: head.Files}
}

// CheckFolder says, before the long work, whether a record may be written into
// dir: it must be new, empty, or hold results of the same inspection of the same
// inputs; replace allows anything but a file in the folder's place. Only the
// record's InspectionSHA256 and Inputs are looked at. The error is a *WriteError.
func CheckFolder(r *Record, dir string, replace bool) error {
	p, err := look(dir)
	if err != nil {
		return err
	}
	if err := p.allows(r, dir, replace); err != nil {
		return err
	}
	return writable(dir)
}

func (p *previous) allows(r *Record, dir string, replace bool) error {
	switch {
	case replace || !p.exists:
		return nil
	case p.results == nil && len(p.foreign) > 0:
		return &WriteError{Path: dir, Problem: fmt.Sprintf(
			"the folder holds other files (%s); name an empty or new folder, or allow it with --replace (files that are not results stay)", some(p.foreign))}
	case p.results != nil && !p.results.sameAs(r):
		return &WriteError{Path: dir, Problem: "the folder holds the results of another inspection or of other meshes; name another folder, or allow it with --replace"}
	}
	return nil
}

// Holding is what a folder holds already, seen from results that are to be written into it.
type Holding int

// The kinds of holding.
const (
	Nothing      Holding = iota // it does not exist, is empty, or cannot be looked at
	SameResults                 // results of the same inspection of the same inputs
	SameScan                    // results of another inspection of the same scan
	OtherResults                // results of another scan
	OtherFiles                  // no results, but files of somebody else's, the first of which are named
)

// Held tells what dir holds, as seen from a record of which only InspectionSHA256 and Inputs are looked at, the scan's first.
func Held(r *Record, dir string) (h Holding, names string) {
	p, err := look(dir)
	switch {
	case err != nil || !p.exists:
		return Nothing, ""
	case p.results == nil && len(p.foreign) > 0:
		return OtherFiles, some(p.foreign)
	case p.results == nil:
		return Nothing, ""
	case p.results.sameAs(r):
		return SameResults, ""
	case len(r.Inputs) > 0 && len(p.results.Inputs) > 0 && r.Inputs[0].SHA256 != "" &&
		p.results.Inputs[0].Role == r.Inputs[0].Role && p.results.Inputs[0].SHA256 == r.Inputs[0].SHA256:
		return SameScan, ""
	}
	return OtherResults, ""
}

func some(names []string) string {
	const most = 3
	if len(names) > most {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
	}
	return strings.Join(names, ", ")
}

// sameAs reports whether the results are of the same inspection and inputs.
func (old *results) sameAs(r *Record) bool {
	if old.Inspection.SHA256 != r.InspectionSHA256 || len(old.Inputs) != len(r.Inputs) {
		return false
	}
	for k, in := range r.Inputs {
		if old.Inputs[k].Role != in.Role || old.Inputs[k].SHA256 != in.SHA256 {
			return false
		}
	}
	return true
}

// writable tries to make a folder where results would be prepared, and removes it again.
func writable(dir string) error {
	partial, err := partialFolder(dir)
	if err != nil {
		return err
	}
	return os.Remove(partial)
}

// partialFolder makes the folder that results are prepared in: inside dir where
// it exists, else in the nearest folder above it that does, so that renaming
// never crosses a file system.
func partialFolder(dir string) (string, error) {
	at := dir
	for {
		info, err := os.Stat(at)
		if err == nil && info.IsDir() {
			break
		}
		if err == nil {
			return "", &WriteError{Path: dir, Problem: fmt.Sprintf("cannot be made: %s is a file; name another folder", at)}
		}
		above := filepath.Dir(at)
		if !errors.Is(err, fs.ErrNotExist) || above == at {
			return "", cannot(dir, "cannot be made", err)
		}
		at = above
	}
	// Mkdir, not MkdirTemp, so that the folder gets the permissions any new one gets.
	partial := filepath.Join(at, partialPrefix+rand.Text())
	if err := os.Mkdir(partial, 0o777); err != nil {
		return "", cannot(dir, "cannot be written to", err)
	}
	return partial, nil
}

// abandonedAfter is the age at which a folder of prepared results belongs to nobody any more: writing takes
// seconds to minutes, so its program was killed.
const abandonedAfter = 2 * time.Hour

// sweep removes what killed programs left in a folder of results. What cannot be removed does no harm.
func sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		if !e.IsDir() || !strings.HasPrefix(e.Name(), partialPrefix) {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > abandonedAfter {
			_ = os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}
