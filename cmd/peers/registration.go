package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"shutline/deviation/align"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/surface"
)

// measureRegistration places the peers' own case, a scan of a million points and no deviation on a reference of a
// million triangles, from an arbitrary pose, and lets the peers' registration do so after us. Their rows come as they are printed.
func measureRegistration(ctx context.Context, o options) error {
	if o.peers == "" {
		return errors.New("there is nothing to stand beside without the peers' folder; name it by -peers")
	}
	if o.work == "" {
		o.work = filepath.Join(os.TempDir(), "shutline-peers")
	}
	c := benchCase{"flat", filepath.Join(o.work, "flat")}
	if !exists(filepath.Join(c.dir, "scan.stl")) {
		fmt.Fprintln(os.Stderr, "writing the case flat")
		if err := os.MkdirAll(c.dir, 0o755); err != nil {
			return err
		}
		if err := runScript(ctx, filepath.Join(o.peers, "make_case.py"), c.dir, 1000000, 2000000, "--flat"); err != nil {
			return err
		}
	}
	if err := placeCase(ctx, c, o.rounds); err != nil {
		return err
	}
	theirs := exec.CommandContext(ctx, "/usr/bin/python3", filepath.Join(o.peers, "registration.py"), c.dir)
	theirs.Stdout = os.Stdout
	if err := theirs.Run(); err != nil {
		fmt.Printf("left out: the peers' registration (%v)\n", err)
	}
	return nil
}

// placeCase prints our seconds, with and without the index, and the greatest displacement from the truth over the scan's box.
func placeCase(ctx context.Context, c benchCase, rounds int) error {
	read := func(path string) (*meshio.Loaded, error) {
		return meshio.Read(ctx, path, meshio.Options{Unit: meshio.Millimetre})
	}
	ref, err := read(c.ref())
	if err != nil {
		return err
	}
	scan, err := read(filepath.Join(c.dir, "scan.stl"))
	if err != nil {
		return err
	}
	data, err := os.ReadFile(filepath.Join(c.dir, "truth.json"))
	if err != nil {
		return err
	}
	var truth struct {
		Motion [16]float64 `json:"scan_to_reference"`
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		return fmt.Errorf("truth.json of the case %s: %w", c.name, err)
	}
	m := truth.Motion
	referenceFromScan := geom.Rigid{R: geom.Mat3{{m[0], m[1], m[2]}, {m[4], m[5], m[6]}, {m[8], m[9], m[10]}}, T: geom.Vec{X: m[3], Y: m[7], Z: m[11]}}
	// The pose that registration.py puts the scan in: 140 degrees about an axis of no face or edge.
	arbitrary := geom.Rotation(geom.Vec{X: 0.36, Y: 0.48, Z: 0.8}, 140*math.Pi/180)
	far := scan.Mesh.Moved(arbitrary)
	truly := referenceFromScan.After(arbitrary.Inverse())
	fmt.Printf("work\tpeer\tseconds\terror_mm\n")
	best, index, off := 0.0, 0.0, 0.0
	for k := range max(rounds, 1) {
		runtime.GC()
		start := time.Now()
		s, err := surface.New(ctx, ref.Mesh, 0, nil)
		if err != nil {
			return err
		}
		indexed := time.Since(start).Seconds()
		p, err := align.BestFit(ctx, far, s, align.Settings{}, nil)
		if err != nil {
			return err
		}
		if t := time.Since(start).Seconds(); k == 0 || t < best {
			best, index = t, indexed
		}
		off = geom.MaxDisplacement(p.ReferenceFromScan, truly, far.Bounds())
	}
	fmt.Printf("registration from an arbitrary pose\tours, index of %.2f s and verified answer, %d points on %d triangles\t%.3f\t%.4f\n",
		index, len(far.Vertices), len(ref.Mesh.Faces), best, off)
	return nil
}
