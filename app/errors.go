package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"regexp"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/deviation/pieces"
	"shutline/mesh/meshio"
)

// InputError says why a file that was read cannot be used for what was asked.
type InputError struct{ Path, Problem string }

func (e *InputError) Error() string { return fmt.Sprintf("app: %s: %s", e.Path, e.Problem) }

// MissingError says that a mesh that an inspection file names is not there.
type MissingError struct {
	Inspection string // its path
	Line       int    // of the file name in it, 0 when unknown
	Key        string // "scan.file"
	File       string // as it was looked for, in full
	Nearest    string // the mesh in the same folder that is named most alike, "" for none
	Err        error
}

func (e *MissingError) Error() string {
	where, hint := e.Inspection, ""
	if e.Line > 0 {
		where = fmt.Sprintf("%s: line %d", e.Inspection, e.Line)
	}
	if e.Nearest != "" {
		hint = fmt.Sprintf("; did you mean %q?", e.Nearest)
	}
	return fmt.Sprintf("app: %s: %s: there is no file %s; mend the name (it counts from the inspection file's folder)%s", where, e.Key, e.File, hint)
}

// Unwrap returns the cause.
func (e *MissingError) Unwrap() error { return e.Err }

// packagePrefix are the names of packages that errors begin with, or carry in
// their middle where one wraps another's: for programmers, not for users.
var packagePrefix = regexp.MustCompile(`^(?:app|inspection|meshio|evidence|demo|align|gapflush|deviation|surface|section|length|pieces): |(: )(?:align|gapflush|deviation|surface|section|length|pieces): `)

// Sentence returns an error's text as a user reads it: without names of packages.
func Sentence(err error) string {
	return packagePrefix.ReplaceAllString(err.Error(), "$1")
}

// UsageError says that a command or an option is wrong.
type UsageError struct{ Problem string }

func (e *UsageError) Error() string { return e.Problem }

// FaultError is a fault of our own: what a panic left, caught at the top.
type FaultError struct {
	What  any
	Stack []byte
}

func (e *FaultError) Error() string { return fmt.Sprintf("a fault of the program itself: %v", e.What) }

// The exit statuses of errors, from sysexits.h; 130 is 128 + SIGINT.
const (
	ExitDone           = 0
	ExitDoesNotConform = 3
	ExitUndecided      = 4
	ExitUsage          = 64
	ExitInput          = 65
	ExitOpen           = 66
	ExitFault          = 70
	ExitOutput         = 74
	ExitInterrupted    = 130
)

// ExitStatus returns the exit status an error ends a command with, 0 for none.
// An error of no known kind is a fault of our own, as every expected one has a kind.
func ExitStatus(err error) int {
	var (
		usage  *UsageError
		fault  *FaultError
		output *evidence.WriteError
		opened *meshio.OpenError
		file   *inspection.OpenError
		format *meshio.FormatError
		unit   *meshio.UnitError
		keys   *inspection.Error
		input  *InputError
	)
	for _, row := range []struct {
		is     bool
		status int
	}{
		{err == nil, ExitDone},
		{errors.Is(err, context.Canceled), ExitInterrupted},
		{errors.Is(err, context.DeadlineExceeded), ExitInterrupted},
		{errors.As(err, &usage), ExitUsage},
		{errors.As(err, &fault), ExitFault},
		{errors.As(err, &output), ExitOutput},
		{errors.As(err, &opened), ExitOpen},
		{errors.As(err, &file), ExitOpen},
		{errors.As(err, &format), ExitInput},
		{errors.As(err, &unit), ExitInput},
		{errors.As(err, &keys), ExitInput},
		{errors.As(err, &input), ExitInput},
		{errors.Is(err, align.ErrTooFew), ExitInput},
		{errors.Is(err, align.ErrNoOverlap), ExitInput},
		{errors.Is(err, align.ErrDatums), ExitInput},
		{errors.Is(err, align.ErrPairs), ExitInput},
		{errors.Is(err, align.ErrRegions), ExitInput},
		{errors.Is(err, gapflush.ErrPath), ExitInput},
		{errors.Is(err, pieces.ErrPieces), ExitInput},
		{errors.Is(err, fs.ErrNotExist), ExitOpen},
		{errors.Is(err, fs.ErrPermission), ExitOpen},
	} {
		if row.is {
			return row.status
		}
	}
	return ExitFault
}
