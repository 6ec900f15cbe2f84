package main

import (
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/demo"
	"shutline/app/ui"
)

// TestLooks shows every stage of a job with long file names on a large screen, at
// twice the scale, in the dark and in German, and looks at what can be told without eyes.
func TestLooks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Kundenauftrag 2026-03 Fuhrpark Nord, dritte Lieferung, zweite Probemontage")
	require.NoError(t, demo.Write(context.Background(), dir, demo.Options{Size: 60_000, Seed: 1}, nil))
	long := "scan of the left side with the second replacement wing, mounted on Tuesday, with markers, smoothed once, final version (2).stl"
	require.NoError(t, os.Rename(filepath.Join(dir, demo.ScanFile), filepath.Join(dir, long)))
	job := filepath.Join(dir, demo.InspectionFile)
	text, err := os.ReadFile(job)
	require.NoError(t, err)
	require.Contains(t, string(text), demo.ScanFile)
	require.NoError(t, os.WriteFile(job, []byte(strings.Replace(string(text), `"`+demo.ScanFile+`"`, `"`+long+`"`, 1)), 0o644))

	for _, c := range []struct {
		look, language string
		wide, high     int
		scale          int
		says           string // of the first stage
	}{
		{"dark", "en_US.UTF-8", 2560, 1440, 1, "triangles"},
		{"light", "de_DE.UTF-8", 2560, 1440, 2, "Dreiecke"},
		{"dark", "de_AT.UTF-8", 1280, 800, 1, "Dreiecke"},
		{"light", "en_GB.UTF-8", 1280, 800, 1, "triangles"},
	} {
		name := fmt.Sprintf("%s-%.2s-%d-%d", c.look, c.language, c.wide, c.scale)
		t.Run(name, func(t *testing.T) {
			d := newDeskOf(t, c.wide+80, c.high+80) // with room for the window manager's frame
			d.language, d.scale = c.language, c.scale
			d.open(c.look, job)
			d.do("xdotool", "windowsize", "--sync", d.window, fmt.Sprint(c.wide), fmt.Sprint(c.high))
			d.do("xdotool", "windowmove", "--sync", d.window, "0", "0")
			d.stages()
			for _, e := range d.all {
				if e.Event == "stage" && e.Stage == "parts" && e.State == "conforms" {
					require.Contains(t, e.Line, c.says, "texts follow the system's language, English where there is no other")
				}
			}
			for k, stage := range []string{"parts", "trust", "place", "surface", "seams", "evidence"} {
				d.key(fmt.Sprintf("ctrl+%d", k+1))
				d.wait("stage "+stage, func(e ui.Trace) bool { return e.Event == "shown" && e.Stage == stage })
				img := d.shot(name + "-" + stage)
				require.Equal(t, image.Pt(c.wide, c.high), img.Bounds().Size(), "nothing makes the window larger")
				require.Greater(t, d.colours("view"), 50, "the part is drawn on stage %s", stage)
				for part, at := range d.layout {
					require.LessOrEqual(t, at[0]+at[2], float32(c.wide)+0.5, "%s on stage %s", part, stage)
					require.LessOrEqual(t, at[1]+at[3], float32(c.high)+0.5, "%s on stage %s", part, stage)
				}
			}
			d.key("ctrl+q")
			require.NoError(t, <-d.ended, d.said.String())
		})
	}
}
