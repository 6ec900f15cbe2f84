package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"shutline/deviation/evidence"
	"shutline/deviation/pieces"
	"shutline/mesh"
	"shutline/mesh/meshio"
)

// JoinJob says what to join.
type JoinJob struct {
	Files     []string
	Reference string // "" for none: the first piece stays where it is
	Markers   string // a table of markers, "" for none
	Units     meshio.Unit
}

// PiecesJoined is what a join was given and found.
type PiecesJoined struct {
	Files  []*meshio.Loaded // pieces, then the reference where there is one
	Result *pieces.Result
	Joined *pieces.Joined
	Notes  []string // of reading, then of joining
}

// JoinPieces reads pieces and joins them to one mesh.
//
// Errors: [meshio.OpenError], [meshio.FormatError], [meshio.UnitError]; [InputError] for two files of the same bytes and for
// markers that cannot be read; [pieces.ErrPieces] with the figure; or the context's.
func JoinPieces(ctx context.Context, job JoinJob, s Settings, p Progress) (*PiecesJoined, error) {
	j := &PiecesJoined{}
	all, reference, err := j.read(ctx, job, s, p.span(0, 0.25))
	if err != nil {
		return nil, err
	}
	var markers []pieces.Marker
	if job.Markers != "" {
		names := make([]string, len(all))
		for k := range all {
			names[k] = all[k].Name
		}
		if markers, err = ReadMarkers(job.Markers, names, job.Files, reference != nil); err != nil {
			return nil, err
		}
	}
	j.Result, err = pieces.Join(ctx, all, reference, markers, pieces.Settings{Threads: s.Threads}, p.part("laying the pieces together", 0.25, 0.75))
	if err != nil {
		return nil, err
	}
	j.Joined, err = j.Result.Mesh(ctx, pieces.Settings{Threads: s.Threads}, p.part("making one skin", 0.75, 0.95))
	if err != nil {
		return nil, err
	}
	j.Notes = append(j.Notes, j.Result.Notes...)
	return j, ctx.Err()
}

// read reads the pieces and the reference.
func (j *PiecesJoined) read(ctx context.Context, job JoinJob, s Settings, p Progress) (all []pieces.Piece, reference *pieces.Piece, err error) {
	files := append([]string{}, job.Files...)
	if job.Reference != "" {
		files = append(files, job.Reference)
	}
	names := pieceNames(files)
	seen := map[string]string{}
	for k, file := range files {
		lo, hi := float64(k)/float64(len(files)), float64(k+1)/float64(len(files))
		l, err := meshio.Read(ctx, file, meshio.Options{Unit: job.Units, Threads: s.Threads, Progress: p.part("reading "+names[k], lo, hi)})
		var unit *meshio.UnitError
		if errors.As(err, &unit) {
			return nil, nil, fmt.Errorf("%w; say it with --units", err)
		}
		if err != nil {
			return nil, nil, err
		}
		if other, twice := seen[l.SHA256]; twice {
			return nil, nil, &InputError{Path: file, Problem: fmt.Sprintf("it holds the same bytes as %s; name each piece once", other)}
		}
		seen[l.SHA256] = file
		j.Files = append(j.Files, l)
		for _, n := range l.Notices() {
			j.Notes = append(j.Notes, names[k]+": "+n)
		}
		piece := pieces.Piece{Name: names[k], Mesh: l.Mesh}
		if k == len(job.Files) {
			reference = &piece
			continue
		}
		all = append(all, piece)
	}
	return all, reference, nil
}

// pieceNames returns the files' names without their folders, or as given where two are the same.
func pieceNames(files []string) []string {
	count := map[string]int{}
	for _, f := range files {
		count[filepath.Base(f)]++
	}
	names := make([]string, len(files))
	for k, f := range files {
		names[k] = filepath.Base(f)
		if count[names[k]] > 1 {
			names[k] = f
		}
	}
	return names
}

// JoinedRecord gathers a join for writing.
func JoinedRecord(j *PiecesJoined) *evidence.Joined {
	out := &evidence.Joined{Version: Version, Result: j.Result, Joined: j.Joined, Notes: j.Notes}
	for k, l := range j.Files {
		role := "piece"
		if k >= len(j.Result.Pieces) {
			role = "reference"
		}
		out.Inputs = append(out.Inputs, evidence.Input{
			Role: role, Name: filepath.Base(l.Path), SHA256: l.SHA256, Bytes: l.Bytes, Format: l.Format, Unit: string(l.Unit), UnitSource: l.UnitSource,
			Vertices: len(l.Mesh.Vertices), Faces: len(l.Mesh.Faces),
		})
	}
	return out
}

// CheckJoinedPath says, before the long work, whether a joined mesh can be written to a path: .stl or .ply, with its tables
// beside it. The error is a [UsageError] or an [evidence.WriteError].
func CheckJoinedPath(path string, replace bool) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".stl", ".ply":
		return evidence.CheckJoined(path, replace)
	}
	return &UsageError{Problem: fmt.Sprintf("--out %s is no mesh that can be written; end it in .stl or .ply", path)}
}

// WriteJoined writes the joined mesh and its tables: all, or none. It returns the names of what it wrote. The error is an
// [evidence.WriteError] or the context's.
func WriteJoined(ctx context.Context, j *PiecesJoined, path string, w WriteOptions) ([]string, error) {
	write := meshio.WriteSTL
	if strings.EqualFold(filepath.Ext(path), ".ply") {
		write = func(out io.Writer, m *mesh.Mesh) error { return meshio.WritePLY(out, m, meshio.PLYOptions{}) }
	}
	return evidence.WriteJoined(ctx, JoinedRecord(j), path, write, evidence.Options{Replace: w.Replace, Threads: w.Threads})
}
