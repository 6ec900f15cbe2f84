// Package app runs an inspection stage by stage and keeps what was found. It
// knows no toolkit: the window and the headless command both stand on it.
package app

import (
	"context"
	"errors"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// Progress is told what is being done, in a few words for the user, and the share done, 0 to 1.
type Progress func(what string, share float64)

// Settings hold for a whole run; the zero value works.
type Settings struct{ Threads int }

// Parts are the files of an inspection, read and in millimetres.
type Parts struct {
	Scan      *meshio.Loaded
	Reference *meshio.Loaded   // nil without a reference
	Mirrored  *mesh.Mesh       // the reference as used, mirrored when asked for; nil without one
	Surface   *surface.Surface // of the reference as used; nil without one
	ScanAreas []float64        // mm², per scan vertex
	Notes     []string
}

// Placed is the scan carried into the reference's frame.
type Placed struct {
	Placement align.Placement
	Mesh      *mesh.Mesh
	Normals   []geom.Vec
}

// Compared is the surface deviation with its figures.
type Compared struct {
	Field   *deviation.Field
	Summary deviation.Summary
	Verdict verdict.Verdict
}

// Outcome is everything an inspection found. Stages that were not run are nil.
type Outcome struct {
	Inspection *inspection.Inspection
	Parts      *Parts
	Placed     *Placed
	Compared   *Compared
	Seams      []*gapflush.Result
	Lengths    []Length
	Verdict    verdict.Verdict
}

// Length is a known length compared with the scan.
type Length struct {
	Spec     inspection.Length
	Measured verdict.Value // mm at 20 °C
	Error    verdict.Value
	ErrorPPM float64
	Allowed  float64
	Judged   bool
	Verdict  verdict.Verdict
	Why      string // when there is no number
}

// LoadParts reads the scan and the reference, and indexes the reference.
func LoadParts(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*Parts, error) {
	return nil, errors.New("app: not built yet")
}

// Place finds the placement.
func Place(ctx context.Context, i *inspection.Inspection, parts *Parts, s Settings, p Progress) (*Placed, error) {
	return nil, errors.New("app: not built yet")
}

// Compare measures the surface deviation.
func Compare(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings, p Progress) (*Compared, error) {
	return nil, errors.New("app: not built yet")
}

// MeasureSeam measures one seam.
func MeasureSeam(ctx context.Context, i *inspection.Inspection, seam gapflush.Seam, parts *Parts, placed *Placed, s Settings, p Progress) (*gapflush.Result, error) {
	return nil, errors.New("app: not built yet")
}

// MeasureLengths measures the known lengths.
func MeasureLengths(ctx context.Context, i *inspection.Inspection, placed *Placed, s Settings) ([]Length, error) {
	return nil, errors.New("app: not built yet")
}

// Inspect runs every stage.
func Inspect(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*Outcome, error) {
	return nil, errors.New("app: not built yet")
}

// WriteOptions say how results are written; the zero value works.
type WriteOptions struct {
	Replace bool // allow a folder that holds another inspection's results
	Threads int
}

// Write writes all results of the contract into dir: every file whole, or none.
func Write(ctx context.Context, o *Outcome, dir string, w WriteOptions, p Progress) error {
	return errors.New("app: not built yet")
}
