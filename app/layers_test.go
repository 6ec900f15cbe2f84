package app_test

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// layers lists every package of the project from the bottom up. A package may
// import only packages that stand on an earlier line.
var layers = [][]string{
	{"mesh/geom", "mesh/parallel", "mesh/pages", "assets"},
	{"mesh"},
	{"mesh/order"},
	{"mesh/morton"},
	{"mesh/bvh", "mesh/meshio", "mesh/bodywork"},
	{"mesh/surface", "mesh/section", "mesh/lod", "mesh/quality", "mesh/scanpath"},
	{"deviation/verdict"},
	{"deviation", "deviation/align", "deviation/gapflush", "deviation/length", "deviation/scanplan", "deviation/worth", "deviation/seampath", "deviation/seamfind"},
	{"deviation/closure", "deviation/crosscut", "deviation/drift", "deviation/pieces"},
	{"deviation/shade"},
	{"deviation/chart"},
	{"deviation/evidence"},
	{"app/inspection"},
	{"app"},
	{"app/demo", "app/words", "app/bench"},
	{"app/ui", "cmd/shutline/tongue"},
	{"cmd/shutline", "cmd/shutcheck", "cmd/goals", "cmd/peers", "cmd/frames"},
}

func TestArrowsPointDown(t *testing.T) {
	height := map[string]int{}
	for h, line := range layers {
		for _, p := range line {
			height["shutline/"+p] = h
		}
	}
	for pkg, imports := range listImports(t) {
		h, known := height[pkg]
		require.True(t, known, "package %s stands in no layer: add it to the table in app/layers_test.go and DEVELOPERS.md", pkg)
		for _, imported := range imports {
			if strings.HasPrefix(imported, "shutline/") {
				require.Less(t, height[imported], h, "%s imports %s, which does not stand below it", pkg, imported)
			}
		}
	}
}

func TestToolkitStaysInTheWindow(t *testing.T) {
	for pkg, imports := range listImports(t) {
		for _, imported := range imports {
			if !strings.HasPrefix(imported, "fyne.io/") {
				continue
			}
			require.Contains(t, []string{"shutline/app/ui", "shutline/cmd/shutline"}, pkg, "%s imports the toolkit (%s)", pkg, imported)
			if imported == "fyne.io/fyne/v2/app" {
				require.Equal(t, "shutline/cmd/shutline", pkg, "only the command may import %s", imported)
			}
		}
	}
}

// listImports returns the direct imports of every package of the module, test files aside.
// -e: without a C compiler the window cannot be built, and is listed all the same.
func listImports(t *testing.T) map[string][]string {
	t.Helper()
	out, err := exec.Command("go", "list", "-e", "-tags", "migrated_fynedo", "-f", "{{.ImportPath}} {{join .Imports \" \"}}",
		"shutline/app/...", "shutline/assets/...", "shutline/cmd/...", "shutline/deviation/...", "shutline/mesh/...").Output()
	require.NoError(t, err)
	packages := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		fields := strings.Fields(line)
		packages[fields[0]] = fields[1:]
	}
	require.NotEmpty(t, packages)
	return packages
}
