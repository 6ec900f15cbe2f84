package meshio

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"strconv"
)

// ErrNotAFile says that a path names a folder or a device. It is wrapped in an [OpenError].
var ErrNotAFile = errors.New("not a file")

// ErrChanged says that a file was written to while it was read. It is wrapped in an [OpenError].
var ErrChanged = errors.New("it was changed while it was read")

// OpenError says that a file cannot be opened or read. Err wraps the cause:
// fs.ErrNotExist, fs.ErrPermission, [ErrNotAFile], [ErrChanged] or what the system says.
type OpenError struct {
	Path string
	Err  error
}

func (e *OpenError) Error() string {
	why, advice := SystemWhy(e.Err), "check the disk and try again"
	switch {
	case errors.Is(e.Err, ErrChanged):
		return fmt.Sprintf("meshio: %s: %s; wait until it is written whole and try again", e.Path, why)
	case errors.Is(e.Err, fs.ErrNotExist):
		why, advice = "there is no such file", "check the path; it is taken relative to where it is written"
	case errors.Is(e.Err, fs.ErrPermission):
		why, advice = "you are not allowed to read it", "change its permissions"
	case HeldByAnother(e.Err):
		advice = "close it there and try again"
	case errors.Is(e.Err, ErrNotAFile):
		advice = "name a .stl, .ply, .obj or .glb file"
	}
	return fmt.Sprintf("meshio: %s: cannot be opened: %s; %s", e.Path, why, advice)
}

// Unwrap returns the cause.
func (e *OpenError) Unwrap() error { return e.Err }

// FormatError says that a file was opened and cannot be used.
type FormatError struct {
	Path    string
	Line    int    // counts from 1; 0 when the place is not a line
	Byte    int64  // counts from 0; -1 when the place is not a byte
	What    string // "triangle 812", "vertex 3", or empty
	Problem string // what is wrong and what to do
}

func (e *FormatError) Error() string {
	where := e.What
	place := ""
	if e.Line > 0 {
		place = "line " + strconv.Itoa(e.Line)
	} else if e.Byte >= 0 {
		place = "byte " + strconv.FormatInt(e.Byte, 10)
	}
	switch {
	case where != "" && place != "":
		where += " at " + place
	case where == "":
		where = place
	}
	if where != "" {
		where += ": "
	}
	return "meshio: " + e.Path + ": " + where + e.Problem
}

// place says where in a file something is wrong.
type place struct {
	pos    int // byte offset, or -1
	inText bool
	what   string
}

var nowhere = place{pos: -1}

func atByte(pos int) place { return place{pos: pos} }
func atText(pos int) place { return place{pos: pos, inText: true} }
func (p place) of(format string, args ...any) place {
	p.what = fmt.Sprintf(format, args...)
	return p
}

// fault makes a FormatError; text places become line numbers.
func (s *source) fault(at place, format string, args ...any) *FormatError {
	e := &FormatError{Path: s.path, Byte: int64(at.pos), What: at.what, Problem: fmt.Sprintf(format, args...)}
	if at.inText {
		e.Line = lineOf(s.data, at.pos)
	}
	return e
}

// lineOf returns the number of the line that holds byte pos, from 1; LF, CR LF and CR end lines.
func lineOf(data []byte, pos int) int {
	head := data[:min(pos, len(data))]
	lines := bytes.Count(head, []byte{'\n'}) + bytes.Count(head, []byte{'\r'}) - bytes.Count(head, []byte("\r\n"))
	if pos > 0 && pos < len(data) && data[pos] == '\n' && data[pos-1] == '\r' {
		lines-- // inside the CR LF that ends the line
	}
	return lines + 1
}

// count writes a number with commas between thousands.
func count(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// excerpt quotes a piece of a file for a message, cut to a sane length.
func excerpt(b []byte) string {
	const most = 32
	if len(b) > most {
		return strconv.QuoteToASCII(string(b[:most])) + "…"
	}
	return strconv.QuoteToASCII(string(b))
}
