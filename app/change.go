package app

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"time"

	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// quarter: a difference of less than this share of a tolerance's width matters
// to nobody who allows the whole of it. Where nothing is allowed, leastMatter mm.
const (
	quarter     = 0.25
	leastMatter = 0.25
)

// mostSamples bounds how finely a reference is sampled, two points per spacing of
// the scans at the most.
const mostSamples = 400_000

// SeamChange is how a seam differs between two results, StationChange how one of its stations does.
type (
	SeamChange    = evidence.SeamChange
	StationChange = evidence.StationChange
)

// Change is two results of the same part side by side.
type Change struct {
	Inspections [2]*inspection.Inspection
	Parts       [2]*Parts
	Placed      [2]*Placed
	Samples     *deviation.Samples
	Surface     *deviation.Change
	Noise       [2]float64 // mm, as used
	Seams       []SeamChange
	Points      []PointChange
	Notes       []string

	Started time.Time
	Times   []StageTime

	fields [2]*deviation.Field // of both scans, with budgets where there are named points
	unlaid error
}

// LoadPair reads the meshes of two inspections of the same part. The error is
// what [LoadParts] returns, or an [InputError] where the two cannot be compared:
// one has no reference, the references are not the same, or both name the same scan.
func LoadPair(ctx context.Context, pair [2]*inspection.Inspection, s Settings, p Progress) (*Change, error) {
	c := &Change{Inspections: pair, Started: time.Now()}
	for _, i := range pair {
		if i.Reference == nil {
			return nil, &InputError{Path: i.Path, Problem: "it has no [reference]; two results can only be compared on the reference that both are measured from"}
		}
	}
	for k, i := range pair {
		parts, err := LoadParts(ctx, i, s, p.span(float64(k)/2, float64(k+1)/2))
		if err != nil {
			return nil, err
		}
		if len(parts.Scan.Mesh.Faces) == 0 {
			return nil, &InputError{Path: i.Scan.File, Problem: "the scan has points but no faces, so it has no surface to compare; export it as triangles"}
		}
		c.Parts[k] = parts
		if k == 0 {
			continue
		}
		if err := c.sameReference(); err != nil {
			return nil, err
		}
		// One is enough: the other's tree goes.
		parts.Reference, parts.Mirrored, parts.Surface = c.Parts[0].Reference, c.Parts[0].Mirrored, c.Parts[0].Surface
	}
	return c, ctx.Err()
}

func (c *Change) sameReference() error {
	a, b := c.Parts[0], c.Parts[1]
	i, j := c.Inspections[0], c.Inspections[1]
	const short = 12
	switch {
	case a.Reference.SHA256 != b.Reference.SHA256:
		return &InputError{Path: j.Path, Problem: fmt.Sprintf("its reference %s (%.*s) is another file than that of %s, %s (%.*s); only results beside the same reference can be compared",
			filepath.Base(b.Reference.Path), short, b.Reference.SHA256, filepath.Base(i.Path), filepath.Base(a.Reference.Path), short, a.Reference.SHA256)}
	case i.Reference.Mirror != j.Reference.Mirror:
		return &InputError{Path: j.Path, Problem: fmt.Sprintf("its reference is used with mirror = %q, in %s with %q; write the same in both", j.Reference.Mirror, filepath.Base(i.Path), i.Reference.Mirror)}
	case i.Reference.Mirror == "plane" && i.Reference.MirrorPlane != j.Reference.MirrorPlane:
		return &InputError{Path: j.Path, Problem: fmt.Sprintf("its reference is mirrored in another mirror_plane than that of %s; write the same in both", filepath.Base(i.Path))}
	case a.Reference.Unit != b.Reference.Unit:
		return &InputError{Path: j.Path, Problem: fmt.Sprintf("its reference is read in %s, in %s in %s; write the same units in both", b.Reference.Unit, filepath.Base(i.Path), a.Reference.Unit)}
	case a.Scan.SHA256 == b.Scan.SHA256:
		return &InputError{Path: j.Path, Problem: fmt.Sprintf("it has the same scan as %s, so that nothing can have changed; name the other scan as file in [scan]", i.Path)}
	}
	return nil
}

// Measure places both scans and compares their surfaces and seams. limit is the
// least difference of the surface that matters, mm; 0: a quarter of the width of the first inspection's tolerance.
func (c *Change) Measure(ctx context.Context, limit float64, s Settings, p Progress) error {
	if limit == 0 {
		limit = matters(c.Inspections[0].Surface.Tolerance, true)
	}
	var scans [2]deviation.Scanned
	var laid [2]*inspection.Inspection
	for k, i := range c.Inspections {
		from := time.Now()
		at := p.span(0.4*float64(k), 0.4*float64(k+1))
		placed, err := Place(ctx, i, c.Parts[k], s, at.span(0, 0.5))
		if err != nil {
			return err
		}
		if laid[k], _, err = LaySeams(ctx, i, c.Parts[k], placed, s, at.span(0.5, 0.7)); err != nil {
			return err
		}
		c.Placed[k] = placed
		if c.fields[k], c.Noise[k], err = fieldAndNoise(ctx, i, c.Parts[k], placed, s); err != nil {
			return err
		}
		index, err := surface.New(ctx, placed.Mesh, s.Threads, at.part("indexing the scan", 0.7, 1))
		if err != nil {
			return err
		}
		scans[k] = deviation.Scanned{Surface: index, Noise: c.Noise[k], Placing: placing(placed.Placement), Spacing: spacingOf(c.Parts[k])}
		c.Times = append(c.Times, StageTime{"place", time.Since(from)})
	}
	from := time.Now()
	mirrored := c.Parts[0].Mirrored
	step := max(2*max(scans[0].Spacing, scans[1].Spacing), math.Sqrt(mirrored.Area()/mostSamples))
	var err error
	if c.Samples, err = deviation.SampleReference(ctx, mirrored, step); err != nil {
		return err
	}
	reach := min(c.Inspections[0].Surface.Reach, c.Inspections[1].Surface.Reach)
	c.Surface, err = deviation.MeasureChange(ctx, c.Parts[0].Surface, c.Samples, scans, reach, limit, s.Threads, p.part("comparing both scans", 0.8, 0.9))
	if err != nil {
		return err
	}
	c.note()
	if err := c.comparePoints(ctx, s); err != nil {
		return err
	}
	c.Times = append(c.Times, StageTime{"surface", time.Since(from)})
	from = time.Now()
	err = c.compareSeams(ctx, laid, s, p.span(0.9, 1))
	c.Times = append(c.Times, StageTime{"seams", time.Since(from)})
	return err
}

// matters is the least difference that matters beside a tolerance.
func matters(t verdict.Tolerance, judged bool) float64 {
	if !judged || !(t.Hi > t.Lo) {
		return leastMatter
	}
	return float64(quarter * (t.Hi - t.Lo))
}

// fieldAndNoise compares a scan with the reference; the noise, mm, is the one that is stated and believed, or that of the comparison.
func fieldAndNoise(ctx context.Context, i *inspection.Inspection, parts *Parts, placed *Placed, s Settings) (f *deviation.Field, noise float64, err error) {
	f, err = deviation.MeasurePoints(ctx, placed.Mesh.Vertices, placed.Normals, parts.Surface, deviation.Settings{
		Reach: i.Surface.Reach, Normals: placed.Normals, Threads: s.Threads, Doubts: len(i.Points) > 0, Placing: placing(placed.Placement),
	}, nil)
	if err != nil {
		return nil, 0, err
	}
	if i.Scan.Noise > 0 {
		return f, believed(i.Scan.Noise, fieldNoise(f, parts.Scan.Mesh.Faces)), nil
	}
	return f, estimatedNoise(f, parts.Scan.Mesh.Faces, placed.Mesh.Vertices), nil
}

// spacingOf is the mean distance of a scan's points, mm.
func spacingOf(parts *Parts) float64 {
	area := 0.0
	for _, a := range parts.ScanAreas {
		area += a
	}
	if len(parts.ScanAreas) == 0 {
		return 0
	}
	return math.Sqrt(area / float64(len(parts.ScanAreas)))
}

func (c *Change) note() {
	for k, which := range []string{"first", "second"} {
		for _, n := range c.Placed[k].Placement.Notes {
			c.Notes = append(c.Notes, "the "+which+" scan: "+n)
		}
		if c.Placed[k].Placement.Ambiguous {
			c.Notes = append(c.Notes, "the "+which+" scan: a second, different position explains it nearly as well; look at its placement before believing a change")
		}
	}
	if c.Placed[0].PairsOff || c.Placed[1].PairsOff {
		c.Notes = append(c.Notes, "pairs contradict the surface or one another, as said above: where they laid a scan off, changes are no changes of the part")
	}
	if !c.Samples.Cut {
		c.Notes = append(c.Notes, fmt.Sprintf("the reference is so large that its samples lie further apart than was wanted, %.1f mm on average", c.Samples.Spacing))
	}
	if c.Surface.Share[deviation.NotCompared] == 1 {
		c.Notes = append(c.Notes, "no place of the reference is seen by both scans: nothing can be compared")
	}
}

// compareSeams compares the stations of seams that both inspections, with the paths of all their seams, have
// by the same name and path. Other seams are named with the reason.
func (c *Change) compareSeams(ctx context.Context, laid [2]*inspection.Inspection, s Settings, p Progress) error {
	second := map[string]int{}
	for k, seam := range laid[1].Seams {
		second[seam.Name] = k
	}
	for k, seam := range laid[0].Seams {
		j, ok := second[seam.Name]
		delete(second, seam.Name)
		switch {
		case !ok:
			c.Seams = append(c.Seams, SeamChange{Name: seam.Name, Why: "only the first inspection has it"})
			continue
		case whyUnlaid(laid[0], seam) != "":
			c.notLaid(laid[0], seam, "it could not be laid on the first: ")
			continue
		case whyUnlaid(laid[1], laid[1].Seams[j]) != "":
			c.notLaid(laid[1], laid[1].Seams[j], "it could not be laid on the second: ")
			continue
		case !sameStations(seam, laid[1].Seams[j]):
			c.Seams = append(c.Seams, SeamChange{Name: seam.Name, Why: "its stations are not the same in both: path, every and master must agree"})
			continue
		}
		n := float64(len(laid[0].Seams))
		var r [2]*gapflush.Result
		var err error
		for which, spec := range []gapflush.Seam{seam, laid[1].Seams[j]} {
			at := p.span(float64(2*k+which)/(2*n), float64(2*k+which+1)/(2*n))
			r[which], err = MeasureSeam(ctx, laid[which], spec, c.Parts[which], c.Placed[which], s, at)
			if err != nil {
				return err
			}
		}
		c.Seams = append(c.Seams, seamChange(r))
	}
	for _, seam := range laid[1].Seams {
		if _, only := second[seam.Name]; only {
			c.Seams = append(c.Seams, SeamChange{Name: seam.Name, Why: "only the second inspection has it"})
		}
	}
	return ctx.Err()
}

// notLaid notes a seam that could not be traced or found for one of both.
func (c *Change) notLaid(i *inspection.Inspection, seam gapflush.Seam, which string) {
	why := whyUnlaid(i, seam)
	c.Seams = append(c.Seams, SeamChange{Name: seam.Name, Why: which + why})
	if c.unlaid == nil {
		c.unlaid = unlaidSeam(i, seam, "not compared, because "+why+"; everything else was compared and is written")
	}
}

// Unlaid is the error, once the comparison is written, of a seam that could not be traced or found: an [InputError] that says of the
// first why not; nil where there is none.
func (c *Change) Unlaid() error { return c.unlaid }

// whyUnlaid says why a seam could not be traced or found; "" for one that was.
func whyUnlaid(i *inspection.Inspection, seam gapflush.Seam) string {
	path, _ := laidAs(i, seam)
	return path.Why
}

func sameStations(a, b gapflush.Seam) bool {
	if a.Every != b.Every || len(a.Path) != len(b.Path) || a.Master != b.Master {
		return false
	}
	const same = 1e-6 // mm: written and read back
	for k := range a.Path {
		if a.Path[k].Dist(b.Path[k]) > same {
			return false
		}
	}
	return true
}

func seamChange(r [2]*gapflush.Result) SeamChange {
	out := SeamChange{Name: r[0].Seam.Name}
	for k := range min(len(r[0].Stations), len(r[1].Stations)) {
		a, b := &r[0].Stations[k], &r[1].Stations[k]
		s := StationChange{Index: a.Index, Along: a.Along, GapBefore: a.Gap, GapAfter: b.Gap, FlushBefore: a.Flush, FlushAfter: b.Flush,
			Gap: difference(b.Gap, a.Gap), Flush: difference(b.Flush, a.Flush), StateBefore: string(a.State), StateAfterwards: string(b.State)}
		s.GapDecision = deviation.DecideChange(s.Gap, matters(r[0].Seam.Gap.Tolerance, r[0].Seam.Gap.Judged))
		s.FlushDecision = deviation.DecideChange(s.Flush, matters(r[0].Seam.Flush.Tolerance, r[0].Seam.Flush.Judged))
		out.Stations = append(out.Stations, s)
	}
	return out
}

// ChangeRecord gathers a change for writing.
func ChangeRecord(c *Change) *evidence.Change {
	out := &evidence.Change{
		Version: Version, Noise: c.Noise, Samples: c.Samples, Surface: c.Surface, Seams: c.Seams, Points: c.Points, Notes: c.Notes, Views: c.Inspections[0].Surface.Views,
		Reach: min(c.Inspections[0].Surface.Reach, c.Inspections[1].Surface.Reach),
	}
	for k, i := range c.Inspections {
		out.Titles[k] = i.Title
		if out.Titles[k] == "" {
			out.Titles[k] = filepath.Base(i.Path)
		}
		out.InspectionSHA256[k] = identity(i)
		if c.Parts[k] != nil {
			out.Inputs = append(out.Inputs, input([]string{"first scan", "second scan"}[k], c.Parts[k].Scan))
		}
		if c.Placed[k] != nil {
			out.Placements[k] = &c.Placed[k].Placement
		}
	}
	out.Titles = apartTitles(out.Titles, c.Inspections)
	if c.Parts[0] != nil && c.Parts[0].Reference != nil {
		out.Inputs = append(out.Inputs, input("reference", c.Parts[0].Reference))
	}
	out.Run.Started = c.Started
	for _, t := range c.Times {
		out.Run.Stages = append(out.Run.Stages, evidence.Stage{Name: t.Stage, Seconds: t.Took.Seconds()})
	}
	return out
}

// apartTitles adds the files to titles that are equal, as those of a job that was copied are.
func apartTitles(titles [2]string, of [2]*inspection.Inspection) [2]string {
	if titles[0] != titles[1] {
		return titles
	}
	names := [2]string{filepath.Base(of[0].Path), filepath.Base(of[1].Path)}
	if names[0] == names[1] { // of two folders
		for k, i := range of {
			names[k] = filepath.ToSlash(filepath.Join(filepath.Base(filepath.Dir(i.Path)), names[k]))
		}
	}
	for k := range titles {
		if of[k].Title == "" {
			titles[k] = names[k]
		} else {
			titles[k] += " (" + names[k] + ")"
		}
	}
	return titles
}

// CheckChangeFolder says whether a change may be written into dir, as [CheckFolder] does.
func CheckChangeFolder(c *Change, dir string, w WriteOptions) error {
	return evidence.CheckFolder(ChangeRecord(c).Identity(), filepath.Clean(dir), w.Replace)
}

// ChangeFolderHolds says what a folder holds that a change is to be written into.
func ChangeFolderHolds(c *Change, dir string) (evidence.Holding, string) {
	return evidence.Held(ChangeRecord(c).Identity(), filepath.Clean(dir))
}

// WriteChange writes a change into dir: every file whole, or none.
func WriteChange(ctx context.Context, c *Change, dir string, w WriteOptions, p Progress) error {
	r := ChangeRecord(c)
	r.Run.Threads = parallel.Threads(w.Threads)
	return evidence.WriteChange(ctx, r, dir, evidence.Options{Replace: w.Replace, Threads: w.Threads, Progress: p.part("writing the results", 0, 1)})
}
