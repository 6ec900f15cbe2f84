package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"text/tabwriter"
)

// goal is a row of the table: ours over theirs.
type goal struct {
	work         string
	ours, theirs string
	floor, aim   float64
}

var goals = []goal{
	{"file to mesh, to the reader that merges, 1 thread", "file uniform, 1", "uniform | load | VTK reader, merging, 1", 7, 15},
	{"the same, 2 threads", "file uniform, 2", "uniform | load | VTK reader, merging, 1", 7, 15},
	{"the same with SHA-256, 2 threads", "load uniform, 2", "uniform | load | VTK reader, merging, 1", 0, 0},
	{"bytes to mesh, to the plain weld, 1 thread", "weld uniform, 1", "uniform | load | weld in memory (hash), 1", 2.5, 4},
	{"the same, 2 threads", "weld uniform, 2", "uniform | load | weld in memory (hash), 1", 2.5, 4},
	{"the same shuffled, 1 thread", "weld shuffled, 1", "shuffled | load | weld in memory (hash), 1", 2, 3},
	{"the same shuffled, 2 threads", "weld shuffled, 2", "shuffled | load | weld in memory (hash), 1", 2, 3},
	{"bytes to mesh, 10 million, 1 thread", "weld 10 million, 1", "10 million | load | weld in memory (hash), 1", 2, 3},
	{"bytes to mesh, 10 million, 2 threads", "weld 10 million, 2", "10 million | load | weld in memory (hash), 1", 2, 3},
	{"index, uniform, 1 thread", "index uniform, 1", "uniform | index | Embree, 1", 1.1, 1.8},
	{"index, uniform, 2 threads", "index uniform, 2", "uniform | index | Embree, 2", 1.1, 1.8},
	{"index, CAD, 1 thread", "index CAD, 1", "CAD | index | Embree, 1", 0.7, 1},
	{"index, CAD, 2 threads", "index CAD, 2", "CAD | index | Embree, 2", 0.7, 1},
	{"closest, file order, to Embree plain, 1 thread", "closest, 1", "uniform | closest point | Embree, 1", 1, 1},
	{"closest, file order, to Embree seeded, 1 thread", "closest, 1", "uniform | closest point | Embree, radius from previous point, 1", 1.5, 2.2},
	{"closest, random order, 1 thread", "closest, random order, 1", "uniform | closest point, random order | Embree, 1", 4.5, 6},
	{"closest, 60 mm away, 1 thread", "closest, 60 mm away, 1", "uniform | closest point, 60 mm away | Embree, 1", 2.7, 4},
	{"closest, sparse on 10 million, 1 thread", "closest on 10 million, 1", "10 million | closest point | Embree, 1", 1.8, 3},
	{"closest, to CGAL (float64), 1 thread", "closest, 1", "uniform | closest point | CGAL AABB_tree, 1", 0, 0},
	{"signed distance with states, 1 thread", "signed distance, 1", "uniform | signed distance | VTK implicit distance, 1", 30, 50},
	{"full plane sections, 1 thread", "sections a second, 1", "uniform | 50 plane sections | VTK plane cutter (sphere tree), -", 50, 100},
	{"full plane sections, all threads, as the peer", "sections a second, 2", "uniform | 50 plane sections | VTK plane cutter (sphere tree), -", 50, 100},
}

func measureAll(ctx context.Context, o options) error {
	if o.work == "" {
		o.work = filepath.Join(os.TempDir(), "shutline-peers")
	}
	program := ""
	if o.peers == "" {
		fmt.Println("left out: Embree, CGAL and VTK (no folder with peers given); ours runs on sheets made by formula")
	} else {
		var err error
		if program, err = buildPeers(ctx, o); err != nil {
			fmt.Printf("left out: Embree, CGAL and VTK (their program could not be built: %v)\n", err)
			o.peers = ""
		}
	}
	if o.peers == "" {
		o.work = filepath.Join(o.work, "alone")
	}
	uniform, shuffled, cad, large, err := makeCases(ctx, o)
	if err != nil {
		return err
	}
	ours, theirs := best{}, best{}
	for round := range o.rounds {
		fmt.Fprintf(os.Stderr, "round %d of %d\n", round+1, o.rounds)
		cases := []benchCase{uniform, shuffled, cad}
		if o.large {
			cases = append(cases, large)
		}
		for _, c := range cases {
			if err := ours.measure(ctx, c, c == uniform); err != nil {
				return fmt.Errorf("case %s: %w", c.name, err)
			}
			if program == "" || c == large && round > 0 {
				continue // the peers take a minute for it
			}
			if err := theirs.theirs(ctx, program, c); err != nil {
				return err
			}
		}
	}
	peak, finished, err := memory(ctx, uniform.ref())
	if err != nil {
		return err
	}
	print(ours, theirs)
	fmt.Printf("peak anonymous memory of reading 1 million triangles over the finished mesh: %.2f (floor 2.2, aim 1.6)\n", peak/finished)
	return nil
}

func (b best) measure(ctx context.Context, c benchCase, everything bool) error {
	if everything {
		return b.uniform(ctx, c)
	}
	for _, threads := range []int{2, 1} {
		m, err := b.load(ctx, c, threads)
		if err != nil {
			return err
		}
		t, err := b.index(ctx, c, m, threads)
		if err != nil {
			return err
		}
		if c.name != "10 million" || threads != 1 {
			continue
		}
		if err := b.dense(ctx, c, t, m); err != nil {
			return err
		}
		l, err := readScan(ctx, c)
		if err != nil {
			return err
		}
		if err := b.closest(ctx, "closest on 10 million", t, l.Vertices, 1); err != nil {
			return err
		}
	}
	return nil
}

func print(ours, theirs best) {
	fmt.Printf("processor: %s, %d usable; best of the rounds, both sides in turn\n", processor(), runtime.NumCPU())
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "work (million a second)\tours\ttheirs\tratio\tfloor\taim\t")
	for _, g := range goals {
		o, ok := ours[g.ours]
		if !ok {
			continue
		}
		t, ok := theirs[g.theirs]
		if !ok {
			fmt.Fprintf(w, "%s\t%.3g\t\t\t\t\t\n", g.work, o)
			continue
		}
		mark := ""
		switch {
		case g.floor == 0:
		case o/t < g.floor:
			mark = "below the floor"
		case o/t >= g.aim:
			mark = "aim reached"
		}
		fmt.Fprintf(w, "%s\t%.3g\t%.3g\t%.2f\t%.3g\t%.3g\t%s\n", g.work, o, t, o/t, g.floor, g.aim, mark)
	}
	w.Flush()
	fmt.Printf("closest, two threads to one: %.2f (floor 1.8, aim 1.95)\n", ours["closest, 2"]/ours["closest, 1"])
	fmt.Printf("closest, plain Go to vector kernels: %.2f (floor 0.33)\n", ours["closest, plain Go, 1"]/ours["closest, 1"])
	fmt.Printf("local cuts within 30 mm, chained: %.0f thousand a second on one thread, %.0f on two (floor 300, aim 600)\n",
		ours["local cuts, thousand a second, 1"], ours["local cuts, thousand a second, 2"])
	if v := ours["load 10 million, 2"]; v > 0 {
		fmt.Printf("cost a triangle at 10 million to 1 million: reading %.2f, index %.2f, search of a dense scan %.2f (floor 1.5, aim 1.2)\n",
			ours["load uniform, 2"]/v, ours["index uniform, 2"]/ours["index 10 million, 2"], ours["closest, dense uniform, 1"]/ours["closest, dense 10 million, 1"])
	}
	fmt.Println("ours sorts scattered points first (counted) and starts at the last answer; the peer does neither unless it says seeded")
}

func processor() string {
	info, err := os.ReadFile("/proc/cpuinfo")
	if err != nil {
		return runtime.GOARCH
	}
	for line := range strings.Lines(string(info)) {
		if name, ok := strings.CutPrefix(line, "model name"); ok {
			return strings.TrimSpace(strings.TrimLeft(strings.TrimSpace(name), ":"))
		}
	}
	return runtime.GOARCH
}
