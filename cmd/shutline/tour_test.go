package main

import (
	"bytes"
	"context"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/demo"
	"shutline/app/ui"
)

// TestTour drives the real window with a real pointer and keys through the whole
// job, stage by stage, and compares what it writes with the headless command's.
func TestTour(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, demo.Write(context.Background(), filepath.Join(dir, "job"), demo.Options{Size: 60_000, Seed: 1}, nil))
	job := filepath.Join(dir, "job", demo.InspectionFile)

	headless := runHeadless(t, job)
	d := newDesk(t)
	d.open("light", job)
	d.wait("the job", func(e ui.Trace) bool { return e.Event == "job" && e.Text != "" })
	order := d.stages()
	require.Equal(t, []string{"parts", "place", "surface", "trust", "seams"}, order, "stage after stage is done")

	for _, stage := range []string{"place", "surface", "parts", "trust", "seams"} {
		d.click("stage "+stage, 0.5, 0.5)
		d.wait("stage "+stage, func(e ui.Trace) bool { return e.Event == "shown" && e.Stage == stage })
		img := d.shot(stage)
		require.Equal(t, image.Pt(1280, 800), img.Bounds().Size())
		require.Greater(t, d.colours("view"), 50, "the part is drawn on stage %s", stage)
	}
	walkTheSeam(t, d)
	turnThePart(t, d)

	written := filepath.Join(dir, "job", strings.TrimSuffix(demo.InspectionFile, ".toml")+"-results")
	d.key("ctrl+e")
	d.wait("the question for a folder", func(e ui.Trace) bool { return e.Event == "asked" && e.Name == "evidence" })
	d.key("Return")
	e := d.wait("the evidence", func(e ui.Trace) bool { return e.Event == "written" || e.Event == "error" })
	require.Equal(t, "written", e.Event, e.Text)
	require.Equal(t, written, e.Text)
	d.shot("evidence")
	sameFiles(t, headless, written)

	d.key("ctrl+q")
	require.NoError(t, <-d.ended, d.said.String())
}

// stages waits until the seams are measured and returns the order in which the stages got done.
func (d *desk) stages() []string {
	d.t.Helper()
	var order []string
	d.until("the seams", func() bool {
		d.events()
		order = order[:0]
		for _, e := range d.all {
			require.NotEqual(d.t, "error", e.Event, e.Text)
			require.NotEqual(d.t, "failed", e.State, "stage %s", e.Stage)
			done := slices.Contains([]string{"conforms", "does not conform", "undecided", "done"}, e.State)
			if e.Event == "stage" && done && !slices.Contains(order, e.Stage) {
				order = append(order, e.Stage)
			}
		}
		return slices.Contains(order, "seams")
	})
	return order
}

// colours counts the different colours of a part of the window.
func (d *desk) colours(name string) int {
	img, at := d.picture(), d.layout[name]
	seen := map[[3]uint32]bool{}
	for y := int(at[1]); y < int(at[1]+at[3]); y++ {
		for x := int(at[0]); x < int(at[0]+at[2]); x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			seen[[3]uint32{r, g, b}] = true
		}
	}
	return len(seen)
}

// walkTheSeam picks a station on the strip and walks on with the arrow keys.
func walkTheSeam(t *testing.T, d *desk) {
	selected := func(e ui.Trace) bool { return e.Event == "select" }
	d.click("strip", 0.3, 0.3)
	at := d.wait("a station picked on the strip", selected).Station
	require.Positive(t, at)
	d.key("Right")
	require.Equal(t, at+1, d.wait("the next station", selected).Station)
	d.key("Left")
	require.Equal(t, at, d.wait("the station before", selected).Station)
	d.click("strip", 0.7, 0.7)
	require.Greater(t, d.wait("a station further on", selected).Station, at)
	d.key("Down")
	require.Equal(t, 2, d.wait("the next seam", selected).Seam)
	d.shot("station")
}

// turnThePart drags in the view and asks whether the part turned, and comes back with the key.
func turnThePart(t *testing.T, d *desk) {
	d.key("ctrl+4")
	d.wait("the surface stage", func(e ui.Trace) bool { return e.Event == "shown" && e.Stage == "surface" })
	d.key("q")
	before := pixels(d.picture())
	d.drag("view", 0.4, 0.5, 0.6, 0.4)
	require.False(t, bytes.Equal(before, pixels(d.picture())), "dragging turns the part")
	d.shot("turned")
	d.key("q")
	d.until("the three-quarter view again", func() bool { return d.near("view", before) })
}

// near reports whether a part of the window looks as in an earlier picture.
// Under 0.1 % of the pixels may differ: the label beside the pointer.
func (d *desk) near(name string, before []byte) bool {
	img, at := d.picture(), d.layout[name]
	now, width := pixels(img), img.Bounds().Dx()
	differ, all := 0, 0
	for y := int(at[1]) + 50; y < int(at[1]+at[3])-4; y++ {
		for x := int(at[0]) + 4; x < int(at[0]+at[2])-4; x++ {
			i := 3 * (y*width + x)
			all++
			if !bytes.Equal(now[i:i+3], before[i:i+3]) {
				differ++
			}
		}
	}
	return differ*50 < all
}

// runHeadless builds the headless command, runs the job with it and returns the folder of its results.
func runHeadless(t *testing.T, job string) string {
	bin := filepath.Join(t.TempDir(), "shutcheck")
	build := exec.Command("go", "build", "-o", bin, "shutline/cmd/shutcheck")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(t, err, string(out))
	dir := filepath.Join(t.TempDir(), "headless")
	out, err = exec.Command(bin, "inspect", job, "--out", dir).CombinedOutput()
	if exit := new(exec.ExitError); err != nil {
		require.ErrorAs(t, err, &exit, string(out))
		require.Contains(t, []int{app.ExitDoesNotConform, app.ExitUndecided}, exit.ExitCode(), string(out))
	}
	return dir
}

// sameFiles compares what the window wrote with what the headless command did.
func sameFiles(t *testing.T, headless, written string) {
	for _, name := range []string{"stations.csv", "seams.csv", "lengths.csv", "placement.csv", "surface.csv", "surface-summary.csv", "results.json"} {
		want, err := os.ReadFile(filepath.Join(headless, name))
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(written, name))
		require.NoError(t, err)
		if !bytes.Equal(want, got) {
			wants, gots := strings.Split(string(want), "\n"), strings.Split(string(got), "\n")
			for i := range min(len(wants), len(gots)) {
				require.Equal(t, wants[i], gots[i], "%s, line %d, differs from what the headless command writes", name, i+1)
			}
			require.Len(t, gots, len(wants), name)
		}
	}
}
