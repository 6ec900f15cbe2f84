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
	require.Equal(t, string(want), string(got), "run go test ./app/ui -run English -update")
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
		require.NotEmpty(t, strings.TrimSpace(german[key]), "%s has no German text: %s", key, text)
		require.Equal(t, fields(text), fields(german[key]), "the fields of %s: %s", key, german[key])
		require.Equal(t, strings.Count(text, "#"), strings.Count(german[key], "#"), "the numbers of %s: %s", key, german[key])
		if text == german[key] && len(field.ReplaceAllString(text, "")) > 8 {
			same++
		}
	}
	for key := range german {
		require.Contains(t, english, key, "of a text that is gone")
	}
	require.Less(t, same, len(english)/50, "texts that are the same in both")
}
