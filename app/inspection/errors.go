package inspection

import (
	"errors"
	"fmt"
	"io/fs"

	"shutline/mesh/meshio"
)

// Error says what in an inspection file cannot be used, and where.
type Error struct {
	Path         string
	Line, Column int    // from 1; 0 when the place is the whole file
	Key          string // "seam[0].path", or empty
	Problem      string // what is wrong and what to do
}

func (e *Error) Error() string {
	where := e.Path
	if e.Line > 0 {
		where = fmt.Sprintf("%s: line %d, column %d", e.Path, e.Line, e.Column)
	}
	if e.Key != "" {
		return fmt.Sprintf("inspection: %s: %s: %s", where, e.Key, e.Problem)
	}
	return fmt.Sprintf("inspection: %s: %s", where, e.Problem)
}

var (
	errFolder = errors.New("it is a folder")
	errDevice = errors.New("it is a pipe or a device")
)

// OpenError says that an inspection file cannot be opened or read; it wraps the cause.
type OpenError struct {
	Path string
	Err  error
}

func (e *OpenError) Error() string {
	why, advice := "", "check the disk and try again"
	switch {
	case errors.Is(e.Err, fs.ErrNotExist):
		why, advice = "there is no such file", "check the path, or write a first job with `shutcheck demo --out DIR`"
	case errors.Is(e.Err, fs.ErrPermission):
		why, advice = "you are not allowed to read it", "change its permissions"
	case errors.Is(e.Err, errFolder):
		why, advice = e.Err.Error(), "name the inspection file in it"
	case errors.Is(e.Err, errDevice):
		why, advice = e.Err.Error(), "name a .toml file"
	case meshio.HeldByAnother(e.Err):
		why, advice = meshio.SystemWhy(e.Err), "close it there and try again"
	default:
		why = meshio.SystemWhy(e.Err)
	}
	return fmt.Sprintf("inspection: %s: cannot be opened: %s; %s", e.Path, why, advice)
}

// Unwrap returns the cause.
func (e *OpenError) Unwrap() error { return e.Err }
