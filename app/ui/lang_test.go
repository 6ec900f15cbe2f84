package ui_test

import (
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the English texts")

// TestEnglishHoldsEveryText keeps assets/lang/en.json, the file translators start
// from, the same as the texts in the source, whatever their key.
func TestEnglishHoldsEveryText(t *testing.T) {
	texts := map[string]string{}
	for _, dir := range []string{".", "../words"} {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		require.NoError(t, err)
		for _, f := range files {
			if !strings.HasSuffix(f, "_test.go") {
				collect(t, f, texts)
			}
		}
	}
	for _, dir := range toldBy {
		files, err := filepath.Glob(filepath.Join("../..", dir, "*.go"))
		require.NoError(t, err)
		require.NotEmpty(t, files, dir)
		for _, f := range files {
			if !strings.HasSuffix(f, "_test.go") && !slices.Contains(notShown, strings.TrimPrefix(filepath.ToSlash(f), "../../")) {
				collectTold(t, f, texts)
			}
		}
	}
	require.Greater(t, len(texts), 100)
	path := "../../assets/lang/en.json"
	want, err := json.MarshalIndent(texts, "", "  ")
	require.NoError(t, err)
	want = append(want, '\n')
	if *update {
		require.NoError(t, os.WriteFile(path, want, 0o644))
	}
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got), "English texts were changed, the window's own or ones that reach it from below: run go test ./app/ui -run English -update, then change assets/lang/de.json alike")
}

// collect gathers key and text of every call of say, tr and trf in a file.
func collect(t *testing.T, file string, texts map[string]string) {
	set := token.NewFileSet()
	parsed, err := parser.ParseFile(set, file, nil, 0)
	require.NoError(t, err)
	ast.Inspect(parsed, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) < 2 {
			return true
		}
		name := ""
		switch f := call.Fun.(type) {
		case *ast.Ident:
			name = f.Name
		case *ast.SelectorExpr:
			name = f.Sel.Name
		}
		if name != "say" && name != "tr" && name != "trf" {
			return true
		}
		key, text := literal(t, set, call.Args[0]), literal(t, set, call.Args[1])
		if known, ok := texts[key]; ok {
			require.Equal(t, known, text, "two texts have the key %s", key)
		}
		texts[key] = text
		return true
	})
}

func literal(t *testing.T, set *token.FileSet, e ast.Expr) string {
	lit, ok := e.(*ast.BasicLit)
	require.True(t, ok, "%s: keys and texts must be written out, so that translators find them", set.Position(e.Pos()))
	s, err := strconv.Unquote(lit.Value)
	require.NoError(t, err)
	return s
}

// toldBy are the packages whose sentences reach the window: what a file, a key or a result is refused for, and notes on results.
var toldBy = []string{"mesh", "mesh/meshio", "mesh/surface", "deviation", "deviation/align", "deviation/gapflush", "deviation/length", "deviation/closure",
	"deviation/crosscut", "deviation/drift", "deviation/pieces", "deviation/scanplan", "deviation/worth", "app", "app/inspection", "app/bench"}

// notShown are files whose sentences only the headless command prints, and those that write meshes.
var notShown = []string{"mesh/meshio/writestl.go", "mesh/meshio/writeply.go", "app/join.go"}

// notSentences are texts that are written into files or compared with others.
var notSentences = []string{"PLY binary little-endian", "PLY binary big-endian", "\n# Comments that stood elsewhere in this file:\n",
	"not done", "does not conform"}

// packageNames are beginnings of errors with names of packages, which the window leaves out.
var packageNames = regexp.MustCompile(`^(app|inspection|meshio|evidence|demo|align|gapflush|deviation|surface|section|length|pieces): `)

var (
	verb     = regexp.MustCompile(`%[-+#0]*[0-9]*(\.[0-9*]+)?[a-zA-Z]`)
	twoWords = regexp.MustCompile(`[a-z]{2,} +(%\S+ +)*[a-zA-Z]{2,}`)
)

// collectTold gathers what is said in a file below the window: every text of two words or more, its verbs turned into fields.
func collectTold(t *testing.T, file string, texts map[string]string) {
	parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	require.NoError(t, err)
	ast.Inspect(parsed, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.CallExpr:
			if f, ok := x.Fun.(*ast.Ident); ok && f.Name == "panic" {
				return false
			}
		case ast.Expr:
			s, ok := constant(x)
			if !ok {
				return true
			}
			if twoWords.MatchString(s) && !slices.Contains(notSentences, s) {
				s = asSaying(packageNames.ReplaceAllString(s, ""))
				texts["told."+s] = s
			}
			return false
		}
		return true
	})
}

// constant returns a text that is written out, in one piece or several.
func constant(e ast.Expr) (string, bool) {
	switch x := e.(type) {
	case *ast.BasicLit:
		s, err := strconv.Unquote(x.Value)
		return s, err == nil && x.Kind == token.STRING
	case *ast.BinaryExpr:
		a, first := constant(x.X)
		b, second := constant(x.Y)
		return a + b, first && second && x.Op == token.ADD
	case *ast.ParenExpr:
		return constant(x.X)
	}
	return "", false
}

// asSaying turns the verbs of a format into fields A, B and so on.
func asSaying(format string) string {
	n := 0
	s := verb.ReplaceAllStringFunc(strings.ReplaceAll(format, "%%", "\x00"), func(string) string {
		n++
		return "{{." + string(rune('A'+n-1)) + "}}"
	})
	return strings.ReplaceAll(s, "\x00", "%")
}

// Every English text has a German one, with the same fields.
func TestGermanHoldsEveryText(t *testing.T) {
	read := func(name string) (texts map[string]string) {
		data, err := os.ReadFile("../../assets/lang/" + name + ".json")
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(data, &texts))
		return texts
	}
	english, german := read("en"), read("de")
	field := regexp.MustCompile(`{{\.(\w+)}}`)
	fields := func(s string) (list []string) {
		for _, m := range field.FindAllStringSubmatch(s, -1) {
			list = append(list, m[1])
		}
		slices.Sort(list)
		return slices.Compact(list)
	}
	same := 0
	for key, text := range english {
		require.NotEmpty(t, strings.TrimSpace(german[key]), "no German text: add %q with the German of %q to assets/lang/de.json; fields are {{.A}}, {{.B}} in any order", key, text)
		require.Equal(t, fields(text), fields(german[key]), "the fields of %s: %s", key, german[key])
		require.Equal(t, strings.Count(text, "#"), strings.Count(german[key], "#"), "the numbers of %s: %s", key, german[key])
		if text == german[key] && len(field.ReplaceAllString(text, "")) > 8 {
			same++
		}
	}
	for key := range german {
		require.Contains(t, english, key, "of a text that is gone or was changed: move it to the new key in assets/lang/de.json, or take it out")
	}
	require.Less(t, same, len(english)/50, "texts that are the same in both")
}
