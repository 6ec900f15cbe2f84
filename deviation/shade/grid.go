package shade

import (
	"math"

	"shutline/mesh/geom"
)

// grid is what a model's positions are rounded to: whole steps from its zero. The
// same point has the same place in every cluster, and places are carried into the
// picture in whole numbers, so that neighbours leave no crack between them.
type grid struct {
	zero    geom.Vec
	step    float64 // mm, a power of two
	inverse float64 // steps in a mm, exact
}

const (
	// clusterReach is how many steps a cluster may span along an axis.
	clusterReach = 1<<16 - 1
	// gridReach is how many steps the box may span: more would be finer than
	// any picture shows (4 m in steps of a quarter of a micrometre), and products would no longer fit.
	gridReach = 1 << 24
	// wideShare is the share of the triangles, one in so many, that may be too
	// large for a cluster: they are kept and drawn one by one, so that few of them do not coarsen all others.
	wideShare = 64
)

// newGrid returns the finest grid on which clusters of the given spans, mm, as sorted, fit.
func newGrid(box geom.Box, spans []float64) grid {
	size := box.Size()
	least := min(max(size.X, size.Y, size.Z), math.MaxFloat64/4) / (gridReach - 1)
	if len(spans) > 0 {
		least = max(least, spans[len(spans)-1-len(spans)/wideShare]/(clusterReach-1))
	}
	g := grid{zero: box.Lo, step: 1}
	if least > 0 {
		_, e := math.Frexp(least)
		g.step = math.Ldexp(1, e)
	}
	g.inverse = 1 / g.step
	return g
}

// place returns a point's place on the grid.
func (g *grid) place(p geom.Vec) [3]int32 {
	return [3]int32{g.steps(p.X - g.zero.X), g.steps(p.Y - g.zero.Y), g.steps(p.Z - g.zero.Z)}
}

// steps rounds a length to steps.
func (g *grid) steps(mm float64) int32 {
	s := float64(mm*g.inverse) + 0.5
	switch {
	case s >= gridReach:
		return gridReach
	case s > 0:
		return int32(s)
	}
	return 0
}
