package meshio

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"

	"shutline/mesh/parallel"
)

const (
	// maxBytes limits a file: 343 million STL triangles. Indices of corners
	// (three to a triangle of 50 bytes) then fit 32 bits, and no format packs corners tighter
	// than one byte each, whose number is checked where they are counted.
	maxBytes = 16 << 30
	// blockBytes is read between two looks at the context: about 1 ms of work.
	blockBytes = 1 << 20
	// shareRead is the part of the progress that reading the bytes takes.
	shareRead = 0.25
)

// file is an open regular file of known size.
type file struct {
	*os.File
	path string
	size int64
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
	return &file{f, path, info.Size()}, nil
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

// load reads the whole file and closes it. The SHA-256 of the bytes is computed
// beside whatever the caller does next; sum waits for it and must be called.
func (f *file) load(ctx context.Context, o Options) (data []byte, sum func() string, err error) {
	defer f.Close()
	data = make([]byte, f.size)
	read := 0
	for read < len(data) {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		n, err := f.Read(data[read:min(len(data), read+blockBytes)])
		read += n
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, nil, &OpenError{f.path, cause(err)}
		}
		o.Progress.Report(shareRead * float64(read) / float64(len(data)))
	}
	if read < len(data) {
		return nil, nil, &OpenError{f.path, errors.New("it became shorter while it was read")}
	}
	return data, startSum(ctx, data, parallel.Threads(o.Threads)), nil
}

// startSum hashes data, in the background when there is more than one thread.
func startSum(ctx context.Context, data []byte, threads int) func() string {
	work := func() string {
		h := sha256.New()
		for at := 0; at < len(data) && ctx.Err() == nil; at += blockBytes {
			h.Write(data[at:min(len(data), at+blockBytes)])
		}
		return hex.EncodeToString(h.Sum(nil))
	}
	if threads < 2 {
		return work
	}
	done := make(chan string, 1)
	go func() { done <- work() }()
	return func() string { return <-done }
}
