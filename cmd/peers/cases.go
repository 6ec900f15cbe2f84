package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// benchCase is a folder with a reference (ref.stl) and an aligned scan
// (scan_aligned.stl), as the peers' program wants them.
type benchCase struct{ name, dir string }

func (c benchCase) ref() string  { return filepath.Join(c.dir, "ref.stl") }
func (c benchCase) scan() string { return filepath.Join(c.dir, "scan_aligned.stl") }

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// makeCases writes the cases that are not there yet: uniform (the peers' own, or
// a sheet when there are none), the same shuffled, and one with sizes as CAD has them.
func makeCases(ctx context.Context, o options) (uniform, shuffled, cad, large benchCase, err error) {
	uniform = benchCase{"uniform", filepath.Join(o.work, "case")}
	shuffled = benchCase{"shuffled", filepath.Join(o.work, "shuffled")}
	cad = benchCase{"CAD", filepath.Join(o.work, "cad")}
	large = benchCase{"10 million", filepath.Join(o.work, "large")}
	script := filepath.Join(o.peers, "make_case.py")
	scripted := o.peers != "" && exists(script)
	steps := []struct {
		c    benchCase
		make func() error
	}{
		{uniform, func() error {
			if scripted {
				return runScript(ctx, script, uniform.dir, 1000000, 2000000)
			}
			return writeSheets(uniform, 700, 945)
		}},
		{shuffled, func() error { return writeShuffled(ctx, uniform, shuffled) }},
		{cad, func() error { return writeCAD(ctx, cad) }},
		{large, func() error {
			if scripted {
				return runScript(ctx, script, large.dir, 10700000, 200000)
			}
			return writeSheets(large, 2237, 300)
		}},
	}
	for _, s := range steps {
		if s.c == large && !o.large || exists(s.c.ref()) && exists(s.c.scan()) {
			continue
		}
		fmt.Fprintf(os.Stderr, "writing the case %s\n", s.c.name)
		if err := os.MkdirAll(s.c.dir, 0o755); err != nil {
			return uniform, shuffled, cad, large, err
		}
		if err := s.make(); err != nil {
			return uniform, shuffled, cad, large, fmt.Errorf("case %s: %w", s.c.name, err)
		}
	}
	return uniform, shuffled, cad, large, nil
}

func runScript(ctx context.Context, script, dir string, ref, scan int, more ...string) error {
	args := append([]string{script, dir, "--ref", strconv.Itoa(ref), "--scan", strconv.Itoa(scan)}, more...)
	out, err := exec.CommandContext(ctx, "/usr/bin/python3", args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s: %w: %s", script, err, strings.TrimSpace(string(out)))
	}
	return nil
}

// writeSheets writes wavy sheets of ref x ref and scan x scan points, the scan with noise.
func writeSheets(c benchCase, ref, scan int) error {
	if err := writeBent(c.ref(), bodywork.Plane(2400, 2400, 2400/float64(ref)), 0); err != nil {
		return err
	}
	return writeBent(c.scan(), bodywork.Plane(2400, 2400, 2400/float64(scan)), 0.03)
}

// writeBent writes a plane as a bent sheet with noise across it.
func writeBent(path string, m *mesh.Mesh, noise float64) error {
	r := rand.New(rand.NewPCG(1, 2))
	bent := &mesh.Mesh{Faces: m.Faces, Vertices: make([]geom.Vec, len(m.Vertices))}
	for i, v := range m.Vertices {
		v.Z = 0.00002*(v.X-1200)*(v.X-1200) + 0.00001*v.X*v.Y/2 + noise*r.NormFloat64()
		bent.Vertices[i] = v
	}
	return saveSTL(path, bent)
}

func saveSTL(path string, m *mesh.Mesh) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := meshio.WriteSTL(f, m); err != nil {
		return err
	}
	return f.Close()
}

// writeShuffled writes the triangles of a reference in random order, and a small scan.
func writeShuffled(ctx context.Context, from, to benchCase) error {
	bytes, err := os.ReadFile(from.ref())
	if err != nil {
		return err
	}
	const header, record = 84, 50
	n := (len(bytes) - header) / record
	at := func(i int) []byte { return bytes[header+record*i : header+record*(i+1)] }
	var keep [record]byte
	rand.New(rand.NewPCG(5, 6)).Shuffle(n, func(i, j int) {
		copy(keep[:], at(i))
		copy(at(i), at(j))
		copy(at(j), keep[:])
	})
	if err := os.WriteFile(to.ref(), bytes, 0o644); err != nil {
		return err
	}
	return writeSmallScan(ctx, from.scan(), to.scan())
}

func writeSmallScan(ctx context.Context, from, to string) error {
	scan, err := meshio.Read(ctx, from, meshio.Options{Unit: meshio.Millimetre})
	if err != nil {
		return err
	}
	small := &mesh.Mesh{Vertices: scan.Mesh.Vertices, Faces: scan.Mesh.Faces[:min(len(scan.Mesh.Faces), 50000)]}
	return saveSTL(to, small)
}

// writeCAD writes the made-up van's reference, whose triangles differ in size and shape as those of CAD do.
func writeCAD(ctx context.Context, to benchCase) error {
	job, err := bodywork.Van(ctx, bodywork.Options{Size: 2000000, Seed: 1}, nil)
	if err != nil {
		return err
	}
	if err := saveSTL(to.ref(), job.Reference); err != nil {
		return err
	}
	return writeSmallScan(ctx, to.ref(), to.scan())
}
