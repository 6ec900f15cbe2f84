package chart_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/chart"
	"shutline/deviation/verdict"
)

func TestErrorsDrawSomethingForAnything(t *testing.T) {
	value := func(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }
	list := []chart.LengthError{
		{Name: "scale bar", Over: 1600, Error: value(0.21, 0.06), Allowed: 0.46, Verdict: verdict.Conforms},
		{Name: "closure 1, whose name is longer than what there is room for beside it", Over: 2400, Error: value(-0.9, 0.2)},
		{Name: "rim", Over: 90, Error: value(0.02, 0.05), Incidental: true},
	}
	empty := string(chart.Errors(600, 200, chart.Light(), 1, nil, false, 0, 0, 0, 2400).Pix)
	seen := map[string]bool{empty: true}
	for _, c := range []struct {
		list        []chart.LengthError
		line        bool
		a, perMetre float64
	}{{list, false, 0, 0}, {list, true, 0.05, 0.4}, {list[:1], true, 0.05, 40}, {nil, true, 0.05, 0.4}} {
		img := chart.Errors(600, 200, chart.Light(), 1, c.list, c.line, c.a, c.perMetre, 0, 2400)
		require.Equal(t, 600, img.Rect.Dx())
		require.False(t, seen[string(img.Pix)], "each says something else")
		seen[string(img.Pix)] = true
	}
	for _, size := range [][2]int{{0, 0}, {1, 1}, {30, 500}, {500, 20}} {
		require.NotNil(t, chart.Errors(size[0], size[1], chart.Dark(), 2, list, true, 0.1, 0.1, 60, 100))
	}
}
