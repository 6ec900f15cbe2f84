// Command frames measures how fast pictures are drawn: off screen, beside Mesa's software OpenGL on
// the same meshes in turn when given the folder with the peers' program, and in the real window
// on a virtual screen. It prints the figures beside their goals. `make frames PEERS=DIR` runs it.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
)

type options struct {
	peers, work, window string
	rounds, largest     int
}

func main() {
	var o options
	flag.StringVar(&o.peers, "peers", "", "folder with the peers' program ("+peerSource+")")
	flag.StringVar(&o.work, "work", filepath.Join(os.TempDir(), "shutline-frames"), "folder that keeps what is built and written")
	flag.StringVar(&o.window, "window", "", "the window's program; without it only pictures off screen are measured")
	flag.IntVar(&o.rounds, "rounds", 3, "how often each side is measured, in turn; the best counts")
	flag.IntVar(&o.largest, "largest", 10_000_000, "leave out meshes of more triangles")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, o); err != nil {
		fmt.Fprintln(os.Stderr, "frames:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, o options) error {
	if err := os.MkdirAll(o.work, 0o755); err != nil {
		return err
	}
	return offScreen(ctx, o)
}
