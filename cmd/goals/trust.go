package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/signal"
	"slices"
	"strings"
)

// trustOptions are the flags of `goals trust`.
type trustOptions struct {
	seed    uint64
	runs    int
	threads int

	part  string
	lines *[]judgedLine
}

// judgedLine is one goal beside what was measured.
type judgedLine struct {
	part, goal, measured string
	missed               bool
}

// judge notes a goal beside what was measured, for the table at the end.
func (o *trustOptions) judge(missed bool, goal, measured string) {
	*o.lines = append(*o.lines, judgedLine{o.part, goal, measured, missed})
}

// trustParts are what `goals trust` can measure; each prints a table of its own and reports whether a goal was missed.
var trustParts = []struct {
	name    string
	measure func(ctx context.Context, o trustOptions, w *steady) (missed bool, err error)
}{
	{"closure", closureGoals},
	{"unclosed", unclosedGoals},
	{"shape", shapeGoals},
	{"pieces", pieceGoals},
	{"drift-van", driftGoals(wholeVan)},
	{"drift-side", driftGoals(vanSide)},
	{"clean-van", cleanGoals(wholeVan)},
	{"clean-side", cleanGoals(vanSide)},
	{"lengths", lengthGoals},
	{"lengths-van", worthGoals},
	{"plan", planGoals},
}

// trustMain runs the goals of the trust in a scan.
func trustMain(args []string) {
	var o trustOptions
	var names []string
	for _, p := range trustParts {
		names = append(names, p.name)
	}
	f := flag.NewFlagSet("goals trust", flag.ExitOnError)
	what := f.String("what", "", "what to measure, of "+strings.Join(names, " ")+"; left out: everything")
	f.IntVar(&o.runs, "runs", 20, "random scans in each cell")
	f.IntVar(&o.threads, "threads", 0, "threads, 0: all processors")
	f.Uint64Var(&o.seed, "seed", 0, "0: drawn at random and printed")
	_ = f.Parse(args) // it ends the program itself
	if o.seed == 0 {
		o.seed = rand.Uint64()>>1 + 1
	}
	wanted := partsOf(*what, names)
	fmt.Printf("seed %d, %d runs of each cell\n", o.seed, o.runs)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	missed, err := o.measure(ctx, wanted)
	stop()
	end(missed, err)
}

func (o trustOptions) measure(ctx context.Context, wanted []string) (missed bool, err error) {
	var lines []judgedLine
	o.lines = &lines
	for _, p := range trustParts {
		if !slices.Contains(wanted, p.name) {
			continue
		}
		o.part = p.name
		before := len(lines)
		w := &steady{out: os.Stdout}
		fmt.Fprintf(w, "\n%s\n", p.name)
		m, err := p.measure(ctx, o, w)
		w.Flush()
		if err != nil {
			return true, fmt.Errorf("%s: %w", p.name, err)
		}
		if len(lines) == before {
			o.judge(m, "every row of its table", "as it says there")
		}
		missed = missed || m
	}
	w := &steady{out: os.Stdout}
	fmt.Fprintf(w, "\nall goals, seed %d\npart\tgoal\tmeasured\t\n", o.seed)
	for _, l := range lines {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", l.part, l.goal, l.measured, map[bool]string{true: "MISSED", false: "met"}[l.missed])
	}
	return missed, w.Flush()
}
