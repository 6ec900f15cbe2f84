package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// buildPeers builds the peers' program in the work folder and returns its path.
func buildPeers(ctx context.Context, o options) (string, error) {
	dir := filepath.Join(o.work, "build")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", err
	}
	peers, err := filepath.Abs(o.peers)
	if err != nil {
		return "", err
	}
	for _, command := range [][]string{{"cmake", peers}, {"make"}} {
		c := exec.CommandContext(ctx, command[0], command[1:]...)
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			return "", fmt.Errorf("%s: %w: %s", strings.Join(command, " "), err, strings.TrimSpace(string(out)))
		}
	}
	return filepath.Join(dir, "peers"), nil
}

// theirs runs the peers' program on a case and keeps its rates, in millions a second,
// under "work | library, threads"; sections a second come as they are.
func (b best) theirs(ctx context.Context, program string, c benchCase) error {
	out, err := exec.CommandContext(ctx, program, c.dir, "2").Output()
	if err != nil {
		return fmt.Errorf("%s on the case %s: %w", program, c.name, err)
	}
	for line := range strings.Lines(string(out)) {
		f := strings.Split(strings.TrimSpace(line), "\t")
		if len(f) < 5 {
			continue
		}
		rate, err := strconv.ParseFloat(strings.Fields(f[4])[0], 64)
		if err != nil {
			return fmt.Errorf("%s printed %q where a rate belongs", program, f[4])
		}
		b.set(c.name+" | "+f[0]+" | "+f[1]+", "+f[2], rate)
	}
	return nil
}
