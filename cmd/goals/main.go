// Command goals measures the main job against the generator's exact truth,
// over seeds and sizes, and prints the figures beside the goals. It is a
// developer's tool: `make goals-main` runs it. `goals placement` measures the
// placement alone, on random scans of several parts (`make goals-placement`), `goals dented`
// a damaged part by least squares and by ours (`make goals-dented`), `goals
// stations` every kind of seam (`make goals-stations`), `goals seams` how they are found
// and traced (`make goals-seams`), `goals trust` what tells whether a scan can be believed (`make goals-trust`), `goals stop`
// how soon work lets go that is told to stop (`make goals-stop`), `goals memory` what a
// triangle takes of it in each format (`make goals-memory`). It ends with 1 when a goal is missed.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"strings"
)

func main() {
	if len(os.Args) > 1 {
		switch os.Args[1] { // each ends the program
		case "placement":
			placementMain(os.Args[2:])
		case "dented":
			dentedMain(os.Args[2:])
		case "stations":
			stationsMain(os.Args[2:])
		case "seams":
			seamsMain(os.Args[2:])
		case "trust":
			trustMain(os.Args[2:])
		case "memory":
			memoryMain(os.Args[2:])
		case "stop":
			stopMain(os.Args[2:])
		}
	}
	seeds := flag.String("seeds", "1 2 3", "seeds of the demo job, separated by blanks")
	sizes := flag.String("sizes", "300000 2000000", "triangles of the scan, separated by blanks")
	threads := flag.Int("threads", 0, "threads, 0: all processors")
	worst := flag.Int("worst", 0, "list so many of the stations with the largest error over U")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	missed, err := run(ctx, numbers(*seeds), numbers(*sizes), *threads, *worst)
	end(missed, err)
}

// end leaves the program with the status that the figures call for.
func end(missed bool, err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "goals:", err)
	}
	if missed || err != nil {
		os.Exit(1)
	}
	os.Exit(0)
}

// numbers reads a list of whole numbers; what is none ends the program.
func numbers(list string) []int {
	var out []int
	for _, f := range strings.Fields(list) {
		n, err := strconv.Atoi(f)
		if err != nil || n < 0 {
			fmt.Fprintf(os.Stderr, "goals: %q is not a whole number\n", f)
			os.Exit(64)
		}
		out = append(out, n)
	}
	return out
}

// partsOf reads which parts to measure, of names, all where none is said; a name that is none ends the program.
func partsOf(what string, names []string) []string {
	wanted := strings.Fields(what)
	for _, name := range wanted {
		if !slices.Contains(names, name) {
			fmt.Fprintf(os.Stderr, "goals: -what %q is none of %s\n", name, strings.Join(names, ", "))
			os.Exit(64)
		}
	}
	if len(wanted) == 0 {
		return names
	}
	return wanted
}

func run(ctx context.Context, seeds, sizes []int, threads, worst int) (missed bool, err error) {
	for _, size := range sizes {
		var all []*figures
		for _, seed := range seeds {
			f, err := measure(ctx, uint64(seed), size, threads)
			if err != nil {
				return true, fmt.Errorf("size %d, seed %d: %w", size, seed, err)
			}
			fmt.Printf("size %d, seed %d: %s\n", size, seed, f.times)
			all = append(all, f)
		}
		missed = printTable(os.Stdout, size, seeds, all) || missed
		printWorst(os.Stdout, all, worst)
	}
	return missed, nil
}
