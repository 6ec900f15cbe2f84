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
	"slices"
	"strings"
)

type options struct {
	peers, work, window string
	rounds              int
	smallest, largest   int
	only                string
}

func main() {
	var o options
	flag.StringVar(&o.peers, "peers", "", "folder with the peers' program ("+peerSource+")")
	flag.StringVar(&o.work, "work", filepath.Join(os.TempDir(), "shutline-frames"), "folder that keeps what is built and written")
	flag.StringVar(&o.window, "window", "", "the window's program; without it only pictures off screen are measured")
	flag.IntVar(&o.rounds, "rounds", 3, "how often each side is measured, in turn; the best counts")
	flag.IntVar(&o.smallest, "smallest", 0, "leave out meshes of fewer triangles")
	flag.IntVar(&o.largest, "largest", 10_000_000, "leave out meshes of more triangles")
	flag.StringVar(&o.only, "only", "pictures,start,drag,demo,tour", "what is measured")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, o); err != nil {
		fmt.Fprintln(os.Stderr, "frames:", err)
		os.Exit(1)
	}
}

// wants reports whether something is to be measured.
func (o options) wants(what string) bool { return slices.Contains(strings.Split(o.only, ","), what) }

func run(ctx context.Context, o options) error {
	if err := os.MkdirAll(o.work, 0o755); err != nil {
		return err
	}
	if o.wants("pictures") {
		if err := offScreen(ctx, o); err != nil {
			return err
		}
	}
	if o.window == "" {
		fmt.Println("left out: the real window (no program given)")
		return nil
	}
	return inWindow(ctx, o)
}
