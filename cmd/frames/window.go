package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"
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
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "dragging\tpainted/s\tgoal\tevent to painted ms\tgoal\t95 %\tdrawn ms\tstill ms\tgoal\t")
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
		fmt.Fprintf(w, "%s\t%.1f\t%d to %d\t%.0f\t%d to %d\t%.0f\t%.1f\t%.0f\t%d\t\n", l.name,
			r.perSecond(), goalFloor, goalAim, r.Follows, goalFollows, aimFollow, r.FollowsMost, r.Drawn, r.Still, goalStill)
	}
	w.Flush()
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
	if _, err := d.wait("the scan", func(e trace) bool {
		return e.Event == "stage" && e.Stage == "parts" && e.State != "working" && e.State != "not done"
	}); err != nil {
		return nil, err
	}
	// What stands in while the view moves is made beside everything else; it is not what is measured here.
	time.Sleep(2*time.Second + time.Duration(triangles/4)*time.Microsecond)
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
