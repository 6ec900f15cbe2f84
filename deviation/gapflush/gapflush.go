// Package gapflush measures gap, feeler, flush and angle at stations along a
// seam, and says what it could not measure.
//
// Lengths are mm, angles radians, all in the reference's frame. Walking along
// the path with the outside up, side A is on the left, side B on the right.
package gapflush

import (
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Side names a side of a seam: 0 is A, 1 is B.
type Side int

// The two sides of a seam.
const (
	A Side = iota
	B
)

// EdgeKind is what lies beyond a shoulder.
type EdgeKind uint8

// The kinds of edges.
const (
	Round EdgeKind = iota
	Chamfer
	Sharp
)

// Target is the wanted value of a figure. Without a nominal it is measured on the reference.
type Target struct {
	Nominal    float64
	HasNominal bool
	Tolerance  verdict.Tolerance // offsets from the nominal
	Judged     bool              // false: reported, not judged
}

// Seam describes what to measure. Defaults are applied by DefaultSeam.
type Seam struct {
	Name              string
	Whole             string     // of a stretch: the name of the seam it is part of; "" for a whole seam
	From              float64    // mm along the whole seam at which a stretch begins; stations tell their place along the whole
	Before            int        // stations of the whole seam before those of a stretch; theirs go on from there
	Path              []geom.Vec // mm
	Every             float64    // mm between stations
	Window            float64    // mm about P
	Band              float64    // mm along the path
	Face              [2]float64 // mm behind the shoulder
	Edges             [2]EdgeKind
	Radius            [2]float64 // mm, 0: from the reference
	Master            Side
	Gap, Flush, Taper Target // taper in mm per 100 mm
}

// DefaultSeam returns a seam with every setting at its default.
func DefaultSeam(name string, path []geom.Vec) Seam {
	return Seam{Name: name, Path: path, Every: 25, Window: 30, Band: 8, Face: [2]float64{2.5, 12.5}}
}

// NoseState says how much of a nose was seen.
type NoseState uint8

// The nose states.
const (
	Unseen NoseState = iota
	Seen
	Carried
)

// String returns the word used in files.
func (n NoseState) String() string { return [...]string{"unseen", "seen", "carried"}[n] }

// State of a station, in the words of files.
type State string

// The states of a station. All but Measured have a reason; of them only NoseUnseen has a number, the flush.
const (
	Measured    State = "measured"
	NoseUnseen  State = "nose-unseen"  // too little of an edge was seen
	SideMissing State = "side-missing" // no surface beside the gap
	Bridged     State = "bridged"      // faces run across the gap
	TwoSkins    State = "two-skins"    // which skin is the outer one cannot be told
	NoFace      State = "no-face"      // the face zone is not there or has holes
	TooCoarse   State = "too-coarse"   // points lie farther apart than a roll's radius or a chamfer's width
	ThirdPanel  State = "third-panel"  // another edge lies inside a face zone
	NotParallel State = "not-parallel" // the edges run apart by more than 15°
	OffPath     State = "off-path"     // no seam at the station, or the path has turned back along it
)

// Point2 is a point in a station's plane: S along a (from A to B), H along u (outward), mm from P.
type Point2 struct{ S, H float64 }

// SideFit is what was found on one side of a station, for pictures and read-outs.
type SideFit struct {
	Found                  bool
	Shoulder               Point2
	Tangent                Point2  // unit, along the face toward the gap
	Normal                 Point2  // unit, outward
	Curvature              float64 // of the face across the seam, 1/mm, positive bends inward toward the gap
	Edge                   EdgeKind
	Radius                 float64 // mm, of the rollover; of a chamfer how far along the face it is cut; 0 for a sharp edge
	Nose                   Point2
	Flange                 bool   // the nose lies on a flange, or a chamfer's wall, that runs on straight toward the other panel,
	FlangeFrom             Point2 // and this is where it leaves the roll or the facet
	NoseState              NoseState
	SeenTo                 float64 // radians of arc seen from the shoulder on
	FaceFrom, FaceTo       float64 // mm behind the shoulder, the face zone used
	FacePoints, EdgePoints int
}

// BudgetLine is one contribution to an uncertainty, as a standard uncertainty in mm.
type BudgetLine struct {
	Source string
	U      float64
}

// Station is one cut across the seam.
type Station struct {
	Index   int      // from 1
	Along   float64  // mm on the path
	P       geom.Vec // on the path
	F, A, U geom.Vec // unit: along the seam, from A to B, outward
	State   State
	Why     string // one sentence for the user when the state is not Measured

	Gap, Feeler, Flush, Angle verdict.Value // mm; Angle in radians
	GapNominal, FlushNominal  verdict.Value // U is 0
	GapVerdict, FlushVerdict  verdict.Verdict
	Side                      [2]SideFit
	GapBudget, FlushBudget    []BudgetLine

	Profile [][]Point2 // the cut itself, for the picture: polylines within the window
	Points  []Point2   // the band's vertices carried into the plane, for the picture (thinned)
}

// Result of a seam.
type Result struct {
	Seam                          Seam // with the defaults that were used
	Stations                      []Station
	Measured                      int
	GapMean, GapMin, GapMax       verdict.Value
	FlushMean, FlushMin, FlushMax verdict.Value
	Taper                         verdict.Value // mm per 100 mm
	TaperVerdict, Verdict         verdict.Verdict
	Checks                        []Check // what the seam as a whole is held to besides, which Verdict holds; see [Result.Hold]
	// Open: which seam of the scan was cut is not certain, so that nothing is decided; see [Result.LeaveOpen].
	Open bool
	// Unlaid says why there was no path to measure along, and what to change; "" for a seam that was measured. See [NotMeasured].
	Unlaid string
	// GapDoubt and FlushDoubt: the typed nominal is implausible, as Notes say, and tells nothing of what must move.
	GapDoubt, FlushDoubt bool
	// Folded: the path folds over itself, so that it has no taper, and what must move cannot be told. Misplaced are the numbers, from 1,
	// of the two of its points as typed that make it run one way when they are exchanged; 0 where no two do.
	Folded    bool
	Misplaced [2]int
	Notes     []string
	short     string    // the one of Notes about gaps that the reference gives no nominal of
	elsewhere [2]string // those of Notes about the nominal gap and flush from another seam
	wide      []string  // those of Notes about tolerances that let too much pass
	bare      *Result   // of one that is held to checks, as it was before
}

// Settings that hold for a whole inspection; the zero value works.
type Settings struct {
	Noise          float64 // mm, one standard deviation, 0: estimated from the scan
	ScalePPM       float64 // standard uncertainty of the scan's scale
	HasTemperature bool
	Temperature    float64    // °C of the part while scanned
	Expansion      float64    // per kelvin
	Scanned        bool       // the reference is itself a scan, whose points scatter
	Typed          []geom.Vec // the points that a path was traced from; nil where it is as typed
	Threads        int
}
