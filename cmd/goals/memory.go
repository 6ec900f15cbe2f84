package main

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"shutline/app"
	"shutline/app/demo"
	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// memoryWork names the environment's variable by which this program is told, by itself, to do one work and to say what it took.
const memoryWork = "SHUTLINE_GOALS_MEMORY"

// memoryMain measures the most memory that reading, opening and a whole inspection take, for each triangle and format, with
// the collector held to what is in use: what a machine must have, on which app.NeedRoom refuses meshes.
func memoryMain(args []string) {
	set := flag.NewFlagSet("goals memory", flag.ExitOnError)
	sizes := set.String("sizes", "500000 2000000", "triangles of the demo's scan, separated by blanks")
	dir := set.String("dir", filepath.Join(os.TempDir(), "shutline-memory"), "folder that keeps what is written")
	what := set.String("what", "", "formats, by the ends of their names; left out: all")
	_ = set.Parse(args) // it ends the program itself
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	var err error
	if work := os.Getenv(memoryWork); work != "" {
		err = memoryOf(ctx, work, set.Args())
	} else {
		err = runMemory(ctx, numbers(*sizes), *dir, strings.Fields(*what))
	}
	stop()
	end(false, err)
}

func runMemory(ctx context.Context, sizes []int, dir string, formats []string) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "format\ttriangles\tbytes of the file each\tmost memory, bytes each: read\topened\tinspected with its reference\tcounted beforehand\tits bound, bytes each")
	for _, size := range sizes {
		at := filepath.Join(dir, fmt.Sprint(size))
		if _, err := os.Stat(at); err != nil {
			if err := demo.Write(ctx, at, demo.Options{Size: size}, nil); err != nil {
				return err
			}
		}
		scan, err := meshio.Read(ctx, filepath.Join(at, demo.ScanFile), meshio.Options{Unit: "mm"})
		if err != nil {
			return err
		}
		n := float64(len(scan.Mesh.Faces))
		for _, name := range slices.Sorted(maps.Keys(meshFiles)) {
			if len(formats) > 0 && !slices.ContainsFunc(formats, func(f string) bool { return strings.HasSuffix(name, f) }) {
				continue
			}
			path := filepath.Join(at, name)
			if _, err := os.Stat(path); err != nil {
				if err := writeAs(path, name, scan.Mesh); err != nil {
					return err
				}
			}
			info, err := os.Stat(path)
			if err != nil {
				return err
			}
			fmt.Fprintf(w, "%s\t%.0f\t%.0f", name, n, float64(info.Size())/n)
			for _, work := range []string{"read", "open", "inspect"} {
				c := exec.CommandContext(ctx, self, "memory", path, filepath.Join(at, demo.InspectionFile))
				c.Env = append(os.Environ(), memoryWork+"="+work)
				c.Stderr = os.Stderr
				out, err := c.Output()
				if err != nil {
					return fmt.Errorf("%s %s: %w", work, path, err)
				}
				var most float64
				if _, err := fmt.Sscan(string(out), &most); err != nil {
					return err
				}
				fmt.Fprintf(w, "\t%.0f", most/n)
			}
			triangles, need := app.Need(path)
			fmt.Fprintf(w, "\t%.3f\t%.0f\n", float64(triangles)/n, float64(need)/n)
			w.Flush()
		}
	}
	return nil
}

// memoryOf does a work and prints the most memory that this process had, less what it began with.
func memoryOf(ctx context.Context, work string, args []string) error {
	before, err := mostMemory()
	if err != nil {
		return err
	}
	go func() { // the collector then never waits for garbage to pile up; opening sets the limit to what the machine has
		for range time.Tick(5 * time.Millisecond) {
			debug.SetMemoryLimit(1 << 20)
		}
	}()
	switch work {
	case "read":
		_, err = meshio.Read(ctx, args[0], meshio.Options{Unit: "mm"})
	case "open":
		i := inspection.Default(args[0], "")
		i.Scan.Units = "mm"
		_, err = app.LoadParts(ctx, i, app.Settings{}, nil)
	default:
		var i *inspection.Inspection
		if i, err = inspection.Read(args[1]); err != nil {
			return err
		}
		i.Scan.File = args[0]
		if strings.HasSuffix(args[0], ".glb") {
			i.Scan.Units = "m"
		}
		_, err = app.Inspect(ctx, i, app.Settings{}, nil)
	}
	if err != nil {
		return err
	}
	most, err := mostMemory()
	fmt.Println(most - before)
	return err
}

// mostMemory returns the most memory that this process has had, in bytes; Linux alone tells it (proc(5), VmHWM).
func mostMemory() (int64, error) {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(data)) {
		var kb int64
		if _, err := fmt.Sscanf(line, "VmHWM: %d kB", &kb); err == nil {
			return kb << 10, nil
		}
	}
	return 0, fmt.Errorf("the system does not tell how much memory was used")
}
