package gapflush

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// ErrNoFaces is returned for a scan that is only points.
var ErrNoFaces = errors.New("the scan has no faces; gap and flush need a mesh")

const (
	inspectionRadiusU = 0.1  // mm, definitions.md
	referenceRadiusU  = 0.2  // mm, definitions.md
	assumedNoise      = 0.03 // mm, for the first look, before the scan has told its own
	stationChunk      = 4
)

// Measure measures a seam on a scan that has been carried into the reference's
// frame. ref may be nil: then nominals that were not given are missing. It
// returns an error that wraps ErrPath for a path that cannot be walked,
// ErrNoFaces for a scan without faces, or ctx's.
func Measure(ctx context.Context, placed, ref *mesh.Mesh, seam Seam, s Settings, progress mesh.Progress) (*Result, error) {
	path, err := newPolyline(seam.Path)
	if err != nil {
		return nil, fmt.Errorf("gapflush: seam %q: %w", seam.Name, err)
	}
	seam = withDefaults(seam)
	if len(placed.Faces) == 0 {
		return nil, fmt.Errorf("gapflush: seam %q: %w", seam.Name, ErrNoFaces)
	}
	j := &job{seam: seam, set: s, path: path, at: path.stations(seam.Every), result: &Result{Seam: seam}}
	if j.walked, err = walk(ctx, path); err != nil {
		return nil, err
	}
	if err := j.folded(ctx); err != nil {
		return nil, err
	}
	if path.full < seam.Every {
		j.note("The path is %.0f mm long and stations are %.0f mm apart: one was laid, %.1f mm along it, and one station says nothing of a seam: it is undecided at best. Give a smaller distance (every).", path.full, seam.Every, j.at[0])
	}
	if x := j.walked.crossing; x[1] > 0 {
		j.note("The path crosses itself, %.0f and %.0f mm from its start: draw it along one gap, or as two seams.", x[0], x[1])
	}
	j.wavers()
	reach := math.Sqrt(float64(2*seam.Window*seam.Window) + reachAlong*reachAlong)
	if ref != nil && len(ref.Faces) > 0 {
		if err := j.reference(ctx, ref, reach, progress.Part(0, 0.4)); err != nil {
			return nil, err
		}
	}
	p, err := extract(ctx, placed, path, reach, true, s.Threads)
	if err != nil {
		return nil, err
	}
	c := &cutter{patch: p, path: path, walked: j.walked, seam: &j.seam}
	kn, first, err := j.look(ctx, c, progress.Part(0.4, 0.7))
	if err != nil {
		return nil, err
	}
	own := j.apart()
	for i := range kn {
		kn[i].gathers = i%own == own/2
	}
	raws, err := j.run(ctx, c, kn, first, progress.Part(0.7, 0.95))
	if err != nil {
		return nil, err
	}
	if err := j.finish(ctx, c, raws); err != nil {
		return nil, err
	}
	progress.Report(1)
	return j.result, nil
}

func withDefaults(s Seam) Seam {
	d := DefaultSeam(s.Name, s.Path)
	if !(s.Every > 0) {
		s.Every = d.Every
	}
	if !(s.Window > 0) {
		s.Window = d.Window
	}
	if !(s.Band > 0) {
		s.Band = d.Band
	}
	s.Band = min(s.Band, reachAlong-2)
	if !(s.Face[1] > s.Face[0]) {
		s.Face = d.Face
	}
	return s
}

// job is one seam being measured.
type job struct {
	seam    Seam
	set     Settings
	path    *polyline
	walked  *walked
	at      []float64
	ref     []raw // nil without a reference
	noise   float64
	result  *Result
	assumed []string // the notes of result about what was taken for want of something better

	refGap, refFlush verdict.Value // medians of the reference's own, beside typed nominals
}

func (j *job) note(format string, args ...any) {
	j.result.Notes = append(j.result.Notes, fmt.Sprintf(format, args...))
}

func (j *job) run(ctx context.Context, c *cutter, kn []known, before []raw, progress mesh.Progress) ([]raw, error) {
	out := make([]raw, len(j.at))
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, len(j.at), stationChunk, j.set.Threads, progress, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			var prev *raw
			if before != nil {
				prev = &before[i]
			}
			out[i] = c.measure(&workers[w], j.at[i], kn[i], j.hint(c, i), prev)
		}
	})
	if before == nil {
		refuseTurned(out, j.stride())
	}
	return out, err
}

// hint is where outside is at a station of a scan by the reference; the zero vector where that does not say.
func (j *job) hint(c *cutter, i int) (outward geom.Vec) {
	if j.ref != nil && !c.reference && j.ref[i].outU {
		return j.ref[i].frame.u
	}
	return outward
}

// reference measures the stations on the reference: for nominals, radii and curvatures.
func (j *job) reference(ctx context.Context, ref *mesh.Mesh, reach float64, progress mesh.Progress) error {
	p, err := extract(ctx, ref, j.path, reach, false, j.set.Threads)
	if err != nil {
		return err
	}
	c := &cutter{patch: p, path: j.path, walked: j.walked, seam: &j.seam, reference: true}
	kn := make([]known, len(j.at))
	first, _, _, err := j.firstRadius(ctx, c, j.unstated(), tellingArc)
	if err != nil {
		return err
	}
	for i := range kn {
		for k := A; k <= B; k++ {
			kn[i].radius[k], kn[i].radiusU[k] = first[k], freeRadius
			if j.seam.Radius[k] > 0 {
				kn[i].radius[k] = j.seam.Radius[k]
			}
		}
		kn[i].form, kn[i].apart = j.seam.Edges, true
		kn[i].noise = 0.002 // mm, chords of a usual reference
	}
	raws, err := j.run(ctx, c, kn, nil, progress.Part(0, 0.6))
	if err != nil {
		return err
	}
	if lost := j.lostByRadius(raws); lost[A] || lost[B] {
		if first, _, _, err = j.firstRadius(ctx, c, lost, tellingArc); err != nil {
			return err
		}
		for i := range kn {
			for k := A; k <= B; k++ {
				if lost[k] {
					kn[i].radius[k] = first[k]
				}
			}
		}
		if raws, err = j.run(ctx, c, kn, nil, nil); err != nil {
			return err
		}
	}
	for i := range raws {
		for k := A; k <= B; k++ {
			if raws[i].seenA[k] {
				kn[i].curvature[k] = raws[i].side[k].face.quad
			}
			if raws[i].side[k].edge.found {
				kn[i].radius[k] = raws[i].side[k].edge.r
			}
		}
	}
	j.ref, err = j.run(ctx, c, kn, raws, progress.Part(0.6, 1))
	return err
}

// lostByRadius says of which sides a reference shows edges at less than half of the stations where it shows the face, as a
// radius that was stated far off makes it: that is no reason for it to tell no nominal.
func (j *job) lostByRadius(raws []raw) (of [2]bool) {
	for k := range of {
		seen, found := 0, 0
		for i := range raws {
			if raws[i].seenA[k] {
				seen++
			}
			if raws[i].side[k].edge.found {
				found++
			}
		}
		of[k] = j.seam.Edges[k] == Round && j.seam.Radius[k] > 0 && 2*found < seen
	}
	return of
}

// unstated says of which sides the inspection gives no radius that there could be.
func (j *job) unstated() (of [2]bool) {
	for k := range of {
		of[k] = j.seam.Edges[k] == Round && !(j.seam.Radius[k] > 0)
	}
	return of
}
