// Package inspection reads and writes inspection files: which meshes, how to
// place them, what to measure and what is allowed.
//
// A file is TOML. Reading is strict: an unknown key, a value of the wrong kind,
// a number that is not finite or a distance that is negative is an [Error] with
// its line and column. Lengths are mm, temperatures °C; file paths are relative
// to the inspection file. Every default that was used is listed in
// [Inspection.Defaulted].
package inspection

import (
	"shutline/deviation/align"
	"shutline/deviation/crosscut"
	"shutline/deviation/gapflush"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// The defaults of the inspection file.
const (
	DefaultReach     = 10.0    // mm
	DefaultTolerance = 0.5     // mm, both ways
	DefaultExpansion = 11.5e-6 // per kelvin, steel (trade tables: 11 to 12e-6)
	DefaultPictures  = "worst"
	DefaultRadius    = 5.0 // mm, the least of a point's patch where none is given: under the size of a dent
	DefaultSpacings  = 3.0 // of the scan, the least of that radius: some 28 points
)

// DefaultViews returns the names of the pictures that are written when none are named.
func DefaultViews() []string { return []string{"left", "three-quarter"} }

// The methods of placing.
const (
	BestFit = "best-fit"
	Datums  = "datums"
	Pairs   = "pairs"
	Given   = "given"
	None    = "none"
)

// Inspection is a checked inspection with every default filled in.
type Inspection struct {
	Path   string // of the file, "" when it was made in the window
	SHA256 string // of the file's bytes, "" when it was made in the window
	Title  string

	Scan         Scan
	Pieces       []PieceFile // the scan is joined from these; none: it is a file
	Markers      []Marker    // that the pieces share
	Reference    *Reference  // nil: none
	Place        Place
	Surface      Surface
	Seams        []gapflush.Seam
	SeamPictures []string // per seam: "worst", "none" or "all"
	SeamLaying   []Laying // per seam, see LayingOf; nil: all typed
	Nominals     []NominalFrom
	Limits       []SeamLimits
	Stretches    []Stretch
	Lengths      []Length
	Points       []Point
	Sections     []crosscut.Spec
	Plan         *Plan // nil: no next scan is planned

	Defaulted []string // "surface.reach = 10.0 mm", every default that was used

	Laid *Laid // what the seams are in the file, where they were laid; nil: what they are here
}

// Scan is the scanned mesh.
type Scan struct {
	File           string // absolute, or relative to the working directory
	SHA256         string // of the file that the inspection was saved with, in lower case; "": not said
	Units          meshio.Unit
	Noise          float64 // mm, 0: estimated
	Travelled      float64 // mm, the whole way of the scanner; 0: not known
	HasTemperature bool
	Temperature    float64 // °C
	Expansion      float64 // per kelvin
}

// Reference is the mesh the scan is compared with.
type Reference struct {
	File   string
	SHA256 string // as the scan's
	Units  meshio.Unit
	Mirror string // "none", "x", "y", "z"; "find": in its plane of symmetry; "plane": in MirrorPlane

	MirrorPlane align.MirrorPlane // for "plane"; its normal need not be of unit length

	// Scanned says that the reference is itself a scan, of a good vehicle: nominals
	// measured on it have an uncertainty, and its borders are of what was scanned.
	Scanned bool

	// Axes says whether the reference's axes are the vehicle's, as ISO 4130 has them
	// ([AxesVehicle]), or its own ([AxesOwn]), in which no axis is known to point up
	// or rearward; "": the vehicle's, of a scan its own.
	Axes string
}

// What the axes of a reference may be.
const (
	AxesVehicle = "vehicle"
	AxesOwn     = "own"
)

// OwnFrame reports whether no axis is known to point up or rearward: without a
// reference, or with one whose axes are its own.
func (i *Inspection) OwnFrame() bool {
	switch {
	case i.Reference == nil:
		return true
	case i.Reference.Axes == "":
		return i.Reference.Scanned
	}
	return i.Reference.Axes == AxesOwn
}

// Place is how scan and reference are brought together.
type Place struct {
	Method string // "best-fit", "datums", "pairs", "given", "none"

	// What a method needs may stand beside another that is used, and is then
	// compared with it. Given is used when HasMatrix.
	HasMatrix bool
	Given     geom.Rigid
	Datums    []align.Datum  // six, or none
	Pairs     []align.Pair   // three or more, or none
	Regions   []align.Region // best-fit is made on these; none: on the whole part
}

// Surface is how the deviation is measured and judged.
type Surface struct {
	Reach     float64
	Tolerance verdict.Tolerance
	HasShare  bool
	Share     float64
	Views     []string
	// DriftTakenOut asks for the what-if view: the deviations once the shapes of a drift are taken out.
	DriftTakenOut bool
}

// Point is a named place whose deviation is wanted.
type Point struct {
	Name         string
	At           geom.Vec // mm, reference frame; the nearest point of the reference counts
	Radius       float64  // mm, of the patch of scan points that tells; 0: as large as the scan asks for
	HasTolerance bool
	Tolerance    verdict.Tolerance
}

// Plan asks how to scan the next time.
type Plan struct {
	Wanted float64         // mm, over the part's length (k = 2)
	Path   float64         // mm that the scanner travelled for this scan; 0: not known
	Seen   []scanplan.Seen // errors seen along paths
}

// Length is a known length.
type Length struct {
	Name            string
	From, To        geom.Vec       // along the line through both
	Ends            *[2]length.End // in place of both: between these forms
	Extremes        string         // in place of both: between the farthest places along "x", "y" or "z"
	HasKnown        bool           // false: measured and reported only
	Known           float64
	KnownU          float64 // expanded, k = 2
	HasTemperature  bool
	Temperature     float64
	Expansion       float64
	HasAllowed      bool
	AllowedA        float64 // mm
	AllowedPerMetre float64 // mm per m
}

// Default returns an inspection of the two files with every default; reference may be "".
func Default(scan, reference string) *Inspection {
	i := &Inspection{
		Scan:  Scan{File: scan, Expansion: DefaultExpansion},
		Place: Place{Method: None, Given: geom.Identity()},
		Surface: Surface{
			Reach:     DefaultReach,
			Tolerance: verdict.Tolerance{Lo: -DefaultTolerance, Hi: DefaultTolerance},
			Views:     DefaultViews(),
		},
	}
	if reference != "" {
		i.Reference = &Reference{File: reference, Mirror: None}
		i.Place.Method = BestFit
	}
	return i
}
