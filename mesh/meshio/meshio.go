// Package meshio reads and writes mesh files.
package meshio

import (
	"context"
	"errors"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Unit is a length unit of a file.
type Unit string

// The units a file can be in. UnitUnknown asks for the format's own, or a judgement.
const (
	UnitUnknown Unit = ""
	Millimetre  Unit = "mm"
	Centimetre  Unit = "cm"
	Metre       Unit = "m"
	Inch        Unit = "in"
)

// Options say how to read a file; the zero value works.
type Options struct {
	Unit     Unit      // UnitUnknown: the format's, or judged
	Beside   *geom.Box // box in mm of a reference whose unit is stated, to judge by; may be nil
	Threads  int
	Progress mesh.Progress
}

// Loaded is a file that was read whole, in millimetres.
type Loaded struct {
	Mesh       *mesh.Mesh
	Path       string
	Format     string // "STL binary", "STL text", "PLY text", "PLY binary little-endian", …
	Unit       Unit
	UnitSource string // "stated", "format" or "judged"
	SHA256     string // of the file's bytes, lower-case hex
	Bytes      int64

	FacesInFile      int // triangles after polygons were cut up
	DroppedNotFinite int // faces with a NaN or infinite corner
	DroppedNoArea    int // faces of no area
}

// UnitError says that a file's unit cannot be told: none or several are plausible.
type UnitError struct {
	Path     string
	Readings []Reading
}

// Reading is one plausible unit and the size the part would have.
type Reading struct {
	Unit Unit
	Size geom.Vec // mm
}

func (e *UnitError) Error() string { return "meshio: unit not known" }

// Read reads the file at path into an indexed mesh with welded corners.
func Read(ctx context.Context, path string, o Options) (*Loaded, error) {
	return nil, errors.New("meshio: not built yet")
}
