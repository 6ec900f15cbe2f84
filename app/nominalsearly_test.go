package app_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
)

// Paths that cannot be each other's nominals are refused before a mesh is read: there is none here, so that what is not refused
// ends in the scan that cannot be opened.
func TestUnlikePathsAreRefusedBeforeAnythingIsRead(t *testing.T) {
	const (
		a       = "[[seam]]\nname = \"a\"\npath = [[1000, -800, 0], [1000, -800, 300]]\n"
		missing = "none.stl"
	)
	from := func(name string) string { return "gap = { nominal_from = \"" + name + "\", tolerance = [-1, 1] }\n" }
	for _, c := range []struct{ name, file, says string }{
		{"another length", a + from("b") + "[[seam]]\nname = \"b\"\npath = [[0, 0, 0], [0, 0, 200]]\n", "neither this one's mirror picture nor as long (300 and 200 mm)"},
		{"no other side", a + from("other side") + "[[seam]]\nname = \"b\"\npath = [[500, 800, 0], [500, 800, 300]]\n", "no seam lies within 40 mm of this one mirrored"},
		{"the same gap", a + from("b") + "[[seam]]\nname = \"b\"\npath = [[1001, -800, 0], [1001, -800, 300]]\n", "lies in the same gap as this one"},
		{"the mirror picture, reversed", a + from("b") + "[[seam]]\nname = \"b\"\npath = [[1000, 800, 300], [1000, 800, 0]]\n", missing},
		{"the mirror picture, shorter by less than its stations", a + from("b") + "[[seam]]\nname = \"b\"\npath = [[1000, 800, 250], [1000, 800, 0]]\n", missing},
		{"as long elsewhere, which the panels tell", a + from("b") + "[[seam]]\nname = \"b\"\npath = [[0, 0, 0], [0, 0, 300]]\n", missing},
		{"traced, a little longer", a + "trace = true\n" + from("b") + "[[seam]]\nname = \"b\"\ntrace = true\npath = [[0, 0, 0], [0, 0, 500]]\n", missing},
		{"traced, far longer", a + "trace = true\n" + from("b") + "[[seam]]\nname = \"b\"\ntrace = true\npath = [[0, 0, 0], [0, 0, 900]]\n", "nor as long (300 and 900 mm)"},
	} {
		i, err := inspection.Decode([]byte("[scan]\nfile = \"none.stl\"\n"+c.file), "a.toml")
		require.NoError(t, err, c.name)
		_, err = app.LoadParts(context.Background(), i, app.Settings{}, nil)
		require.ErrorContains(t, err, c.says, c.name)
	}
}
