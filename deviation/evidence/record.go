package evidence

import (
	"time"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/closure"
	"shutline/deviation/crosscut"
	"shutline/deviation/drift"
	"shutline/deviation/gapflush"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Record is everything that is written. Stages that were not run are nil.
type Record struct {
	Version          string // of the program
	Title            string
	InspectionSHA256 string // of the inspection file's bytes, or of what would be written as one
	Inputs           []Input
	Joined           *Joined // how the scan was joined from pieces; nil: it is a file
	Placement        *align.Placement
	Placements       *Placements // nil: there is nothing to set beside it
	Mirror           *Mirror     // nil: the reference is as in its file
	Surface          *Surface
	Seams            []*gapflush.Result
	SeamPictures     []string // per seam: "worst", "none" or "all"
	Paths            []Path   // of all seams, when the tool traced or found any of them
	Lengths          []Length
	Sections         []*crosscut.Section
	Checks           []Check
	Points           []Point
	Drift            *drift.Result   // nil: not looked for
	Taken            *Taken          // nil: no what-if view
	Scale            length.Scale    // that the known lengths tell
	Closure          *closure.Result // nil: not looked for
	Growth           *worth.Growth   // nil: not looked for
	Uses             []worth.Use     // what the scan is good for
	Plan             *scanplan.Plan  // nil: not asked for
	Verdict          verdict.Verdict
	Defaults         []string
	Notes            []string
	Mesh             *mesh.Mesh // the scan as placed; for pictures and surface.csv
	Normals          []geom.Vec
	Run              Run
}

// Input is a mesh file that was read.
type Input struct {
	Role             string // "scan" or "reference"
	Name             string // without its folder
	SHA256           string
	Bytes            int64
	Format           string
	Unit, UnitSource string
	Vertices, Faces  int
	DroppedNotFinite int
	DroppedNoArea    int
}

// Surface is the deviation of the scan's vertices and its figures.
type Surface struct {
	Field     *deviation.Field
	Summary   deviation.Summary
	Reach     float64 // mm
	Tolerance verdict.Tolerance
	HasShare  bool
	Share     float64
	Verdict   verdict.Verdict
	Views     []string
	Clusters  deviation.Clusters // regions beyond the tolerance
}

// Point is a named point with its deviation.
type Point struct {
	Name         string
	At           geom.Vec // mm, as the inspection names it
	Radius       float64  // mm
	HasTolerance bool
	Tolerance    verdict.Tolerance // mm
	Spot         deviation.Spot
	Verdict      verdict.Verdict
}

// Length is a known length compared with the scan.
type Length struct {
	Name     string
	Measured verdict.Value // mm at 20 °C
	Known    verdict.Value // mm; U expanded
	Error    verdict.Value // mm
	ErrorPPM float64
	Allowed  verdict.Value // mm, U is 0
	Verdict  verdict.Verdict
	Why      string // when there is no number
	Between  string // "line", "plane and sphere", "extremes x"
	Ends     [2]geom.Vec
	Budget   []length.Line // of the measured value, standard uncertainties
}

// Run is what differs from run to run; it goes into run.json.
type Run struct {
	Started time.Time // zero: not timed
	Threads int
	Stages  []Stage
}

// Stage is how long a stage took.
type Stage struct {
	Name    string
	Seconds float64
}

// Cautions returns what no measurement here can say. It stands in every result.
func Cautions() []string {
	return []string{
		"A fit within tolerance says nothing about structure, welds, airbags, latches, high-voltage parts or driver-assistance sensors behind a panel.",
		"Follow the vehicle maker's repair procedures, local rules and licensed practice.",
		"Scanners may be lasers: mind their class and protect eyes.",
	}
}
