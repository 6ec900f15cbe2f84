package main

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"text/tabwriter"
	"time"

	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/deviation/seampath"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/surface"
)

// The goals of speed: stations a second on a scan of 5 million triangles with 2 cores, tracing
// included, and memory no more than the index takes.
const (
	stationsPerSecondGoal = 2000
	speedSize             = 5_000_000
	pathWithin            = 0.05 // mm, to which a traced path is written, as inspections do
)

// speedScan is a scan with its index, and the seams to be traced on it.
type speedScan struct {
	mesh    *mesh.Mesh
	on      *surface.Surface
	ground  *seamfind.Ground
	seams   []bodywork.SeamSpec
	index   int // bytes
	threads int
}

func heapInUse() int {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

func newSpeedScan(ctx context.Context, size, seed, threads int) (*speedScan, error) {
	job, err := bodywork.Van(ctx, bodywork.Options{Size: size, Seed: uint64(seed), Threads: threads}, nil)
	if err != nil {
		return nil, err
	}
	s := &speedScan{mesh: job.Scan.Moved(job.ReferenceFromScan), seams: job.Seams, threads: threads}
	job = nil
	before := heapInUse()
	if s.on, err = surface.New(ctx, s.mesh, threads, nil); err != nil {
		return nil, err
	}
	if s.ground, err = seamfind.On(ctx, s.mesh, s.on.Tree()); err != nil {
		return nil, err
	}
	s.index = heapInUse() - before
	return s, nil
}

// measure traces every seam between its two ends and measures it; it returns how many stations, and what tracing took.
func (s *speedScan) measure(ctx context.Context, every float64) (stations int, tracing time.Duration, err error) {
	on := seampath.On(s.on)
	on.Threads = s.threads
	for _, spec := range s.seams {
		began := time.Now()
		clicks := typedClicks(s.ground, spec)
		laid, err := on.Lay(ctx, clicks)
		if err != nil {
			return 0, 0, err
		}
		out, err := s.ground.Outwards(ctx, laid.Points, clicks[0].Outward, s.threads)
		if err != nil {
			return 0, 0, err
		}
		c, err := s.ground.Centre(ctx, laid.Points, out, s.threads)
		if err != nil {
			return 0, 0, err
		}
		path := seampath.Rounded(seampath.Simplified(c.Path, pathWithin))
		tracing += time.Since(began)
		seam := gapflush.DefaultSeam(spec.Name, path)
		seam.Every, seam.Radius, seam.Master = every, spec.Radius, gapflush.Side(spec.Master)
		r, err := gapflush.Measure(ctx, s.mesh, nil, seam, gapflush.Settings{Threads: s.threads}, nil)
		if err != nil {
			return 0, 0, err
		}
		stations += len(r.Stations)
	}
	return stations, tracing, nil
}

// peak returns by how many bytes the heap grows at most while a run is collected all the time.
func (s *speedScan) peak(ctx context.Context, every float64) (int, error) {
	defer debug.SetGCPercent(debug.SetGCPercent(5))
	before, most := heapInUse(), 0
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
				var m runtime.MemStats
				runtime.ReadMemStats(&m)
				most = max(most, int(m.HeapAlloc)-before)
			}
		}
	}()
	_, _, err := s.measure(ctx, every)
	close(stop)
	<-stopped
	return most, err
}

// runSeamSpeed prints how fast seams of a large scan are traced and measured, and by how much memory.
func runSeamSpeed(ctx context.Context, out io.Writer, size, seed, threads int) (missed bool, err error) {
	s, err := newSpeedScan(ctx, size, seed, threads)
	if err != nil {
		return true, err
	}
	const runs = 3
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "%d triangles\tstations\ttracing s\tall s\tstations/s (goal %d)\twithout tracing\n", len(s.mesh.Faces), stationsPerSecondGoal)
	for _, every := range []float64{25, 5, 1} {
		best, trace, n := time.Duration(0), time.Duration(0), 0
		for range runs {
			began := time.Now()
			stations, tracing, err := s.measure(ctx, every)
			if err != nil {
				return true, err
			}
			if took := time.Since(began); best == 0 || took < best {
				best, trace, n = took, tracing, stations
			}
		}
		rate := float64(n) / best.Seconds()
		missed = missed || every == 1 && rate < stationsPerSecondGoal
		fmt.Fprintf(w, "every %g mm\t%d\t%.3f\t%.3f\t%.0f\t%.0f\n", every, n, trace.Seconds(), best.Seconds(), rate, float64(n)/(best-trace).Seconds())
	}
	if err := w.Flush(); err != nil {
		return true, err
	}
	peak, err := s.peak(ctx, 5)
	if err != nil {
		return true, err
	}
	const mega = 1e6
	fmt.Fprintf(out, "memory: %.0f MB at most beside an index of %.0f MB (goal: no more than that)\n", float64(peak)/mega, float64(s.index)/mega)
	return missed || peak > s.index, nil
}
