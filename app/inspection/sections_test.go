package inspection_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
	"shutline/mesh/geom"
)

func TestSections(t *testing.T) {
	file := okScan + `[[section]]
name = "belt"
point = [1, 2, 3]
normal = [0, 0, 2]
within = 300
magnify = 20
radius = [ { name = "nose", at = [1, 2, 3], within = 6 }, { at = [4, 5, 6] } ]
angle = [ { name = "bend", between = [[1, 2, 3], [4, 5, 6]] } ]
[[section]]
axis = "x"
from = 100
to = 1000
every = 300
radius = [ { at = [150, 7, 8] } ]
angle = [ { between = [[150, 1, 2], [150, 3, 4]] } ]
`
	i, err := inspection.Decode([]byte(file), "a.toml")
	require.NoError(t, err)
	require.Len(t, i.Sections, 5, "one, and four along x")
	s := i.Sections[0]
	require.Equal(t, geom.Vec{Z: 2}, s.Normal)
	require.Equal(t, 6.0, s.Radii[0].Within)
	require.Equal(t, inspection.DefaultStretch, s.Radii[1].Within)
	require.Equal(t, geom.Vec{X: 4, Y: 5, Z: 6}, s.Angles[0].Between[1])
	require.Equal(t, "section 2 x 1000", i.Sections[4].Name)
	require.Equal(t, geom.Vec{X: 1000}, i.Sections[4].Point)
	require.Equal(t, geom.Vec{X: 1000, Y: 7, Z: 8}, i.Sections[4].Radii[0].At, "in each plane of a row")
	require.Equal(t, geom.Vec{X: 400, Y: 7, Z: 8}, i.Sections[2].Radii[0].At)
	require.Equal(t, [2]geom.Vec{{X: 700, Y: 1, Z: 2}, {X: 700, Y: 3, Z: 4}}, i.Sections[3].Angles[0].Between)

	written, err := i.Encode(".")
	require.NoError(t, err)
	again, err := inspection.Decode(written, "b.toml")
	require.NoError(t, err)
	require.Equal(t, i.Sections, again.Sections)
}

func TestBadSections(t *testing.T) {
	for _, c := range []struct{ name, file, says string }{
		{"no plane", "", "needs a plane"},
		{"no normal", "point = [0,0,0]\n", "normal is missing"},
		{"no direction", "point = [0,0,0]\nnormal = [0,0,0]\n", "must point somewhere"},
		{"half a row", "axis = \"x\"\nfrom = 1\n", "to is missing"},
		{"no axis", "axis = \"w\"\nfrom = 0\nto = 1\nevery = 1\n", "\"w\" is not known"},
		{"backwards", "axis = \"x\"\nfrom = 10\nto = 1\nevery = 1\n", "must not be under from"},
		{"no step", "axis = \"x\"\nfrom = 0\nto = 1\nevery = 0\n", "more than 0 mm"},
		{"endless", "axis = \"x\"\nfrom = 0\nto = 9000\nevery = 1\n", "more than 500 sections"},
		{"both", "axis = \"x\"\nnormal = [1,0,0]\nfrom = 0\nto = 1\nevery = 1\n", "leave normal or axis out"},
		{"a step without an axis", "point = [0,0,0]\nnormal = [1,0,0]\nevery = 5\n", "belongs to a row"},
		{"a radius nowhere", "point = [0,0,0]\nnormal = [1,0,0]\nradius = [ { name = \"a\" } ]\n", "at is missing"},
		{"a radius as a table", "point = [0,0,0]\nnormal = [1,0,0]\nradius = { at = [0,0,0] }\n", "must be a list, "},
		{"an angle of one", "point = [0,0,0]\nnormal = [1,0,0]\nangle = [ { between = [[0,0,0]] } ]\n", "write between ="},
		{"an angle with itself", "point = [0,0,0]\nnormal = [1,0,0]\nangle = [ { between = [[0,1,0],[0,1,0]] } ]\n", "names one place twice"},
		{"unknown", "point = [0,0,0]\nnormal = [1,0,0]\nmagnfy = 3\n", "magnify"},
		{"two of one name", "name = \"a\"\npoint = [0,0,0]\nnormal = [1,0,0]\n[[section]]\nname = \"a\"\npoint = [0,0,0]\nnormal = [1,0,0]\n", "also the name of section[0]"},
	} {
		_, err := inspection.Decode([]byte(okScan+"[[section]]\n"+c.file), "a.toml")
		require.ErrorContains(t, err, c.says, c.name)
	}
}
