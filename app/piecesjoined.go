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
	all, err := j.readFiles(ctx, i.Pieces, s, p.span(0, 0.3), func(k int, err error) error {
		return missing(unitHint(err, "[piece]"), i, fmt.Sprintf("piece[%d].file", k), i.Pieces[k].File)
	})
	if err != nil {
		return nil, err
	}
	sum, size := sha256.New(), int64(0)
	for _, l := range j.Files {
		fmt.Fprintln(sum, l.SHA256)
		size += l.Bytes
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
	if err := j.lay(ctx, all, reference, markers, s, p.span(0.3, 1)); err != nil {
		return nil, err
	}
	parts.Joined = j
	m := j.Joined.Mesh
	return &meshio.Loaded{
		Mesh: m, Path: i.Scan.File, Format: joinedFormat, Unit: "mm", UnitSource: "stated", SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: size,
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
