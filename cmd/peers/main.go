// Command peers measures the mesh core and, given a folder with them, general-purpose
// libraries on the same work in turn, and prints both beside the goals. It is a
// developer's tool: `make bench PEERS=DIR` runs it.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
)

func main() {
	o := options{}
	flag.StringVar(&o.peers, "peers", "", "folder with the peers' program (run.sh, peers.cpp, make_case.py)")
	flag.StringVar(&o.work, "work", "", "folder that keeps cases and the built program; default: one under the system's temporary folder")
	flag.IntVar(&o.rounds, "rounds", 3, "how often each side is measured, in turn; the best counts")
	flag.BoolVar(&o.large, "large", false, "also 10 million triangles (needs 5 GB of memory and minutes)")
	registration := flag.Bool("registration", false, "place a scan of a million points instead, beside the peers' registration.py")
	readOnly := flag.String("read-memory", "", "read a file and print the peak of anonymous memory; used by the program itself")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	run := func() error { return measureAll(ctx, o) }
	if *registration {
		run = func() error { return measureRegistration(ctx, o) }
	}
	if *readOnly != "" {
		run = func() error { return readAndPrintMemory(ctx, *readOnly) }
	}
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "peers:", err)
		os.Exit(1)
	}
}

type options struct {
	peers, work string
	rounds      int
	large       bool
}
