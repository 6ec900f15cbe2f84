package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"shutline/app/inspection"
	"shutline/deviation/evidence"
	"shutline/deviation/pieces"
	"shutline/mesh/meshio"
)

// joinedFormat is what the scan's format is called that was joined from pieces.
const joinedFormat = "joined pieces"

// readScan reads the scan, or reads its pieces and joins them.
func (parts *Parts) readScan(ctx context.Context, i *inspection.Inspection, o meshio.Options, s Settings, p Progress) (*meshio.Loaded, error) {
	if len(i.Pieces) > 0 {
		return parts.join(ctx, i, s, p)
	}
	o.Progress = p.part("reading the scan", 0, 1)
	scan, err := meshio.Read(ctx, i.Scan.File, o)
	if err != nil {
		return nil, missing(unitHint(err, "scan"), i, "scan.file", i.Scan.File)
	}
	return scan, nil
}

// join joins the pieces of an inspection: by themselves, or onto the reference where markers are on it.
func (parts *Parts) join(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*meshio.Loaded, error) {
	j := &PiecesJoined{}
	job := JoinJob{}
	for _, f := range i.Pieces {
		job.Files = append(job.Files, f.File)
	}
	names := pieceNames(job.Files)
	var all []pieces.Piece
	seen := map[string]string{}
	sum := sha256.New()
	bytes := int64(0)
	n := float64(len(i.Pieces))
	for k, f := range i.Pieces {
		l, err := meshio.Read(ctx, f.File, meshio.Options{Unit: f.Units, Threads: s.Threads, Progress: p.part("reading "+names[k], 0.3*float64(k)/n, 0.3*float64(k+1)/n)})
		if err != nil {
			return nil, missing(unitHint(err, "[piece]"), i, fmt.Sprintf("piece[%d].file", k), f.File)
		}
		if other, twice := seen[l.SHA256]; twice {
			return nil, &InputError{Path: f.File, Problem: fmt.Sprintf("it holds the same bytes as %s; name each piece once", other)}
		}
		seen[l.SHA256] = f.File
		fmt.Fprintln(sum, l.SHA256)
		bytes += l.Bytes
		j.Files = append(j.Files, l)
		for _, note := range l.Notices() {
			j.Notes = append(j.Notes, names[k]+": "+note)
		}
		all = append(all, pieces.Piece{Name: names[k], Mesh: l.Mesh})
	}
	var markers []pieces.Marker
	onto := false
	for _, m := range i.Markers {
		marker := pieces.Marker{Name: m.Name, Sigma: m.U / 2}
		for _, at := range m.At {
			marker.Seen = append(marker.Seen, pieces.Sighting{Piece: at.Piece, At: at.Point})
			onto = onto || at.Piece == len(all)
		}
		markers = append(markers, marker)
	}
	var reference *pieces.Piece
	if onto && parts.Mirrored != nil {
		reference = &pieces.Piece{Name: referenceName, Mesh: parts.Mirrored}
		j.Files = append(j.Files, parts.Reference)
	}
	var err error
	if j.Result, err = pieces.Join(ctx, all, reference, markers, pieces.Settings{Threads: s.Threads}, p.part("laying the pieces together", 0.3, 0.8)); err != nil {
		return nil, err
	}
	if j.Joined, err = j.Result.Mesh(ctx, pieces.Settings{Threads: s.Threads}, p.part("making one skin of the pieces", 0.8, 1)); err != nil {
		return nil, err
	}
	j.Notes = append(j.Notes, j.Result.Notes...)
	parts.Joined = j
	m := j.Joined.Mesh
	return &meshio.Loaded{
		Mesh: m, Path: i.Scan.File, Format: joinedFormat, Unit: "mm", UnitSource: "stated", SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: bytes,
		FacesInFile: len(m.Faces), VerticesInFile: 3 * len(m.Faces),
	}, nil
}

// joinedRecord is the join of an inspection's pieces for writing, nil where there are none.
func (parts *Parts) joinedRecord() *evidence.Joined {
	if parts == nil || parts.Joined == nil {
		return nil
	}
	return JoinedRecord(parts.Joined)
}
