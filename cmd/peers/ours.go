package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"shutline/deviation"
	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/parallel"
	"shutline/mesh/section"
	"shutline/mesh/surface"
)

// best keeps the best of several measurements, in millions a second unless a
// unit stands in the key.
type best map[string]float64

func (b best) set(key string, v float64) { b[key] = max(b[key], v) }

// timed runs work and keeps n millionths over its time.
func (b best) timed(key string, n int, work func() error) error {
	runtime.GC()
	start := time.Now()
	if err := work(); err != nil {
		return err
	}
	b.set(key, float64(n)/1e6/time.Since(start).Seconds())
	return nil
}

func threadsKey(key string, threads int) string { return key + ", " + strconv.Itoa(threads) }

// load is one reading of a file; it returns its mesh.
func (b best) load(ctx context.Context, c benchCase, threads int) (*mesh.Mesh, error) {
	var l *meshio.Loaded
	info, err := os.Stat(c.ref())
	if err != nil {
		return nil, err
	}
	err = b.timed(threadsKey("load "+c.name, threads), int(info.Size()/50), func() (err error) {
		l, err = meshio.Read(ctx, c.ref(), meshio.Options{Unit: meshio.Millimetre, Threads: threads})
		return err
	})
	if err != nil {
		return nil, err
	}
	// The peers compute no hash, and the plain weld begins with the bytes in memory.
	err = b.timed(threadsKey("file "+c.name, threads), len(l.Mesh.Faces), func() error {
		_, err := meshio.Read(ctx, c.ref(), meshio.Options{Unit: meshio.Millimetre, Threads: threads, Unhashed: true})
		return err
	})
	if err != nil {
		return nil, err
	}
	data, err := os.ReadFile(c.ref())
	if err != nil {
		return nil, err
	}
	return l.Mesh, b.timed(threadsKey("weld "+c.name, threads), len(l.Mesh.Faces), func() error {
		_, err := meshio.ReadBytes(ctx, c.ref(), data, meshio.Options{Unit: meshio.Millimetre, Threads: threads})
		return err
	})
}

func (b best) index(ctx context.Context, c benchCase, m *mesh.Mesh, threads int) (*bvh.Tree, error) {
	var t *bvh.Tree
	err := b.timed(threadsKey("index "+c.name, threads), len(m.Faces), func() (err error) {
		t, err = bvh.Build(ctx, m, threads, nil)
		return err
	})
	return t, err
}

// closest asks for all points, in order or shuffled, on the given number of threads.
func (b best) closest(ctx context.Context, key string, t *bvh.Tree, points []geom.Vec, threads int) error {
	return b.timed(threadsKey(key, threads), len(points), func() error {
		order := bvh.Order(points)
		const run = 4096
		return parallel.Chunks(ctx, len(points), run, threads, nil, func(_, _, lo, hi int) {
			near := t.NewFinder()
			for _, p := range bvh.Gather(points, order, lo, hi, nil) {
				near.Closest(p, math.Inf(1), nil)
			}
		})
	})
}

// uniform measures everything on the case both sides share.
func (b best) uniform(ctx context.Context, c benchCase) error {
	var m *mesh.Mesh
	var t *bvh.Tree
	var err error
	for _, threads := range []int{2, 1} {
		if m, err = b.load(ctx, c, threads); err != nil {
			return err
		}
		if t, err = b.index(ctx, c, m, threads); err != nil {
			return err
		}
	}
	l, err := meshio.Read(ctx, c.scan(), meshio.Options{Unit: meshio.Millimetre})
	if err != nil {
		return err
	}
	points := l.Mesh.Vertices
	for _, threads := range []int{1, 2} {
		if err := b.closest(ctx, "closest", t, points, threads); err != nil {
			return err
		}
	}
	shuffled := append([]geom.Vec(nil), points...)
	shuffle(shuffled)
	if err := b.closest(ctx, "closest, random order", t, shuffled, 1); err != nil {
		return err
	}
	far := make([]geom.Vec, len(points)/4)
	for i := range far {
		far[i] = points[i].Add(geom.Vec{Y: 60})
	}
	if err := b.closest(ctx, "closest, 60 mm away", t, far, 1); err != nil {
		return err
	}
	bvh.WithoutVector(func() {
		var plain *bvh.Tree
		if plain, err = bvh.Build(ctx, m, 0, nil); err == nil {
			err = b.closest(ctx, "closest, plain Go", plain, points, 1)
		}
	})
	if err != nil {
		return err
	}
	if err := b.dense(ctx, c, t, m); err != nil {
		return err
	}
	if err := b.signed(ctx, m, l.Mesh); err != nil {
		return err
	}
	for _, threads := range []int{1, 2} {
		if err := b.sections(ctx, m, t, threads); err != nil {
			return err
		}
	}
	return nil
}

// dense asks for the points closest to a scan that is as dense as the mesh itself, a few hundredths of a millimetre off it.
func (b best) dense(ctx context.Context, c benchCase, t *bvh.Tree, m *mesh.Mesh) error {
	points := make([]geom.Vec, len(m.Vertices))
	for i, v := range m.Vertices {
		points[i] = v.Add(geom.Vec{X: 0.02, Y: 0.03, Z: 0.01})
	}
	return b.closest(ctx, "closest, dense "+c.name, t, points, 1)
}

func shuffle(points []geom.Vec) {
	// The peers' program shuffles by the same multiplier.
	for i := uint64(len(points) - 1); i > 0; i-- {
		j := (i * 0x9E3779B97F4A7C15 >> 13) % (i + 1)
		points[i], points[j] = points[j], points[i]
	}
}

func (b best) signed(ctx context.Context, ref, scan *mesh.Mesh) error {
	s, err := surface.New(ctx, ref, 0, nil)
	if err != nil {
		return err
	}
	normals := scan.VertexNormals()
	return b.timed("signed distance, 1", len(scan.Vertices), func() error {
		_, err := deviation.MeasurePoints(ctx, scan.Vertices, normals, s, deviation.Settings{Reach: 10, Threads: 1}, nil)
		return err
	})
}

// sections cuts where the peers' program cuts, and around points a millimetre apart along the middle of the part.
func (b best) sections(ctx context.Context, m *mesh.Mesh, t *bvh.Tree, threads int) error {
	x, err := section.New(ctx, m, t)
	if err != nil {
		return err
	}
	cutters := make([]*section.Cutter, threads)
	for k := range cutters {
		cutters[k] = x.NewCutter()
	}
	var planes []geom.Vec
	for k := range 50 {
		planes = append(planes, geom.Vec{X: 100 + 44*float64(k)})
	}
	rate, err := perSecond(ctx, threads, planes, func(worker int, p geom.Vec) error {
		_, err := cutters[worker].Whole(p, geom.Vec{X: 1})
		return err
	})
	if err != nil {
		return err
	}
	b.set(threadsKey("sections a second", threads), rate)
	lines, err := cutters[0].Whole(m.Bounds().Center(), geom.Vec{Z: 1})
	if err != nil {
		return err
	}
	var path []geom.Vec
	for _, l := range lines {
		for i := 1; i < len(l.Points); i++ {
			p, q := l.Points[i-1], l.Points[i]
			for s := 0.0; s < p.Dist(q); s++ {
				path = append(path, p.AddScaled(s/p.Dist(q), q.Sub(p)))
			}
		}
	}
	rate, err = perSecond(ctx, threads, path, func(worker int, p geom.Vec) error {
		_, err := cutters[worker].Near(p, geom.Vec{X: 1}, 30)
		return err
	})
	b.set(threadsKey("local cuts, thousand a second", threads), rate/1e3)
	return err
}

// perSecond does a piece of work for every point, again and again for half a second.
func perSecond(ctx context.Context, threads int, points []geom.Vec, work func(worker int, p geom.Vec) error) (float64, error) {
	faults := make([]error, threads)
	done := 0
	start := time.Now()
	for time.Since(start) < time.Second/2 {
		err := parallel.Chunks(ctx, len(points), (len(points)+4*threads-1)/(4*threads), threads, nil, func(worker, _, lo, hi int) {
			for _, p := range points[lo:hi] {
				if err := work(worker, p); err != nil {
					faults[worker] = err
					return
				}
			}
		})
		if err = errors.Join(append(faults, err)...); err != nil {
			return 0, err
		}
		done += len(points)
	}
	return float64(done) / time.Since(start).Seconds(), nil
}

// memory returns the peak of anonymous memory of a read, and the size of the finished mesh, by a
// process of its own.
func memory(ctx context.Context, file string) (peak, finished float64, err error) {
	self, err := os.Executable()
	if err != nil {
		return 0, 0, err
	}
	out, err := exec.CommandContext(ctx, self, "-read-memory", file).Output()
	if err != nil {
		return 0, 0, fmt.Errorf("measuring memory: %w", err)
	}
	_, err = fmt.Sscan(string(out), &peak, &finished)
	return peak, finished, err
}

func readAndPrintMemory(ctx context.Context, file string) error {
	idle := anonymous()
	done, peak := make(chan struct{}), make(chan float64)
	go func() {
		most := 0.0
		for {
			select {
			case <-done:
				peak <- most
				return
			case <-time.After(time.Millisecond):
				most = max(most, anonymous()-idle)
			}
		}
	}()
	l, err := meshio.Read(ctx, file, meshio.Options{Unit: meshio.Millimetre})
	close(done)
	most := <-peak
	if err != nil {
		return err
	}
	debug.FreeOSMemory()
	const vertex, face = 24, 12
	fmt.Println(most, len(l.Mesh.Vertices)*vertex+len(l.Mesh.Faces)*face)
	return nil
}

// anonymous returns the resident anonymous memory of this process in bytes.
func anonymous() float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(status)) {
		if rest, ok := strings.CutPrefix(line, "RssAnon:"); ok {
			kib, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
			return 1024 * kib
		}
	}
	return 0
}

func readScan(ctx context.Context, c benchCase) (*mesh.Mesh, error) {
	l, err := meshio.Read(ctx, c.scan(), meshio.Options{Unit: meshio.Millimetre})
	if err != nil {
		return nil, err
	}
	return l.Mesh, nil
}
