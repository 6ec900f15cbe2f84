package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"path/filepath"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/evidence"
	"shutline/deviation/verdict"
	"shutline/mesh/meshio"
	"shutline/mesh/parallel"
)

// WriteOptions say how results are written; the zero value works.
type WriteOptions struct {
	Replace bool // allow a folder that holds another inspection's results
	Threads int
}

// Write writes all results of the contract into dir: every file whole, or none.
// The error is an [evidence.WriteError] or the context's.
func Write(ctx context.Context, o *Outcome, dir string, w WriteOptions, p Progress) error {
	r := Record(o)
	r.Run.Threads = parallel.Threads(w.Threads)
	return evidence.Write(ctx, r, dir, evidence.Options{Replace: w.Replace, Threads: w.Threads, Progress: p.part("writing the results", 0, 1)})
}

// CheckFolder says, once the parts are read, whether their results may be
// written into dir. The error is an [evidence.WriteError].
func CheckFolder(i *inspection.Inspection, parts *Parts, dir string, w WriteOptions) error {
	return evidence.CheckFolder(Record(&Outcome{Inspection: i, Parts: parts}), filepath.Clean(dir), w.Replace)
}

// FolderHolds says, once the parts are read, what a folder holds that their results are to be written into.
func FolderHolds(i *inspection.Inspection, parts *Parts, dir string) (evidence.Holding, string) {
	return evidence.Held(Record(&Outcome{Inspection: i, Parts: parts}), filepath.Clean(dir))
}

// Record gathers an outcome for writing.
func Record(o *Outcome) *evidence.Record {
	i := o.Inspection
	r := &evidence.Record{
		Version: Version, Title: i.Title, InspectionSHA256: identity(i),
		SeamPictures: i.SeamPictures, Seams: o.Seams, Verdict: o.Verdict, Defaults: i.Defaulted,
	}
	if o.Parts != nil {
		r.Notes = append(slices.Clone(o.Parts.Notes), o.Parts.Examined.Faults()...)
		if o.Parts.Mirror != nil && i.Reference != nil {
			r.Mirror = &evidence.Mirror{How: i.Reference.Mirror, Fit: *o.Parts.Mirror}
		}
		r.Inputs = append(r.Inputs, input("scan", o.Parts.Scan))
		if o.Parts.Reference != nil {
			r.Inputs = append(r.Inputs, input("reference", o.Parts.Reference))
		}
	}
	if o.Placed != nil {
		r.Placement, r.Mesh, r.Normals = &o.Placed.Placement, o.Placed.Mesh, o.Placed.Normals
		r.Placements = placementsOf(o.Placed)
	}
	if o.Compared != nil {
		r.Surface = &evidence.Surface{
			Field: o.Compared.Field, Summary: o.Compared.Summary, Verdict: o.Compared.Verdict,
			Reach: i.Surface.Reach, Tolerance: i.Surface.Tolerance, HasShare: i.Surface.HasShare, Share: i.Surface.Share, Views: i.Surface.Views,
			Clusters: o.Compared.Clusters,
		}
	}
	if o.Compared != nil {
		for _, p := range o.Compared.Points {
			r.Points = append(r.Points, evidence.Point{
				Name: p.Spec.Name, At: p.Spec.At, Radius: p.Spec.Radius, HasTolerance: p.Spec.HasTolerance, Tolerance: p.Spec.Tolerance, Spot: p.Spot, Verdict: p.Verdict,
			})
		}
	}
	for _, p := range o.Paths {
		if p.Why != "" { // there is no path
			continue
		}
		r.Paths = append(r.Paths, evidence.Path{
			Seam: p.Seam, Laid: p.Laying.String(), Points: p.Path, Length: p.Length, Seen: p.Seen,
			Width: verdict.Value{V: p.Width, OK: p.HasWidth}, Sure: p.Sure, SureWord: p.SureWord, Turned: p.Turned,
		})
	}
	r.Sections, r.Checks = o.Sections, o.Checks
	for _, l := range o.Lengths {
		r.Lengths = append(r.Lengths, evidence.Length{
			Name: l.Spec.Name, Measured: l.Measured, Error: l.Error, ErrorPPM: l.ErrorPPM, Verdict: l.Verdict, Why: l.Why,
			Known:   verdict.Value{V: l.Spec.Known, U: l.Spec.KnownU, OK: l.Spec.HasKnown},
			Allowed: verdict.Value{V: l.Allowed, OK: l.Spec.HasAllowed && l.Spec.HasKnown},
			Between: l.Between(), Ends: l.Ends, Budget: l.Budget,
		})
	}
	r.Scale, r.Growth, r.Uses, r.Plan = CommonScale(o.Lengths), o.Growth, o.Uses(), o.Plan
	r.Closure = o.Closure
	r.Joined = o.Parts.joinedRecord()
	if o.Compared != nil {
		r.Drift = o.Compared.Drift
		if t := o.Compared.Taken; t != nil {
			r.Taken = &evidence.Taken{Field: t.Field, Summary: t.Summary, Mesh: t.Mesh, Normals: t.Normals, Words: takenWords(o.Compared.Drift)}
		}
	}
	r.Run.Started = o.Started
	for _, t := range o.Times {
		r.Run.Stages = append(r.Run.Stages, evidence.Stage{Name: t.Stage, Seconds: t.Took.Seconds()})
	}
	return r
}

// placementsOf sets the placement beside the other methods', where there are any.
func placementsOf(p *Placed) *evidence.Placements {
	if len(p.Others) == 0 {
		return nil
	}
	return &evidence.Placements{Chosen: p.Method, Others: p.Others}
}

func input(role string, l *meshio.Loaded) evidence.Input {
	return evidence.Input{
		Role: role, Name: filepath.Base(l.Path), SHA256: l.SHA256, Bytes: l.Bytes, Format: l.Format,
		Unit: string(l.Unit), UnitSource: l.UnitSource, Vertices: len(l.Mesh.Vertices), Faces: len(l.Mesh.Faces),
		DroppedNotFinite: l.DroppedNotFinite, DroppedNoArea: l.DroppedNoArea,
	}
}

// identity returns the hash of the inspection file, or, for one made in the
// window, of the file that would be written beside its scan.
func identity(i *inspection.Inspection) string {
	if i.SHA256 != "" {
		return i.SHA256
	}
	file, _ := AsFiled(i)
	data, err := file.Encode(filepath.Dir(i.Scan.File))
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}
