package main

import (
	"context"
	"fmt"
	"os"
	"runtime"
)

// workload is a mesh to draw and the goal of drawing it, ours over Mesa's time.
type workload struct {
	name      string
	shape     string
	triangles int
	goal      float64
}

var workloads = []workload{
	{"open, 100 k", "sheet", 100_000, 0.28},
	{"open, 300 k", "sheet", 300_000, 0.25},
	{"open, 1 M", "sheet", 1_000_000, 0.18},
	{"closed, 1 M", "blob", 1_000_000, 0.18},
	{"open, 5 M", "sheet", 5_000_000, 0.11},
	{"closed, 5 M", "blob", 5_000_000, 0.07},
	{"open, 10 M", "sheet", 10_000_000, 0.10},
}

// Goals of what is measured beside the ratio to Mesa.
const (
	goalPick      = 2    // ms
	goalStandIn   = 350  // ms, at 5 million triangles
	goalBytes     = 13   // of display data per triangle
	goalDiffering = 0.05 // % of pixels
)

// figures are what was measured on a workload; 0: not measured.
type figures struct {
	ours, theirs, still, moving float64 // ms a frame
	pick, longestPick           float64 // ms
	made, standIn               float64 // ms
	bytes, tie                  float64 // a triangle
	differing                   float64 // %
	compared                    bool
}

// offScreen measures every workload and prints the table.
func offScreen(ctx context.Context, o options) error {
	var p *peer
	if o.peers == "" {
		fmt.Println("left out: Mesa (no folder with peers given)")
	} else {
		var err error
		if p, err = buildPeer(ctx, o.peers, o.work); err != nil {
			fmt.Printf("left out: Mesa (its program could not be built: %v)\n", err)
		} else if p.why != "" {
			fmt.Printf("left out: comparing pictures with Mesa's (%s)\n", p.why)
		}
	}
	row("mesh", "ours ms", "Mesa ms", "ratio", "goal", "still ms", "moving ms", "pick ms", "longest", "model ms", "stand-in ms", "bytes/tri", "tie/tri", "differing %")
	for _, l := range workloads {
		if l.triangles > o.largest || l.triangles < o.smallest {
			continue
		}
		f, err := l.measure(ctx, p, o.rounds)
		if err != nil {
			return fmt.Errorf("%s: %w", l.name, err)
		}
		f.row(l)
		runtime.GC()
	}
	fmt.Printf("goals beside the ratio: pick %d ms, stand-in of 5 M in %d ms, %d bytes a triangle, under %.2g %% of the pixels more than 3 %% off Mesa's\n",
		goalPick, goalStandIn, goalBytes, goalDiffering)
	fmt.Println("least of the rounds, both sides in turn, two threads each, 1280x800; still: every pixel the mean of four; moving: what stands in while the view moves")
	fmt.Println("tie: what leads from the picture back to the mesh, for picking and painting")
	return nil
}

func (l workload) measure(ctx context.Context, p *peer, rounds int) (figures, error) {
	fmt.Fprintln(os.Stderr, "measuring", l.name)
	ours := prepare(makeShape(l.shape, l.triangles))
	f := figures{made: ours.made}
	data, tie := ours.model.Bytes()
	n := float64(ours.model.Triangles())
	f.bytes, f.tie = float64(data)/n, float64(tie)/n
	for range rounds {
		if p != nil {
			t, err := p.time(ctx, l.shape, l.triangles)
			if err != nil {
				return f, err
			}
			f.theirs = least(f.theirs, t)
		}
		f.ours = least(f.ours, ours.plain())
		f.still = least(f.still, ours.still())
	}
	f.pick, f.longestPick = ours.pick()
	if ours.model.Large() {
		for range rounds {
			t, err := ours.standIn(ctx)
			if err != nil {
				return f, err
			}
			f.standIn = least(f.standIn, t)
			f.moving = least(f.moving, ours.moving())
		}
	}
	if p != nil && p.level != "" {
		theirs, err := p.picture(ctx, l.shape, l.triangles)
		if err != nil {
			return f, err
		}
		f.differing, f.compared = 100*ours.differing(theirs), true
	}
	return f, nil
}

// least keeps the smaller of two times; 0 is none yet.
func least(a, b float64) float64 {
	if a == 0 {
		return b
	}
	return min(a, b)
}

func (f figures) row(l workload) {
	theirs, ratio, differing, moving, standIn := "", "", "", "", ""
	if f.theirs > 0 {
		theirs, ratio = fmt.Sprintf("%.1f", f.theirs), fmt.Sprintf("%.3f", f.ours/f.theirs)
	}
	if f.compared {
		differing = fmt.Sprintf("%.3f", f.differing)
	}
	if f.standIn > 0 {
		moving, standIn = fmt.Sprintf("%.1f", f.moving), fmt.Sprintf("%.0f", f.standIn)
	}
	row(l.name, fmt.Sprintf("%.1f", f.ours), theirs, ratio, fmt.Sprintf("%.2f", l.goal), fmt.Sprintf("%.1f", f.still), moving,
		fmt.Sprintf("%.2f", f.pick), fmt.Sprintf("%.2f", f.longestPick), fmt.Sprintf("%.0f", f.made), standIn,
		fmt.Sprintf("%.1f", f.bytes), fmt.Sprintf("%.1f", f.tie), differing)
}

// row prints a row of a table as soon as it is known, its first cell at the left and the others under one another.
func row(cells ...string) {
	line := fmt.Sprintf("%-12s", cells[0])
	for _, c := range cells[1:] {
		line += fmt.Sprintf(" %11s", c)
	}
	fmt.Println(line)
}
