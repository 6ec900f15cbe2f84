package app

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"shutline/app/inspection"
)

// missing turns the error of a mesh that is not there into one that says where
// it is named and where it was looked for. Others stay as they are, and so do
// those of a job that no file describes.
func missing(err error, i *inspection.Inspection, key, file string) error {
	if i.Path == "" || !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	e := &MissingError{Inspection: i.Path, Line: inspection.Line(i.Path, key), Key: key, File: file, Err: err}
	if full, err := filepath.Abs(file); err == nil {
		e.File = full
	}
	e.Nearest = alike(file)
	return e
}

// IsMeshName reports whether a file's name says that it holds a mesh.
func IsMeshName(name string) bool {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".stl", ".ply", ".obj", ".glb":
		return true
	}
	return false
}

// alike returns the mesh in a missing file's folder whose name is most like its
// own, "" when none shares half of its pairs of letters (Dice 1945).
func alike(file string) string {
	entries, err := os.ReadDir(filepath.Dir(file))
	if err != nil {
		return ""
	}
	name := strings.ToLower(filepath.Base(file))
	best, most := "", 0.5
	for _, e := range entries {
		other := strings.ToLower(e.Name())
		if !IsMeshName(other) {
			continue
		}
		shared := 0
		for k := 0; k+1 < len(name); k++ {
			if strings.Contains(other, name[k:k+2]) {
				shared++
			}
		}
		if s := 2 * float64(shared) / float64(len(name)+len(other)); s > most {
			best, most = e.Name(), s
		}
	}
	return best
}
