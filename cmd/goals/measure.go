package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// reach of the surface comparison, mm: the default of inspections.
const reach = 10.0

// station is a measured station beside its truth.
type station struct {
	seed  uint64
	truth bodywork.StationTruth
	got   gapflush.Station
}

// figures are what one job showed.
type figures struct {
	placement         float64 // mm, greatest displacement over the reference's box
	givenRMS, bestRMS float64 // mm, deviation against the truth where measured
	givenN, bestN     int
	stations          []station
	times             string
}

func measure(ctx context.Context, seed uint64, size, threads int) (*figures, error) {
	clock := stopwatch{last: time.Now()}
	job, err := bodywork.Van(ctx, bodywork.Options{Size: size, Seed: seed, Threads: threads}, nil)
	if err != nil {
		return nil, err
	}
	truth, err := job.Surface(ctx, nil)
	if err != nil {
		return nil, err
	}
	clock.lap("made")
	ref, err := surface.New(ctx, job.Reference, threads, nil)
	if err != nil {
		return nil, err
	}
	clock.lap("indexed")
	placement, err := align.BestFit(ctx, job.Scan, ref, align.Settings{Threads: threads}, nil)
	if err != nil {
		return nil, err
	}
	clock.lap("placed")
	f := &figures{placement: displacement(placement.ReferenceFromScan, job)}
	if f.givenRMS, f.givenN, err = againstTruth(ctx, job.Scan.Moved(job.ReferenceFromScan), ref, truth, threads); err != nil {
		return nil, err
	}
	clock.lap("compared as given")
	placed := job.Scan.Moved(placement.ReferenceFromScan)
	if f.bestRMS, f.bestN, err = againstTruth(ctx, placed, ref, truth, threads); err != nil {
		return nil, err
	}
	clock.lap("compared as placed")
	if f.stations, err = measureStations(ctx, job, placed, threads); err != nil {
		return nil, err
	}
	clock.lap("seams")
	f.times = clock.String()
	return f, nil
}

// displacement returns the greatest distance between found and true placement
// of any point that lands in the reference's box, mm.
func displacement(found geom.Rigid, job *bodywork.Job) float64 {
	return geom.MaxDisplacement(found.After(job.ReferenceFromScan.Inverse()), geom.Identity(), job.Reference.Bounds())
}

// againstTruth returns the RMS of measured less true deviation over the points that have both.
func againstTruth(ctx context.Context, placed *mesh.Mesh, ref *surface.Surface, truth []bodywork.SurfaceTruth, threads int) (rms float64, n int, err error) {
	field, err := deviation.Measure(ctx, placed, ref, deviation.Settings{Reach: reach, Threads: threads}, nil)
	if err != nil {
		return 0, 0, err
	}
	sum := 0.0
	for i, t := range truth {
		if t.Measured && field.State[i] == deviation.Measured {
			d := field.Deviation[i] - t.Deviation
			sum += float64(d * d)
			n++
		}
	}
	return math.Sqrt(sum / float64(max(n, 1))), n, nil
}

func measureStations(ctx context.Context, job *bodywork.Job, placed *mesh.Mesh, threads int) ([]station, error) {
	truth, err := job.ScanStations(ctx, nil)
	if err != nil {
		return nil, err
	}
	var out []station
	for _, spec := range job.Seams {
		seam := gapflush.DefaultSeam(spec.Name, spec.Path)
		seam.Master = gapflush.Side(spec.Master)
		seam.Gap.Tolerance, seam.Flush.Tolerance = verdict.Tolerance{Lo: -1, Hi: 1}, verdict.Tolerance{Lo: -0.75, Hi: 0.75}
		seam.Gap.Judged, seam.Flush.Judged = true, true
		r, err := gapflush.Measure(ctx, placed, job.Reference, seam, gapflush.Settings{Threads: threads}, nil)
		if err != nil {
			return nil, fmt.Errorf("seam %s: %w", spec.Name, err)
		}
		for _, got := range r.Stations {
			for _, t := range truth {
				if t.Seam == spec.Name && t.Index == got.Index {
					out = append(out, station{job.Options.Seed, t, got})
				}
			}
		}
	}
	return out, nil
}

// stopwatch gathers how long each piece of work took.
type stopwatch struct {
	last time.Time
	laps []string
}

func (s *stopwatch) lap(what string) {
	now := time.Now()
	s.laps = append(s.laps, fmt.Sprintf("%s %.2f s", what, now.Sub(s.last).Seconds()))
	s.last = now
}

func (s *stopwatch) String() string { return strings.Join(s.laps, ", ") }
