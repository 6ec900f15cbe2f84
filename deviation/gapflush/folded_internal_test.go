package gapflush

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/geom"
)

// Of places along one gap only the order in which they lie there runs one way.
func TestWhichPointsOfAPathAreInTheWrongOrder(t *testing.T) {
	along := func(at ...float64) (path []geom.Vec) {
		for _, y := range at {
			path = append(path, geom.Vec{X: y * y / 4000, Y: y}) // a gap that is an arc of 2 m radius
		}
		return path
	}
	for name, c := range map[string]struct {
		path []geom.Vec
		pair [2]int
	}{
		"in order":            {along(0, 100, 200, 300), [2]int{}},
		"neighbours":          {along(0, 100, 300, 200, 400), [2]int{3, 4}},
		"the first two":       {along(100, 0, 200, 300), [2]int{1, 2}},
		"the last two":        {along(0, 100, 300, 200), [2]int{3, 4}},
		"of three":            {along(0, 200, 100), [2]int{2, 3}},
		"not neighbours":      {along(0, 300, 200, 100, 400), [2]int{2, 4}},
		"two pairs":           {along(0, 200, 100, 300, 500, 400, 600), [2]int{}},
		"there and back":      {along(0, 300, 0), [2]int{}},
		"reversed":            {along(300, 200, 100, 0), [2]int{}},
		"a corner, in order":  {append(along(0, 100, 200), geom.Vec{X: 100, Y: 210}, geom.Vec{X: 200, Y: 210}), [2]int{}},
		"a corner, exchanged": {append(along(0, 200, 100, 300), geom.Vec{X: 120, Y: 310}), [2]int{2, 3}},
	} {
		pair, err := misplaced(context.Background(), c.path)
		require.NoError(t, err)
		require.Equal(t, c.pair, pair, name)
	}
}
