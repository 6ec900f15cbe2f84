package gapflush

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every part of an uncertainty that a table or picture may name has a line in the README, for side A where it has one for each, and the
// README names no others.
func TestTheReadmeSaysWhatEveryPartOfUIs(t *testing.T) {
	names := map[string]bool{}
	add := func(e ast.Expr) {
		side := false
		if sum, ok := e.(*ast.BinaryExpr); ok {
			e, side = sum.X, true
		}
		if lit, ok := e.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			name, err := strconv.Unquote(lit.Value)
			require.NoError(t, err)
			if side || strings.HasSuffix(name, " ") {
				name += "A"
			}
			names[name] = true
		}
	}
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		require.NoError(t, err)
		ast.Inspect(parsed, func(n ast.Node) bool {
			switch x := n.(type) {
			case *ast.CallExpr:
				if f, ok := x.Fun.(*ast.Ident); ok && f.Name == "ofSides" {
					add(x.Args[0])
				}
			case *ast.CompositeLit:
				kind, elements := x.Type, x.Elts
				if list, ok := kind.(*ast.ArrayType); ok {
					if of, ok := list.Elt.(*ast.Ident); ok && of.Name == "BudgetLine" {
						for _, e := range elements {
							if one, ok := e.(*ast.CompositeLit); ok && len(one.Elts) > 0 {
								add(one.Elts[0])
							}
						}
					}
				}
				if of, ok := kind.(*ast.Ident); ok && of.Name == "BudgetLine" && len(elements) > 0 {
					add(elements[0])
				}
			}
			return true
		})
	}
	require.Greater(t, len(names), 10)
	readme, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	_, table, ok := strings.Cut(string(readme), "| part | what is not known |\n| --- | --- |\n")
	require.True(t, ok)
	table, _, _ = strings.Cut(table, "\n\n")
	said := map[string]bool{}
	for _, row := range strings.Split(table, "\n") {
		said[strings.Split(row, "`")[1]] = true
	}
	require.Equal(t, names, said)
}
