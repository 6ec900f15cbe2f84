package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"shutline/app/demo"
	"shutline/deviation/evidence"
	"shutline/mesh"
	"shutline/mesh/bodywork"
)

// demo writes the demo job.
func (c *command) demo(a *arguments) error {
	switch {
	case len(a.files) > 0:
		return usage("demo takes no file (%q); it writes its own: shutcheck demo --out DIR", a.files[0])
	case a.values["out"] == "":
		return usage("name the folder for the job: shutcheck demo --out DIR")
	}
	o, err := demoOptions(a)
	if err != nil {
		return err
	}
	dir := a.values["out"]
	var progress mesh.Progress
	if show := c.progress.part(0, 1); show != nil {
		progress = func(share float64) { show("writing the demo job", share) }
	}
	write, say := demo.Write, c.sayDemo
	if a.set["scans"] {
		write, say = demo.WriteScans, c.sayScans
	}
	if err := write(c.ctx, dir, o, progress); err != nil {
		return c.demoError(err, dir)
	}
	c.progress.clear()
	return say(a, dir)
}

func demoOptions(a *arguments) (o demo.Options, err error) {
	o.Replace = a.set["replace"]
	if o.Threads, err = a.threads(); err != nil {
		return o, err
	}
	if o.Size, err = a.whole("size", bodywork.DefaultSize, bodywork.MinSize, bodywork.MaxSize); err != nil {
		return o, err
	}
	if s, given := a.values["seed"]; given {
		if o.Seed, err = strconv.ParseUint(s, 10, 64); err != nil {
			return o, usage("--seed must be a whole number from 0, not %q", s)
		}
	}
	return o, nil
}

// demoError gives the demo's errors the kinds that decide the exit status.
func (c *command) demoError(err error, dir string) error {
	switch {
	case c.ctx.Err() != nil:
		return c.ctx.Err()
	case errors.Is(err, demo.ErrNotEmpty):
		if _, there := os.Stat(filepath.Join(dir, demo.InspectionFile)); there == nil {
			return &evidence.WriteError{Path: dir, Problem: fmt.Sprintf(
				"the folder holds a job already: go on with `shutcheck inspect %s --out %s`, name another folder, or allow its files to be replaced with --replace",
				filepath.Join(dir, demo.InspectionFile), filepath.Join(dir, "results")), Err: err}
		}
		return &evidence.WriteError{Path: dir, Problem: "the folder is not empty; name another one, or allow it with --replace", Err: err}
	case errors.Is(err, demo.ErrWrite):
		why := err.Error()
		if at := strings.LastIndex(why, ": "); at >= 0 {
			why = why[at+2:]
		}
		return &evidence.WriteError{Path: dir, Problem: "the job cannot be written: " + why + "; check the disk, or name another folder", Err: err}
	case errors.Is(err, bodywork.ErrSize):
		return usage("%v", err)
	}
	return err
}

func (c *command) sayDemo(a *arguments, dir string) error {
	job := filepath.Join(dir, demo.InspectionFile)
	if a.set["json"] {
		data, err := json.MarshalIndent(map[string]string{
			"folder": dir, "inspection": demo.InspectionFile, "scan": demo.ScanFile, "reference": demo.ReferenceFile, "truth": demo.TruthFile,
			"truth_surface": demo.TruthSurfaceFile, "truth_stations": demo.TruthStationsFile,
		}, "", "  ")
		if err != nil {
			return err
		}
		c.out.text(string(data) + "\n")
		return nil
	}
	c.out.line("The demo job is in %s: the left side of a made-up parcel van with a replacement wing that does not quite fit.", dir)
	c.out.line("  %s and %s are the meshes, %s says what to measure,", demo.ScanFile, demo.ReferenceFile, demo.InspectionFile)
	c.out.line("  %s, %s and %s hold what a perfect measurement would find.", demo.TruthFile, demo.TruthSurfaceFile, demo.TruthStationsFile)
	c.out.line("Next: shutcheck inspect %s --out %s", job, filepath.Join(dir, "results"))
	return nil
}

func (c *command) sayScans(a *arguments, dir string) error {
	if a.set["json"] {
		data, err := json.MarshalIndent(map[string]any{
			"folder": dir, "reference": demo.ReferenceFile, "truth": demo.TruthScansFile, "inspections": demo.ScanNames(),
		}, "", "  ")
		if err != nil {
			return err
		}
		c.out.text(string(data) + "\n")
		return nil
	}
	c.out.line("The scans are in %s: a made-up parcel van, scanned whole, five times.", dir)
	c.out.line("  %s.toml   a good scanner, once round", demo.GoodScan)
	c.out.line("  %s.toml   the same scan with its loop closed", demo.ClosedScan)
	c.out.line("  %s.toml   a poor scanner, once round", demo.PoorScan)
	c.out.line("  %s.toml   the good scanner, six pieces, each begun at its end", demo.EndScan)
	c.out.line("  %s.toml   six pieces, each begun in its middle and scanned each way", demo.MiddleScan)
	c.out.line("  %s holds what is truly wrong with each.", demo.TruthScansFile)
	c.out.line("Next: shutcheck inspect %s --out %s", filepath.Join(dir, demo.GoodScan+".toml"), filepath.Join(dir, demo.GoodScan))
	return nil
}
