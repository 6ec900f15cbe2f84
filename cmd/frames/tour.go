package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"shutline/app/demo"
)

// openDemo opens the demo of 2 million triangles, which is made where it is not there yet.
func (d *desk) openDemo(ctx context.Context, watched bool) error {
	dir := filepath.Join(d.work, "demo")
	job := filepath.Join(dir, demo.InspectionFile)
	if _, err := os.Stat(job); err != nil {
		if err := demo.Write(ctx, dir, demo.Options{Size: demoTriangles}, nil); err != nil {
			return err
		}
	}
	// What a tour before this one changed is not to be offered back, over the view.
	left, err := filepath.Glob(filepath.Join(dir, "*.unsaved.toml"))
	if err != nil {
		return err
	}
	for _, f := range left {
		if err := os.Remove(f); err != nil {
			return err
		}
	}
	if err := d.open(ctx, watched, job); err != nil {
		return err
	}
	return d.focus(ctx)
}

// coloured measures how long it takes from starting the program on the demo to its surface in colour.
func (d *desk) coloured(ctx context.Context, rounds int) error {
	fmt.Fprintln(os.Stderr, "opening the demo")
	best := 0.0
	for range rounds {
		took, err := d.colouredOnce(ctx)
		if err != nil {
			return err
		}
		best = least(best, took)
	}
	fmt.Printf("from starting the program on the demo of %d M triangles to the coloured surface on the screen: %.1f s (goal %d s)\n",
		demoTriangles/1_000_000, best, goalColoured)
	return nil
}

func (d *desk) colouredOnce(ctx context.Context) (seconds float64, err error) {
	if err := d.openDemo(ctx, false); err != nil {
		return 0, err
	}
	defer d.quit()
	if err := d.stages(ctx, "surface"); err != nil {
		return 0, err
	}
	_, err = d.wait("the coloured surface", func(e trace) bool { return e.Event == "seen" && e.State == "coloured" })
	return time.Since(d.begun).Seconds(), err
}

// tour opens the demo, works in its stages as a user does, and says what held the drawing thread.
func (d *desk) tour(ctx context.Context) error {
	fmt.Fprintln(os.Stderr, "touring the demo")
	if err := d.openDemo(ctx, true); err != nil {
		return err
	}
	defer d.quit()
	if err := d.done("seams"); err != nil {
		return err
	}
	for _, step := range []struct {
		name string
		do   func() error
	}{
		{"opening", func() error { return nil }},
		{"changing stages", func() error {
			return d.stages(ctx, "parts", "trust", "place", "surface", "seams", "evidence", "place", "surface", "seams", "surface")
		}},
		{"dragging", func() error { _, err := d.drag(ctx, 3); return err }},
		{"changing the tolerance", func() error { return d.tolerance(ctx) }},
		{"changing stages, settings open", func() error { return d.stages(ctx, "parts", "place", "surface", "seams", "surface", "parts") }},
		{"undoing and redoing", func() error { return d.keys(ctx, "ctrl+z", "ctrl+y") }},
		{"opening a form", func() error { return d.keys(ctx, "ctrl+n", "Escape") }},
		{"walking stations", func() error {
			if err := d.stages(ctx, "seams"); err != nil {
				return err
			}
			return d.keys(ctx, slices.Repeat([]string{"Right"}, 15)...)
		}},
		{"walking seams", func() error { return d.keys(ctx, "Down", "Up", "Down") }},
	} {
		if err := step.do(); err != nil {
			return fmt.Errorf("%s: %w", step.name, err)
		}
		time.Sleep(time.Second) // for what it set off
		if err := d.held(step.name); err != nil {
			return err
		}
	}
	return nil
}

// done waits for a stage's result.
func (d *desk) done(stage string) error {
	if finished(d.states[stage]) {
		return nil
	}
	_, err := d.wait("stage "+stage, func(e trace) bool { return e.Event == "stage" && e.Stage == stage && finished(e) })
	return err
}

// finished reports whether a stage's lamp tells of a result.
func finished(e trace) bool {
	return slices.Contains([]string{"conforms", "does not conform", "undecided", "done"}, e.State)
}

// stages shows stages, with time to look.
func (d *desk) stages(ctx context.Context, names ...string) error {
	for _, s := range names {
		if err := d.click(ctx, "stage "+s, 0.5, 0.5); err != nil {
			return err
		}
		time.Sleep(300 * time.Millisecond)
	}
	return nil
}

// keys presses keys, with time to look between them.
func (d *desk) keys(ctx context.Context, keys ...string) error {
	for _, k := range keys {
		if err := d.do(ctx, "key", k); err != nil {
			return err
		}
		time.Sleep(300 * time.Millisecond)
	}
	return nil
}

// tolerance changes the tolerance of the surface in its settings and waits for the new result.
func (d *desk) tolerance(ctx context.Context) error {
	if err := d.stages(ctx, "surface"); err != nil {
		return err
	}
	if _, open := d.lies["tolerance"]; !open {
		at, _, err := d.at("settings", 0.5, 0)
		if err != nil {
			return err
		}
		y := strconv.Itoa(int(d.lies["settings"][1]) + 18) // the fold's head
		if err := d.do(ctx, "mousemove", "--sync", "--window", d.window, at, y, "click", "1"); err != nil {
			return err
		}
	}
	if err := d.click(ctx, "tolerance", 0.5, 0.5); err != nil {
		return err
	}
	if err := d.keys(ctx, "ctrl+a"); err != nil {
		return err
	}
	if err := d.do(ctx, "type", "0.7"); err != nil {
		return err
	}
	delete(d.states, "surface") // what is waited for is the next
	if err := d.keys(ctx, "Return"); err != nil {
		return err
	}
	return d.done("surface")
}

// held prints what held the drawing thread longest since it was asked last.
func (d *desk) held(doing string) error {
	f, err := os.Open(d.watchFile())
	if err != nil {
		return err
	}
	defer f.Close()
	type hold struct {
		MS, CPU, Toolkit float64
		Under, In        string
	}
	var most hold
	over, n := 0, 0
	for lines := bufio.NewScanner(f); lines.Scan(); n++ {
		if n < d.watched {
			continue
		}
		var h hold
		if err := json.Unmarshal(lines.Bytes(), &h); err != nil {
			return err
		}
		if h.MS > goalHeld {
			over++
			fmt.Fprintf(os.Stderr, "%s: %.0f ms (at work for %.0f, in the toolkit's functions for %.0f) under %s in %s\n", doing, h.MS, h.CPU, h.Toolkit, h.Under, h.In)
		}
		if h.MS > most.MS {
			most = h
		}
	}
	d.watched = n
	if most.MS == 0 {
		fmt.Printf("%s: our code held the drawing thread for less than 8 ms at a time\n", doing)
		return nil
	}
	fmt.Printf("%s: our code held the drawing thread for at most %.0f ms (goal %d; at work for %.0f, in the toolkit's functions for %.0f), under %s in %s; %d times over the goal\n",
		doing, most.MS, goalHeld, most.CPU, most.Toolkit, most.Under, most.In, over)
	return nil
}
