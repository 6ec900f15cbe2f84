package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"shutline/mesh/meshio"
)

// Goals of the window.
const (
	goalFloor, goalAim     = 35, 45 // painted frames a second
	goalFollows, aimFollow = 50, 40 // ms
	goalStill              = 400    // ms
	goalStart              = 1.5    // s
	goalColoured           = 5      // s
	goalHeld               = 30     // ms
	demoTriangles          = 2_000_000
)

// inWindow drives the real program on a virtual screen and prints its figures.
func inWindow(ctx context.Context, o options) error {
	program, err := filepath.Abs(o.window)
	if err != nil {
		return err
	}
	d, err := newDesk(ctx, o.work, program)
	if d != nil {
		defer d.close()
	}
	if err != nil {
		return err
	}
	for _, part := range []struct {
		name string
		do   func() error
	}{
		{"start", func() error { return d.starts(ctx, o.rounds) }},
		{"drag", func() error { return d.drags(ctx, o) }},
		{"demo", func() error { return d.coloured(ctx, o.rounds) }},
		{"tour", func() error { return d.tour(ctx) }},
	} {
		if !o.wants(part.name) {
			continue
		}
		if err := part.do(); err != nil {
			return err
		}
	}
	return nil
}

// starts measures how long it takes to a usable window; the first start warms the files.
func (d *desk) starts(ctx context.Context, rounds int) error {
	best := 0.0
	for i := range rounds + 1 {
		if err := d.open(ctx, false); err != nil {
			return err
		}
		if t := time.Since(d.begun).Seconds(); i > 0 {
			best = least(best, t)
		}
		d.quit()
	}
	fmt.Printf("start to a usable window, warm: %.2f s (goal %.1f)\n", best, goalStart)
	return nil
}

// drags turns large scans in the window.
func (d *desk) drags(ctx context.Context, o options) error {
	row("dragging", "painted/s", "goal", "follows ms", "goal", "95 % ms", "drawn ms", "still ms", "goal")
	for _, l := range []struct {
		name      string
		triangles int
	}{{"300 k", 300_000}, {"1 M", 1_000_000}, {"5 M", 5_000_000}, {"10 M", 10_000_000}} {
		if l.triangles > o.largest || l.triangles < o.smallest {
			continue
		}
		fmt.Fprintln(os.Stderr, "dragging", l.name)
		r, err := d.dragScan(ctx, l.triangles, o.rounds)
		if err != nil {
			return fmt.Errorf("dragging %s: %w", l.name, err)
		}
		row(l.name, fmt.Sprintf("%.1f", r.perSecond()), fmt.Sprintf("%d to %d", goalFloor, goalAim), fmt.Sprintf("%.0f", r.Follows), fmt.Sprintf("%d to %d", goalFollows, aimFollow),
			fmt.Sprintf("%.0f", r.FollowsMost), fmt.Sprintf("%.1f", r.Drawn), fmt.Sprintf("%.0f", r.Still), fmt.Sprint(goalStill))
	}
	fmt.Println("follows: from an event to what it asked for being painted, the median; still: from letting go to the sharp picture of the whole mesh")
	return nil
}

func (r *rates) perSecond() float64 { return float64(r.Painted-1) / r.Seconds }

// dragScan returns the figures of the quickest drag.
func (d *desk) dragScan(ctx context.Context, triangles, rounds int) (*rates, error) {
	file := filepath.Join(d.work, fmt.Sprintf("sheet-%d.stl", triangles))
	if _, err := os.Stat(file); err != nil {
		if err := writeScan(file, triangles); err != nil {
			return nil, err
		}
	}
	if err := d.open(ctx, false, file); err != nil {
		return nil, err
	}
	defer d.quit()
	if err := d.focus(ctx); err != nil {
		return nil, err
	}
	if err := d.standing(triangles); err != nil {
		return nil, err
	}
	var best *rates
	for range rounds {
		r, err := d.drag(ctx, 3)
		if err != nil {
			return nil, err
		}
		if best == nil || r.perSecond() > best.perSecond() {
			best = r
		}
	}
	return best, nil
}

// standing waits until a scan is on the screen and nothing is made any more: what stands in for it while the view moves
// is made beside everything else.
func (d *desk) standing(triangles int) error {
	seen, done, coarse := false, false, triangles <= fewTriangles
	if _, err := d.wait("the scan on the screen", func(e trace) bool {
		seen = seen || e.Event == "seen"
		coarse = coarse || e.Event == "coarse"
		done = done || e.Event == "stage" && e.Stage == "trust" && finished(e)
		return seen && coarse && done
	}); err != nil {
		return err
	}
	time.Sleep(500 * time.Millisecond)
	return nil
}

// fewTriangles are drawn as they are while the view moves.
const fewTriangles = 100_000

func writeScan(file string, triangles int) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	defer f.Close()
	to := bufio.NewWriterSize(f, 1<<20)
	if err := meshio.WriteSTL(to, makeShape("sheet", triangles).mesh); err != nil {
		return err
	}
	return to.Flush()
}
