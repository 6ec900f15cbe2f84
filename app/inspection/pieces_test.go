package inspection

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

const inPieces = `
[[piece]]
file = "front.stl"
units = "mm"

[[piece]]
file = "sub/left.ply"

[[marker]]
name = "T1"
uncertainty = 0.3
at = [ { piece = "front.stl", point = [1, 2, 3] }, { piece = "left.ply", point = [4, 5, 6] }, { piece = "reference", point = [7, 8, 9] } ]

[reference]
file = "whole.stl"
`

// Pieces and markers are read, and written so that they read the same again.
func TestPiecesAreRead(t *testing.T) {
	i, err := Decode([]byte(inPieces), filepath.Join("job", "inspection.toml"))
	require.NoError(t, err)
	require.Equal(t, []PieceFile{{File: filepath.Join("job", "front.stl"), Units: "mm"}, {File: filepath.Join("job", "sub", "left.ply")}}, i.Pieces)
	require.Equal(t, []Marker{{Name: "T1", U: 0.3, At: []MarkerAt{{0, geom.Vec{X: 1, Y: 2, Z: 3}}, {1, geom.Vec{X: 4, Y: 5, Z: 6}}, {2, geom.Vec{X: 7, Y: 8, Z: 9}}}}}, i.Markers)
	require.Equal(t, i.Pieces[0].File, i.Scan.File)
	out, err := i.Encode("job")
	require.NoError(t, err)
	again, err := Decode(out, filepath.Join("job", "inspection.toml"))
	require.NoError(t, err)
	require.Equal(t, i.Pieces, again.Pieces)
	require.Equal(t, i.Markers, again.Markers)
	require.Equal(t, i.Scan, again.Scan)
}

// What does not fit pieces is refused with its line.
func TestBadPieces(t *testing.T) {
	two := "[[piece]]\nfile = \"a.stl\"\n[[piece]]\nfile = \"b.stl\"\n"
	for _, bad := range []struct{ name, text, says string }{
		{"one", "[[piece]]\nfile = \"a.stl\"\n", "1 given; write two [[piece]] or more"},
		{"twice", two + "[[piece]]\nfile = \"c/a.stl\"\n", "is also the file of piece 1"},
		{"beside a scan", two + "[scan]\nfile = \"c.stl\"\n", "leave it out, or take the pieces out"},
		{"markers alone", "[scan]\nfile = \"a.stl\"\n[[marker]]\nat = []\n", "markers tie pieces together"},
		{"lonely marker", two + "[[marker]]\nat = [ { piece = \"a.stl\", point = [1, 2, 3] } ]\n", "two pieces or more"},
		{"unknown piece", two + "[[marker]]\nat = [ { piece = \"a.stl\", point = [1, 2, 3] }, { piece = \"c.stl\", point = [1, 2, 3] } ]\n", `"c.stl" is none of the pieces`},
		{"no reference", two + "[[marker]]\nat = [ { piece = \"a.stl\", point = [1, 2, 3] }, { piece = \"reference\", point = [1, 2, 3] } ]\n", "there is no [reference]"},
		{"no place", two + "[[marker]]\nat = [ { piece = \"a.stl\", point = [1, 2, 3] }, { piece = \"b.stl\" } ]\n", "point is missing"},
	} {
		_, err := Decode([]byte(bad.text), "inspection.toml")
		require.Error(t, err, bad.name)
		require.ErrorContains(t, err, bad.says, bad.name)
	}
}
