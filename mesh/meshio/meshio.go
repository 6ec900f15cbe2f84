package meshio

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Options say how to read a file; the zero value works.
type Options struct {
	Unit     Unit      // UnitUnknown: the format's, or judged
	Beside   *geom.Box // box in mm of a reference whose unit is stated, to judge by; may be nil
	Join     float64   // mm, 1e-6 to 1: vertices within it are joined too; 0: only exactly equal ones
	Threads  int       // 0: all processors; 1: everything in turn on one
	Unhashed bool      // no SHA-256, which results need and a look does not
	Progress mesh.Progress
}

func (o Options) check() error {
	if err := o.Unit.check(); err != nil {
		return err
	}
	return checkJoin(o.Join)
}

// Loaded is a file that was read whole, in millimetres.
type Loaded struct {
	Mesh       *mesh.Mesh
	Path       string
	Format     string // "STL binary", "STL text", "PLY text", "PLY binary little-endian", "PLY binary big-endian", "OBJ", "GLB"
	Unit       Unit
	UnitSource string // "stated", "format" or "judged"
	SHA256     string // of the file's bytes, lower-case hex; empty where it was not asked for
	Bytes      int64

	FacesInFile      int // triangles after polygons were cut up
	DroppedNotFinite int // faces with a NaN or infinite corner
	DroppedNoArea    int // faces of no area

	VerticesInFile   int  // corners of the faces (STL) or length of the file's vertex list (PLY, OBJ, GLB)
	VerticesJoined   int  // PLY, OBJ, GLB: vertices that repeat an earlier one exactly
	VerticesNear     int  // vertices joined with another that is not equal but within Options.Join
	VerticesUnused   int  // vertices of a mesh that no kept face uses
	PointsNotFinite  int  // entries of the vertex list with a NaN or infinite coordinate
	PolygonsCut      int  // polygons of more than three corners that were cut into triangles
	PolygonsTooSmall int  // faces of fewer than three corners, left out
	Solids           int  // STL text: solids in the file, joined into one mesh
	LeftOut          int  // OBJ: lines, points, curves and free-form surfaces, left out
	OpenEnd          bool // a text file without a line end after its last line: it may have been cut short
}

// Read reads the file at path into an indexed mesh with welded corners, in
// millimetres. What it is told by: content first, the extension second.
//
// Errors: [OpenError] when the file cannot be opened or read (the cause is
// wrapped: fs.ErrNotExist, fs.ErrPermission, [ErrNotAFile]); [FormatError] when it
// cannot be used; [UnitError] when its unit cannot be told; the context's error,
// within 50 ms, when ctx is done.
func Read(ctx context.Context, path string, o Options) (*Loaded, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	f, err := open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := &source{ctx: ctx, path: path, file: f, size: int(f.info.Size()), threads: o.Threads, unhashed: o.Unhashed, progress: o.Progress}
	s.head = make([]byte, min(s.size, headBytes))
	if err := f.at(s.head, 0); err != nil {
		return nil, err
	}
	kind, err := detect(s)
	if err != nil {
		return nil, err
	}
	out, err := s.read(kind, f)
	if err == nil {
		err = out.finish(ctx, o)
	}
	if err == nil {
		err = f.unchanged()
	}
	if err != nil {
		return nil, err
	}
	o.Progress.Report(1)
	return &out.Loaded, nil
}

// ReadBytes is [Read] of what a file holds that is in memory already, without its hash; the name
// serves to tell formats and for messages. Nothing of data is kept.
func ReadBytes(ctx context.Context, name string, data []byte, o Options) (*Loaded, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	o.Progress = forward(o.Progress)
	s := &source{ctx: ctx, path: name, size: len(data), head: data[:min(len(data), headBytes)], data: data, threads: o.Threads, progress: o.Progress}
	kind, err := detect(s)
	if err != nil {
		return nil, err
	}
	out, err := s.decode(kind)
	if err == nil {
		err = out.finish(ctx, o)
	}
	if err != nil {
		return nil, err
	}
	o.Progress.Report(1)
	return &out.Loaded, nil
}

// read decodes the file and hashes it: on one thread in turn, else beside one another.
func (s *source) read(kind kind, f *file) (out *decoded, err error) {
	oneThread := parallel.Threads(s.threads) == 1
	beside := !oneThread && !s.unhashed // the hash is computed on a goroutine of its own
	if oneThread && !s.unhashed {
		s.hash = sha256.New()
	}
	streamed := kind == kindSTLBinary
	if !streamed {
		if s.data, err = f.load(s); err != nil {
			return nil, err
		}
		s.progress = s.progress.Part(shareRead, 1)
	} else {
		s.blocks = meter{progress: s.progress.Part(0, shareBlocks), total: s.size}
		if beside {
			s.blocks.total = 2 * s.size
		}
	}
	if !beside {
		if out, err = s.decode(kind); err != nil {
			return nil, err
		}
		if s.hash != nil {
			out.SHA256 = hex.EncodeToString(s.hash.Sum(nil))
		}
		return out, nil
	}
	sum := startDigest(s)
	out, err = s.decode(kind)
	s.failed.Store(err != nil)
	digest, sumErr := sum.wait()
	if err == nil {
		err = sumErr
	}
	if err != nil {
		return nil, err
	}
	out.SHA256 = digest
	return out, nil
}

// decoded is a mesh in the units of its file, before the unit is known.
type decoded struct {
	Loaded
	box        geom.Box // of the vertices; zero when not known yet
	formatUnit Unit     // what the format states
}

// decode reads a file of the given format.
func (s *source) decode(kind kind) (out *decoded, err error) {
	switch kind {
	case kindSTLBinary:
		out, err = readSTLBinary(s)
	case kindSTLText:
		out, err = readSTLText(s)
	case kindPLY:
		out, err = readPLY(s)
	case kindOBJ:
		out, err = readOBJ(s)
	case kindGLB:
		out, err = readGLB(s)
	default:
		err = fmt.Errorf("meshio: %s: format %d has no reader", s.path, kind)
	}
	if err != nil {
		return nil, err
	}
	out.Path, out.Bytes = s.path, int64(s.size)
	return out, s.usable(out)
}

// usable refuses files that hold nothing to measure.
func (s *source) usable(d *decoded) error {
	if len(d.Mesh.Faces) > 0 {
		return nil
	}
	switch {
	case d.FacesInFile > 0:
		return s.fault(nowhere, "none of its %s faces can be used: %s have a corner that is not finite, %s have no area; export it again",
			count(d.FacesInFile), count(d.DroppedNotFinite), count(d.DroppedNoArea))
	case d.PolygonsTooSmall > 0:
		return s.fault(nowhere, "none of its %s faces has three corners; export it again as triangles", count(d.PolygonsTooSmall))
	case len(d.Mesh.Vertices) > 0:
		return nil
	case d.PointsNotFinite > 0:
		return s.fault(nowhere, "none of its %s points is finite; export it again", count(d.PointsNotFinite))
	}
	return s.fault(nowhere, "it holds no faces and no points; export it again")
}
