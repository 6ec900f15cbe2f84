package app_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What an inspection finds, writes and draws must not depend on the processor.
// Left out are what only the window shows and what measures the project itself.
var processorFree = []string{"shutline/mesh/...", "shutline/deviation/...", "shutline/app/...", "shutline/cmd/shutcheck"}

// onScreen is all that processorFree names too much.
const onScreen = "shutline/app/ui"

// mayFuse lists files whose products may be fused into sums, and why.
var mayFuse = map[string]string{
	"mesh/bvh/kernels.go": "float32 bounds: they decide what is looked at in float64, never what is found",
}

// exactMath lists the functions of package math that give the same bits on every
// processor: IEEE 754 rounds the square root exactly, the others take numbers apart,
// compare them or round them to whole ones. For angles and powers there is mesh/geom.
var exactMath = strings.Fields(`Abs Ceil Copysign Float32bits Float32frombits Float64bits Float64frombits Floor Frexp Inf
	IsInf IsNaN Ldexp Max Min Mod Modf NaN Nextafter Nextafter32 Pow10 Remainder Round RoundToEven Signbit Sqrt Trunc
	Pi Sqrt2 Ln2 Ln10 MaxFloat32 MaxFloat64 SmallestNonzeroFloat32 SmallestNonzeroFloat64
	MaxInt MaxInt8 MaxInt16 MaxInt32 MaxInt64 MaxUint8 MaxUint16 MaxUint32 MaxUint64 MinInt MinInt8 MinInt16 MinInt32 MinInt64`)

// TestNothingIsFused compiles for a processor that multiplies and adds in one rounding,
// where the compiler may do so: in every sum with a product that is not written
// float64(a*b), in whatever function it was inlined into.
func TestNothingIsFused(t *testing.T) {
	root := moduleRoot(t)
	arguments := append([]string{"build", "-trimpath=false", "-gcflags=shutline/...=-S"}, slices.Sorted(maps.Keys(packagesFreeOfProcessors(t)))...)
	build := exec.Command("go", arguments...)
	build.Env = append(os.Environ(), "GOOS=linux", "GOARCH=arm64", "CGO_ENABLED=0")
	build.Dir = root
	listing, err := build.CombinedOutput()
	require.NoError(t, err, "%.2000s", listing)

	fused, functions := fusedSites(string(listing), root)
	require.Greater(t, functions, 3000, "the compiler listed too few functions for the whole project")
	for file, why := range mayFuse {
		require.True(t, slices.ContainsFunc(slices.Collect(maps.Keys(fused)), func(at string) bool { return strings.HasPrefix(at, file+":") }),
			"%s (%s) fuses nothing any more: take it off the list", file, why)
	}
	var faults []string
	for at, function := range fused {
		file, _, _ := strings.Cut(at, ":")
		if mayFuse[file] == "" {
			faults = append(faults, fmt.Sprintf("%s in %s", at, function))
		}
	}
	slices.Sort(faults)
	require.Empty(t, faults, "products fused into sums round differently on other processors: write them float64(a*b), "+
		"a division by a power of two too (%d places)", len(faults))
}

// instruction matches a line of the compiler's listing whose instruction rounds a product and a sum together.
var instruction = regexp.MustCompile(`\(([^()]+\.go:\d+)\)\s+FN?M(?:ADD|SUB)[DS]\s`)

// fusedSites returns the functions that fuse, by file and line, and how many functions were listed.
func fusedSites(listing, root string) (fused map[string]string, functions int) {
	fused = map[string]string{}
	function := ""
	for line := range strings.Lines(listing) {
		if name, _, ok := strings.Cut(line, " STEXT "); ok {
			function = name
			functions++
		} else if m := instruction.FindStringSubmatch(line); m != nil {
			fused[strings.TrimPrefix(m[1], root+"/")] = function
		}
	}
	return fused, functions
}

func TestFusedSitesAreSeen(t *testing.T) {
	// As the compiler of Go 1.26 lists them.
	listing := "shutline/deviation/align.newGrid STEXT size=1392 args=0x50 locals=0x118 funcid=0x0 align=0x0\n" +
		"\t0x0078 00120 (/src/mesh/geom/vec.go:12)\tFMSUBD\tF8, F1, F6, F1\n" +
		"\t0x007c 00124 (/src/mesh/geom/vec.go:13)\tFMULD\tF8, F1, F6\n" +
		"\t0x0080 00128 (/src/mesh/bvh/kernels.go:25)\tFNMADDS\tF8, F1, F6, F1\n"
	fused, functions := fusedSites(listing, "/src")
	require.Equal(t, 1, functions)
	require.Equal(t, map[string]string{
		"mesh/geom/vec.go:12":    "shutline/deviation/align.newGrid",
		"mesh/bvh/kernels.go:25": "shutline/deviation/align.newGrid",
	}, fused)
}

func TestMathIsTheSameEverywhere(t *testing.T) {
	root := moduleRoot(t)
	var faults []string
	files := 0
	for _, dir := range packagesFreeOfProcessors(t) {
		paths, err := filepath.Glob(filepath.Join(dir, "*.go"))
		require.NoError(t, err)
		for _, path := range paths {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			files++
			for _, fault := range inexactMath(t, path) {
				faults = append(faults, strings.TrimPrefix(fault, root+"/"))
			}
		}
	}
	require.Greater(t, files, 100)
	require.Empty(t, faults, "these differ in their last bits between processors: take Sincos, Tan, Atan, Atan2 or Pow of mesh/geom")
}

// inexactMath names what a file uses of package math beside exactMath.
func inexactMath(t *testing.T, path string) (faults []string) {
	t.Helper()
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
	require.NoError(t, err)
	name := ""
	for _, spec := range file.Imports {
		switch p, _ := strconv.Unquote(spec.Path.Value); {
		case p == "math/cmplx":
			faults = append(faults, fmt.Sprintf("%s: math/cmplx", set.Position(spec.Pos())))
		case p == "math" && spec.Name != nil:
			name = spec.Name.Name
			require.NotContains(t, []string{".", "_"}, name, "%s imports math without a name", path)
		case p == "math":
			name = "math"
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := s.X.(*ast.Ident); ok && name != "" && x.Name == name && !slices.Contains(exactMath, s.Sel.Name) {
				faults = append(faults, fmt.Sprintf("%s: math.%s", set.Position(s.Pos()), s.Sel.Name))
			}
		}
		return true
	})
	return faults
}

// packagesFreeOfProcessors returns the folders of the packages, by import path.
func packagesFreeOfProcessors(t *testing.T) map[string]string {
	t.Helper()
	out, err := exec.Command("go", append([]string{"list", "-e", "-f", "{{.ImportPath}}\t{{.Dir}}"}, processorFree...)...).Output()
	require.NoError(t, err)
	folders := map[string]string{}
	for line := range strings.Lines(string(out)) {
		path, dir, _ := strings.Cut(strings.TrimSpace(line), "\t")
		if path != onScreen && !strings.HasPrefix(path, onScreen+"/") {
			folders[path] = dir
		}
	}
	require.NotEmpty(t, folders)
	return folders
}

func moduleRoot(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}").Output()
	require.NoError(t, err)
	return strings.TrimSpace(string(out))
}
