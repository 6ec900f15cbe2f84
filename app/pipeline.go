// Package app runs an inspection stage by stage and keeps what was found. It
// knows no toolkit: the window and the headless command both stand on it.
//
// Stages return new values and leave what they were given alone. They stop
// within 50 ms when their context is done and return its error.
package app

import (
	"context"
	"fmt"
	"time"

	"shutline/app/inspection"
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
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// Version is the program's version, as written into results.
const Version = "0.1.0"

// Progress is told what is being done, in a few words for the user, and the
// share done, 0 to 1. It may be called from any goroutine, and may be nil.
type Progress func(what string, share float64)

// part returns the progress of one named piece of work that runs from lo to hi of the whole.
func (p Progress) part(what string, lo, hi float64) mesh.Progress {
	if p == nil {
		return nil
	}
	p(what, lo)
	return func(share float64) { p(what, lo+float64((hi-lo)*share)) }
}

// span returns the progress of a stage that runs from lo to hi of the whole.
func (p Progress) span(lo, hi float64) Progress {
	if p == nil {
		return nil
	}
	return func(what string, share float64) { p(what, lo+float64((hi-lo)*share)) }
}

// Settings hold for a whole run; the zero value works.
type Settings struct {
	Threads int
	// ScalePPM is a standard uncertainty of the scan's scale in parts per million, for gaps; 0: not known.
	ScalePPM float64
	// Measured is told the deviations as soon as they are known, before anything is read from them; nil: nobody asks. Of the
	// field only the deviations and states are then at rest.
	Measured func(*deviation.Field)
	// Drawn says that the meshes are drawn as well, for which there must be room in memory.
	Drawn bool
}

// Parts are the files of an inspection, read and in millimetres.
type Parts struct {
	Scan      *meshio.Loaded
	Joined    *PiecesJoined    // how the scan was joined from pieces; nil: it is a file
	Reference *meshio.Loaded   // nil without a reference
	Mirrored  *mesh.Mesh       // the reference as used, mirrored when asked for; nil without one
	Surface   *surface.Surface // of the reference as used; nil without one
	Mirror    *align.MirrorFit // how the reference was mirrored; nil when it was not
	ScanAreas []float64        // mm², per scan vertex
	Examined  Examined
	Notes     []string
	boxes     map[*mesh.Mesh]geom.Box // of the meshes, found once

	unexamined bool // Examined is still to be found
}

// Box returns the box of one of the meshes. Those that were loaded had theirs found then, so that who
// shows them on the drawing thread need not wait.
func (parts *Parts) Box(m *mesh.Mesh) geom.Box {
	if b, ok := parts.boxes[m]; ok {
		return b
	}
	return m.Bounds()
}

// findBoxes finds the boxes of the meshes.
func (parts *Parts) findBoxes() {
	parts.boxes = map[*mesh.Mesh]geom.Box{parts.Scan.Mesh: parts.Scan.Mesh.Bounds()}
	if parts.Reference != nil {
		parts.boxes[parts.Reference.Mesh] = parts.Reference.Mesh.Bounds()
	}
	if parts.Mirrored != nil {
		parts.boxes[parts.Mirrored] = parts.Mirrored.Bounds()
	}
}

// Placed is the scan carried into the reference's frame.
type Placed struct {
	Method    string // as in [Other]
	Placement align.Placement
	Others    []Other
	// PairsOff: a pair does not fit the others, or the surface is laid elsewhere, and better, than the pairs explain. Nothing of it
	// is decided then.
	PairsOff bool
	Mesh     *mesh.Mesh
	Normals  []geom.Vec
}

// Compared is the surface deviation with its figures.
type Compared struct {
	Field    *deviation.Field
	Summary  deviation.Summary
	Clusters deviation.Clusters // regions beyond the tolerance, the worst first
	Verdict  verdict.Verdict    // of the surface alone, see Worst
	Points   []Point            // the named points, in the order of the inspection

	// Ambiguous: a second placement explains the scan nearly as well, so that the surface may have been
	// compared with another place of the reference. Nothing is decided then.
	Ambiguous bool

	Drift *drift.Result // nil: not looked for
	Taken *TakenOut     // the what-if view without it; nil: not asked for, or no drift was seen
}

// Point is a named point with its deviation.
type Point struct {
	Spec    inspection.Point
	Spot    deviation.Spot
	Verdict verdict.Verdict
}

// Outcome is everything an inspection found. Stages that were not run are nil.
type Outcome struct {
	Inspection *inspection.Inspection
	Parts      *Parts
	Placed     *Placed
	Compared   *Compared
	Seams      []*gapflush.Result
	Paths      []SeamPath // of the inspection's seams, in their order; nil: all as the file has them
	Sections   []*crosscut.Section
	Checks     []SeamCheck // of the seams that are held to more than their stations' tolerances
	Lengths    []Length
	Closure    *closure.Result // where the scan lies over itself; nil: a scan without faces, or not looked for
	Growth     *worth.Growth   // how the scan's uncertainty grows with length
	Plan       *scanplan.Plan  // of the next scan; nil: not asked for
	Verdict    verdict.Verdict

	Started time.Time   // when the run began; zero when it was not timed
	Times   []StageTime // in the order run
}

// StageTime is how long a stage took.
type StageTime struct {
	Stage string
	Took  time.Duration
}

// Length is a known length compared with the scan.
type Length struct {
	Spec     inspection.Length
	Measured verdict.Value // mm at 20 °C, of the body: U holds the scan's drift where Grown is true
	Reading  verdict.Value // the same as this scan reads it: U of reading alone
	Grown    bool          // something told of the scan's drift
	Alone    bool          // and that is nothing but the length itself
	Error    verdict.Value // mm of the scan against the known length, with U of reading
	ErrorPPM float64
	Allowed  float64
	Judged   bool
	Verdict  verdict.Verdict
	Why      string // when there is no number

	Ends   [2]geom.Vec    // where it was measured, reference frame; meaningless without a number
	Fits   [2]*length.Fit // what was fitted there; nil along a line
	Budget []length.Line  // of the measured value
}

// Inspect runs every stage.
func Inspect(ctx context.Context, i *inspection.Inspection, s Settings, p Progress) (*Outcome, error) {
	started := time.Now()
	parts, err := LoadParts(ctx, i, s, p.span(0, 0.3))
	if err != nil {
		return nil, err
	}
	o, err := InspectParts(ctx, i, parts, s, p.span(0.3, 1))
	if err != nil {
		return nil, err
	}
	o.Times = append([]StageTime{{"parts", time.Since(started) - o.took()}}, o.Times...)
	o.Started = started
	return o, nil
}

func (o *Outcome) took() time.Duration {
	sum := time.Duration(0)
	for _, t := range o.Times {
		sum += t.Took
	}
	return sum
}

// InspectParts runs every stage after the parts were read. Without a reference
// the surface is left out; gaps, flushes and lengths need only the scan.
func InspectParts(ctx context.Context, i *inspection.Inspection, parts *Parts, s Settings, p Progress) (*Outcome, error) {
	if len(i.Seams) > 0 {
		if err := needFaces(i, parts); err != nil { // said before the long work, not after it
			return nil, err
		}
		if err := tellsOfSeams(i); err != nil {
			return nil, err
		}
		if err := tellsOfNominals(i); err != nil {
			return nil, err
		}
	}
	o := &Outcome{Inspection: i, Parts: parts, Started: time.Now()}
	timed := func(stage string, run func() error) error {
		from := time.Now()
		err := run()
		o.Times = append(o.Times, StageTime{stage, time.Since(from)})
		return err
	}
	err := timed("place", func() (err error) {
		o.Placed, err = Place(ctx, i, parts, s, p.span(0, 0.4))
		return err
	})
	if err != nil {
		return nil, err
	}
	if parts.Surface != nil {
		err = timed("surface", func() (err error) {
			o.Compared, err = Compare(ctx, i, parts, o.Placed, s, p.span(0.4, 0.8))
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if !i.Complete() {
		err = timed("paths", func() (err error) {
			i, o.Paths, err = LaySeams(ctx, i, parts, o.Placed, s, p.span(0.8, 0.84))
			return err
		})
		if err != nil {
			return nil, err
		}
		o.Inspection = i
	}
	// Trust comes before the seams: what it tells of the scan's scale counts in every gap's U.
	err = timed("trust", func() error {
		t, err := LookForTrust(ctx, i, parts, o.Placed, o.Compared, s, p.span(0.84, 0.86))
		if err == nil {
			o.Take(t)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	s.ScalePPM = o.Growth.ScalePPM()
	err = timed("seams", func() error { return o.measureSeams(ctx, s, p.span(0.86, 0.98)) })
	if err != nil {
		return nil, err
	}
	if o.Seams, err = TakeNominals(i, o.Seams); err != nil {
		return nil, err
	}
	o.Seams = HoldSeams(i, o.Seams)
	o.Checks = CheckSeams(i, o.Seams)
	if len(i.Sections) > 0 {
		err = timed("sections", func() (err error) {
			o.Sections, err = CutSections(ctx, i, parts, o.Placed, s, p.span(0.98, 0.99))
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	o.Verdict = o.Worst()
	if p != nil {
		p("done", 1)
	}
	return o, nil
}

func (o *Outcome) measureSeams(ctx context.Context, s Settings, p Progress) error {
	n := float64(len(o.Inspection.Seams))
	for k, seam := range o.Inspection.Seams {
		r, err := MeasureSeam(ctx, o.Inspection, seam, o.Parts, o.Placed, s, p.span(float64(k)/n, float64(k+1)/n))
		if err != nil {
			return err
		}
		o.Seams = append(o.Seams, r)
	}
	return nil
}

// Unlaid is the error, once the results are written, of seams that could not be traced or found, and of sections that the scan has
// nowhere: an [InputError] that says of the first why not. nil where everything that was asked for was measured.
func (o *Outcome) Unlaid() error {
	var names []string
	var tell func(why string) error
	why := ""
	for _, r := range o.Seams {
		if r.Unlaid == "" {
			continue
		}
		if names = append(names, r.Seam.Name); len(names) == 1 {
			why, tell = r.Unlaid, func(why string) error { return unlaidSeam(o.Inspection, r.Seam, why) }
		}
	}
	seams := len(names)
	lost := crosscut.LostOf(o.Sections)
	for _, s := range lost {
		if names = append(names, s.Name); len(names) == 1 {
			why, tell = s.Why, func(why string) error { return lostSection(o.Inspection, s, why) }
		}
	}
	if tell == nil {
		return nil
	}
	why = "no value, because " + why
	switch more := seams - 1; {
	case more == 1:
		why += "; one more seam has no value either"
	case more > 1:
		why += fmt.Sprintf("; %d more seams have no value either", more)
	}
	switch more := len(names) - max(seams, 1); {
	case more == 1:
		why += "; one more section has no value either"
	case more > 1:
		why += fmt.Sprintf("; %d more sections have no value either", more)
	}
	why += "; everything else was measured and is written"
	if o.Verdict == verdict.DoesNotConform {
		why += ", and of that something does not conform"
	}
	return tell(why)
}

// Worst returns the verdict of the inspection: the worst of its surface's,
// where a share is wanted, its points', its seams' and its lengths'.
func (o *Outcome) Worst() verdict.Verdict {
	w := verdict.NotJudged
	if o.Compared != nil {
		w = verdict.Worst(w, o.Compared.Worst())
	}
	for _, r := range o.Seams {
		w = verdict.Worst(w, r.Verdict)
	}
	for _, c := range o.Checks {
		w = verdict.Worst(w, c.Verdict)
	}
	for _, l := range o.Lengths {
		w = verdict.Worst(w, l.Verdict)
	}
	return w
}
