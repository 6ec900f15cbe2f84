package meshio

import (
	"errors"
	"io"
	"io/fs"
	"os"
)

const (
	// maxBytes limits a file: 343 million STL triangles. Indices of corners
	// (three to a triangle of 50 bytes) then fit 32 bits, and no format packs corners tighter
	// than one byte each, whose number is checked where they are counted.
	maxBytes = 16 << 30
	// blockBytes is read or hashed between two looks at the context: about 1 ms of work.
	blockBytes = 1 << 20
	// headBytes are read first, to tell the format.
	headBytes = 64 << 10
	// shareRead is the part of the progress that reading the bytes takes.
	shareRead = 0.25
	// shareBlocks is the part of it that a file takes whose blocks are worked on as they are read.
	shareBlocks = 0.95
)

// file is an open regular file and what it was when it was opened.
type file struct {
	*os.File
	path string
	info fs.FileInfo
}

// open opens a regular file; pipes and devices could block for ever and are refused.
func open(path string) (*file, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, &OpenError{path, cause(err)}
	case info.IsDir():
		return nil, &OpenError{path, errFolder}
	case !info.Mode().IsRegular():
		return nil, &OpenError{path, ErrNotAFile}
	case info.Size() == 0:
		return nil, &FormatError{Path: path, Byte: -1, Problem: "it is empty (0 bytes); export it again"}
	case info.Size() > maxBytes:
		return nil, &FormatError{Path: path, Byte: -1, Problem: "it is larger than the limit of 16 GiB; cut it into parts"}
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, &OpenError{path, cause(err)}
	}
	return &file{f, path, info}, nil
}

// cause strips the operation and path, which OpenError says itself.
func cause(err error) error {
	var e *fs.PathError
	if errors.As(err, &e) {
		return e.Err
	}
	return err
}

// folderError reads better than "not a file" and still is ErrNotAFile.
type folderError struct{}

var errFolder error = folderError{}

func (folderError) Error() string        { return "it is a folder" }
func (folderError) Is(target error) bool { return target == ErrNotAFile }

// at reads len(buf) bytes from pos on.
func (f *file) at(buf []byte, pos int64) error {
	_, err := f.ReadAt(buf, pos)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, io.EOF):
		return &OpenError{f.path, ErrChanged}
	}
	return &OpenError{f.path, cause(err)}
}

// unchanged reports an error when the file is no longer what it was when it was
// opened: the mesh and the SHA-256 could be of different bytes then.
func (f *file) unchanged() error {
	info, err := f.Stat()
	if err != nil {
		return &OpenError{f.path, cause(err)}
	}
	if info.Size() != f.info.Size() || !info.ModTime().Equal(f.info.ModTime()) || !os.SameFile(info, f.info) {
		return &OpenError{f.path, ErrChanged}
	}
	return nil
}

// load reads the whole file, and hashes it on the way if asked to.
func (f *file) load(s *source) ([]byte, error) {
	data := make([]byte, s.size)
	for pos := 0; pos < len(data); pos += blockBytes {
		if err := s.ctx.Err(); err != nil {
			return nil, err
		}
		b := data[pos:min(len(data), pos+blockBytes)]
		if err := f.at(b, int64(pos)); err != nil {
			return nil, err
		}
		if s.hash != nil {
			s.hash.Write(b)
		}
		s.progress.Report(shareRead * float64(pos+len(b)) / float64(len(data)))
	}
	return data, nil
}
