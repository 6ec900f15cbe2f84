package app

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"shutline/app/inspection"
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
	if err := j.lay(ctx, all, reference, markers, s, p.span(0.25, 0.95)); err != nil {
		return nil, err
	}
	return j, nil
}

// read reads the pieces and the reference.
func (j *PiecesJoined) read(ctx context.Context, job JoinJob, s Settings, p Progress) (all []pieces.Piece, reference *pieces.Piece, err error) {
	var files []inspection.PieceFile
	for _, f := range job.Files {
		files = append(files, inspection.PieceFile{File: f, Units: job.Units})
	}
	if job.Reference != "" {
		files = append(files, inspection.PieceFile{File: job.Reference, Units: job.Units})
	}
	all, err = j.readFiles(ctx, files, s, p, nil)
	if err == nil && job.Reference != "" {
		last := len(all) - 1
		all, reference = all[:last], &all[last]
	}
	return all, reference, err
}

// readFiles reads pieces and refuses two of the same bytes; advise words an error of the reader for the file of that number.
func (j *PiecesJoined) readFiles(ctx context.Context, files []inspection.PieceFile, s Settings, p Progress, advise func(k int, err error) error) ([]pieces.Piece, error) {
	paths := make([]string, len(files))
	for k, f := range files {
		paths[k] = f.File
	}
	if err := NeedRoom(paths...); err != nil {
		return nil, err
	}
	names := pieceNames(paths)
	seen := map[string]string{}
	var all []pieces.Piece
	for k, f := range files {
		lo, hi := float64(k)/float64(len(files)), float64(k+1)/float64(len(files))
		l, err := meshio.Read(ctx, f.File, meshio.Options{Unit: f.Units, Threads: s.Threads, Progress: p.part("reading "+names[k], lo, hi)})
		if err != nil {
			if advise != nil {
				err = advise(k, err)
			}
			return nil, err
		}
		if other, twice := seen[l.SHA256]; twice {
			return nil, &InputError{Path: f.File, Problem: fmt.Sprintf("it holds the same bytes as %s; name each piece once", other)}
		}
		seen[l.SHA256] = f.File
		j.Files = append(j.Files, l)
		for _, n := range l.Notices() {
			j.Notes = append(j.Notes, names[k]+": "+n)
		}
		all = append(all, pieces.Piece{Name: names[k], Mesh: l.Mesh})
	}
	return all, nil
}

// lay lays the pieces together and makes one mesh of them.
func (j *PiecesJoined) lay(ctx context.Context, all []pieces.Piece, reference *pieces.Piece, markers []pieces.Marker, s Settings, p Progress) (err error) {
	settings := pieces.Settings{Threads: s.Threads}
	if j.Result, err = pieces.Join(ctx, all, reference, markers, settings, p.part("laying the pieces together", 0, 0.7)); err != nil {
		return err
	}
	if j.Joined, err = j.Result.Mesh(ctx, settings, p.part("making one skin of the pieces", 0.7, 1)); err != nil {
		return err
	}
	j.Notes = append(j.Notes, j.Result.Notes...)
	return ctx.Err()
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
// beside it, none of inputs is written over. The error is a [UsageError] or an [evidence.WriteError].
func CheckJoinedPath(path string, replace bool, inputs ...string) error {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".stl", ".ply":
		return evidence.CheckJoined(path, replace, inputs...)
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
