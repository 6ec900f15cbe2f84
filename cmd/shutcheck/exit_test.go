package main

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
)

// Every row of the exit table of contract.md that wrong words on the command line lead to.
func TestUsage(t *testing.T) {
	for _, c := range []struct {
		args, says string
		status     int
	}{
		{"", "name a command", 64},
		{"inspekt x.toml", `did you mean "inspect"`, 64},
		{"frobnicate", "there are inspect, compare, info", 64},
		{"seams a.stl --reference b.stl", "against which reference and tolerance, stands in an inspection file", 64},
		{"inspect", "name the inspection file", 64},
		{"inspect a.toml", "name the folder for the results", 64},
		{"inspect a.toml", "--out DIR; and there is no file a.toml to inspect that can be opened", 64},
		{"inspect a.toml b.toml --out d", "one inspection file, not 2", 64},
		{"inspect a.toml --out", "--out needs a value: --out DIR", 64},
		{"inspect a.toml --out=", "--out needs a value", 64},
		{"inspect a.toml --out --json", "--out needs a value before --json", 64},
		{"inspect a.toml --out d --out e", "given twice", 64},
		{"inspect a.toml --out d --jsn", "the nearest one is --json", 64},
		{"inspect a.toml --out d --json=yes", "--json takes no value", 64},
		{"inspect a.toml --out d --threads 0", "whole number from 1", 64},
		{"inspect a.toml --out d --threads two", `not "two"`, 64},
		{"info", "name a mesh file", 64},
		{"info a.stl --out d", "info has no option --out", 64},
		{"demo", "--out DIR", 64},
		{"join a.stl --out c.stl", "name two pieces or more", 64},
		{"join a.stl b.stl", "name the joined mesh", 64},
		{"join a.stl b.stl --out c.obj", "end it in .stl or .ply", 64},
		{"help frobnicate", "there are inspect, compare, info", 64},
		{"--help", "", 0},
		{"help", "", 0},
		{"help join", "", 0},
		{"inspect -h", "", 0},
		{"--version", "", 0},
	} {
		got := shutcheck(strings.Fields(c.args)...)
		require.Equal(t, c.status, got.status, "%s: %s", c.args, got.errors)
		require.Contains(t, got.errors, c.says, c.args)
		if c.status == 0 {
			require.Empty(t, got.errors)
			require.NotEmpty(t, got.out)
		} else {
			require.Empty(t, got.out)
			require.LessOrEqual(t, strings.Count(got.errors, "\n"), 2)
		}
	}
}

func TestBadInput(t *testing.T) {
	dir := job(t, jobHead)
	put := func(name, content string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600))
	}
	put("key.toml", "[scan]\nfil = \"scan.stl\"\n")
	put("syntax.toml", "[scan\n")
	put("gone.toml", "[scan]\nfile = \"gone.stl\"\n")
	put("scann.toml", "[scan]\nfile = \"scann.stl\"\n")
	put("broken.toml", "[scan]\nfile = \"broken.stl\"\n")
	put("broken.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 1 2\n")
	put("empty.toml", "[scan]\nfile = \"empty.stl\"\n")
	put("empty.stl", "")
	put("folder.toml", "[scan]\nfile = \".\"\n")
	put("pairs.toml", jobHead+"[place]\nmethod = \"pairs\"\n")
	put("text.toml", "[scan]\nfile = \"text.txt\"\n")
	put("text.txt", "a list of parts\n")
	put("cm.toml", strings.Replace(jobHead, `units = "mm"`, `units = "cm"`, 1))
	put("ft.toml", strings.Replace(jobHead, `units = "mm"`, `units = "ft"`, 1))
	put("reference.toml", strings.Replace(jobHead, "reference.stl", ".", 1))
	put("mirror.toml", strings.Replace(jobHead, "[reference]", "[reference]\nmirror = \"y\"", 1))
	put("across.toml", jobHead+"[[seam]]\nname = \"s\"\npath = [[0,0,0],[0,0,50]]\ngap = { nominal_from = \"other side\", tolerance = [-1, 1] }\n")
	stl(t, filepath.Join(dir, "small.stl"), plate(200))
	put("unit.toml", "[scan]\nfile = \"small.stl\"\n")
	for _, c := range []struct {
		file, says string
		status     int
	}{
		{"key.toml", `line 2, column 1: scan.fil: no such key; the nearest known one is "file"`, 65},
		{"syntax.toml", "line 1", 65},
		{"pairs.toml", `"pairs" needs pairs = [`, 65},
		{"broken.toml", "broken.toml: line 2: scan.file: " + filepath.Join(dir, "broken.stl") + ": ", 65},
		{"empty.toml", "empty.toml: line 2: scan.file: " + filepath.Join(dir, "empty.stl"), 65},
		{"text.toml", "text.toml: line 2: scan.file: " + filepath.Join(dir, "text.txt") + ": it is neither STL, PLY, OBJ nor GLB", 65},
		{"cm.toml", "cm.toml: line 4: scan.units: " + filepath.Join(dir, "scan.stl") + `: its unit is stated as "cm"`, 65},
		{"ft.toml", `ft.toml: line 4, column 9: scan.units: "ft" is not known; write one of "mm", "cm", "m", "in"`, 65},
		{"mirror.toml", "mirror.toml: line 7: reference.mirror: ", 65},
		{"across.toml", `across.toml: line 12: seam "s": nominal_from of its gap: no seam lies within`, 65},
		{"reference.toml", "reference.toml: line 7: reference.file: " + dir + ": cannot be opened: it is a folder; name a .stl", 66},
		{"unit.toml", "units in [scan]", 65},
		{"none.toml", "there is no such file", 66},
		{"gone.toml", "gone.toml: line 2: scan.file: there is no file " + filepath.Join(dir, "gone.stl"), 66},
		{"scann.toml", `did you mean "scan.stl"?`, 66},
		{"scan.stl", "this is a mesh (.stl), not an inspection file", 65},
		{"", "it is a folder; name the inspection file in it\n", 66},
		{"folder.toml", "folder.toml: line 2: scan.file: " + dir + ": cannot be opened: it is a folder; name a .stl, .ply, .obj or .glb file", 66},
	} {
		out := filepath.Join(dir, "results")
		got := shutcheck("inspect", filepath.Join(dir, c.file), "--out", out)
		require.Equal(t, c.status, got.status, "%s: %s", c.file, got.errors)
		require.Contains(t, got.errors, c.says)
		require.NotRegexp(t, `(shutcheck|: )(app|inspection|meshio|evidence|align): `, got.errors)
		require.LessOrEqual(t, strings.Count(got.errors, "\n"), 2)
		require.Empty(t, got.out)
		require.NoDirExists(t, out)
	}
}

func TestVerdictsDecideTheStatus(t *testing.T) {
	for _, c := range []struct {
		surface string
		status  int
		says    string
	}{
		{"[surface]\n", 0, "Verdict: reported, not judged"},
		{"[surface]\nshare = 0.05\ntolerance = [-5, 5]\n", 0, "Verdict: conforms"},
		{"[surface]\nshare = 0.999\ntolerance = [-0.01, 0.01]\n", 4, "Verdict: undecided"},
		{"[surface]\nshare = 0.999\ntolerance = [-0.2, 0.2]\n", 3, "Verdict: does not conform"},
	} {
		c.surface += "views = []\n"
		c.surface = placed(t) + c.surface
		dir := job(t, jobHead+c.surface)
		args := []string{"inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r")}
		if c.status == 4 {
			// Noise beyond the tolerance: nothing can be told.
			text := strings.Replace(jobHead, "noise = 0.03", "noise = 3", 1) + c.surface
			require.NoError(t, os.WriteFile(filepath.Join(dir, "job.toml"), []byte(text), 0o600))
		}
		got := shutcheck(args...)
		require.Equal(t, c.status, got.status, got.errors)
		require.Contains(t, got.out, "\n"+c.says+"\n")
		if c.status == 4 {
			require.Contains(t, got.errors, "nothing can be accepted for the surface: U will be at least 6.000 mm (k = 2), larger than half the tolerance, 0.010 mm")
			continue
		}
		require.Empty(t, got.errors)
	}
}

func TestOutputFolderIsRefusedEarly(t *testing.T) {
	dir := job(t, jobHead+placed(t)+"[surface]\nviews = []\n")
	file := filepath.Join(dir, "job.toml")
	got := shutcheck("inspect", file, "--out", dir)
	require.Equal(t, 74, got.status)
	require.Contains(t, got.errors, "the folder holds other files")
	require.Equal(t, []string{"job.toml", "reference.stl", "scan.stl"}, files(t, dir))
	got = shutcheck("inspect", file, "--out", file)
	require.Equal(t, 74, got.status)
	require.Contains(t, got.errors, "is a file")

	out := filepath.Join(dir, "r")
	require.Zero(t, shutcheck("inspect", file, "--out", out).status)
	require.Zero(t, shutcheck("inspect", file, "--out", out).status, "the same inspection again")
	require.NoError(t, os.WriteFile(file, []byte(jobHead+placed(t)+"[surface]\nviews = []\nreach = 5\n"), 0o600))
	got = shutcheck("inspect", file, "--out", out)
	require.Equal(t, 74, got.status)
	require.Contains(t, got.errors, "--replace")
	require.Zero(t, shutcheck("--replace", "inspect", file, "--out", out).status)
}

func TestInterruptedLeavesNothing(t *testing.T) {
	dir := job(t, jobHead)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var errs strings.Builder
	status := runContext(ctx, []string{"inspect", filepath.Join(dir, "job.toml"), "--out", filepath.Join(dir, "r")}, nil, io.Discard, &errs)
	require.Equal(t, 130, status)
	require.Equal(t, "shutcheck: interrupted; nothing was written\n", errs.String())
	require.Equal(t, []string{"job.toml", "reference.stl", "scan.stl"}, files(t, dir))
}

// failing is a standard output that takes nothing.
type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func TestStandardOutputThatFails(t *testing.T) {
	var errs strings.Builder
	require.Equal(t, 0, runContext(context.Background(), []string{"--help"}, nil, failing{syscall.EPIPE}, &errs))
	require.Empty(t, errs.String())
	require.Equal(t, 74, runContext(context.Background(), []string{"--help"}, nil, failing{errors.New("no space")}, &errs))
	require.Contains(t, errs.String(), "no space")
}

// panicking is a standard output with a fault of our own in it.
type panicking struct{}

func (panicking) Write([]byte) (int, error) { panic("index out of range") }

func TestPanicBecomesOneClearMessage(t *testing.T) {
	var errs strings.Builder
	require.Equal(t, app.ExitFault, runContext(context.Background(), []string{"--help"}, nil, panicking{}, &errs))
	require.Contains(t, errs.String(), "a fault of the program itself: index out of range")
	require.Contains(t, errs.String(), "Please report this")
	require.Equal(t, 2, strings.Count(errs.String(), "\n"))
	require.NotContains(t, errs.String(), "goroutine")
}
