package bodywork

import (
	"context"
	"math"
	"sort"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// rowGrowth is how much rows part per mm of distance from the character line.
const rowGrowth = 0.3

// rowStep returns the distance between rows at u mm above the character line,
// so that a chord misses the line's arc by at most g.chord.
func (g grid) rowStep(step, u float64) float64 {
	if g.chord == 0 {
		return step
	}
	q := float64(u*u) + creaseCore*creaseCore
	curvature := creaseSlope * creaseCore * creaseCore / (q * math.Sqrt(q))
	// Growing slowly away from the line keeps a long chord from leaping over it,
	// and triangles between columns whose rows do not match from cutting it.
	finest := math.Sqrt(8 * g.chord * creaseCore / creaseSlope)
	return min(step, math.Sqrt(8*g.chord/curvature), finest+float64(rowGrowth*math.Abs(u)))
}

// fillRows places the rows of a column; crease is the height of the character line there.
func (c *column) fillRows(g grid, crease float64) {
	if g.chord == 0 {
		n := max(1, int(math.Round((c.hi-c.lo)/c.step)))
		c.rows = make([]float64, n+1)
		for i := range c.rows {
			c.rows[i] = c.lo + (c.hi-c.lo)*float64(i)/float64(n)
		}
		return
	}
	// Rows start at the character line, so that those of neighbouring columns match there.
	down := g.walk(c.step, crease-c.lo)
	up := g.walk(c.step, c.hi-crease)
	rows := make([]float64, 0, len(down)+len(up)+1)
	rows = append(rows, c.lo)
	for i := len(down) - 2; i >= 0; i-- {
		rows = append(rows, crease-down[i])
	}
	rows = append(rows, crease)
	for _, d := range up[:len(up)-1] {
		rows = append(rows, crease+d)
	}
	c.rows = append(rows, c.hi)
}

// walk returns the distances of rows from the character line out to reach; the last is reach.
func (g grid) walk(step, reach float64) []float64 {
	var d []float64
	at := 0.0
	for {
		half := at + float64(g.rowStep(step, at)/2)
		s := g.rowStep(step, half)
		if at+float64(1.5*s) >= reach {
			return append(d, reach)
		}
		at += s
		d = append(d, at)
	}
}

// tessellation is a list of samples by panel, being built.
type tessellation struct {
	side    *side
	grid    grid
	columns [panelCount][]column
	count   int
}

// layOut makes the columns and rows of all panels.
func (v *side) layOut(g grid) *tessellation {
	t := &tessellation{side: v, grid: g}
	for p := range panelCount {
		t.columns[p] = v.columns(p, g)
		for i := range t.columns[p] {
			c := &t.columns[p][i]
			x := 0.0
			if c.part == Face {
				x = v.faceX(c, c.u, creaseZ)
			} else {
				x = v.edges[c.edge].shoulderX(creaseZ)
			}
			c.fillRows(g, creaseHeight(x))
			c.first = t.count
			t.count += len(c.rows)
		}
	}
	return t
}

// triangles predicts how many triangles layOut's columns will be stitched to.
func (v *side) triangles(g grid) float64 {
	walks := map[float64][]float64{} // by row step, long enough for any column
	rows := func(c *column) float64 {
		if g.chord == 0 {
			return math.Round((c.hi - c.lo) / c.step)
		}
		d := walks[c.step]
		if d == nil {
			d = g.walk(c.step, vanTop)
			walks[c.step] = d
		}
		steps := func(reach float64) float64 {
			return float64(1 + sort.SearchFloat64s(d, reach-float64(c.step/2)))
		}
		return steps(creaseZ-c.lo) + steps(c.hi-creaseZ)
	}
	total := 0.0
	for p := range panelCount {
		last := 0.0
		cols := v.columns(p, g)
		for i := range cols {
			n := rows(&cols[i])
			if i > 0 {
				total += n + last
			}
			last = n
		}
	}
	return total
}

// fit returns the grid of the family that gives the wanted number of triangles;
// grids get coarser with the parameter.
func (v *side) fit(wanted float64, family func(far float64) grid) grid {
	lo, hi := 0.2, 200.0
	for range 28 {
		mid := math.Sqrt(lo * hi)
		if v.triangles(family(mid)) > wanted {
			lo = mid
		} else {
			hi = mid
		}
	}
	return family(hi)
}

// stitch appends the strip of triangles between two columns; left lies nearer
// the front, and the triangles look outward (-Y).
func stitch(faces [][3]uint32, left, right []float64, l, r uint32) [][3]uint32 {
	i, j := 0, 0
	for i+1 < len(left) || j+1 < len(right) {
		li, rj := l+uint32(i), r+uint32(j)
		if j+1 >= len(right) || (i+1 < len(left) && left[i]+left[i+1] < right[j]+right[j+1]) {
			faces = append(faces, [3]uint32{li, rj, li + 1})
			i++
		} else {
			faces = append(faces, [3]uint32{li, rj, rj + 1})
			j++
		}
	}
	return faces
}

// columnsPerChunk keeps pieces of work small enough to stop within some 50 ms.
const columnsPerChunk = 1

// vertices calls sample for every sample of every column.
func (t *tessellation) vertices(ctx context.Context, threads int, progress mesh.Progress, sample func(c *column, index, row int)) error {
	var all []*column
	for p := range panelCount {
		for i := range t.columns[p] {
			all = append(all, &t.columns[p][i])
		}
	}
	return parallel.Chunks(ctx, len(all), columnsPerChunk, threads, progress, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			for row := range all[i].rows {
				sample(all[i], all[i].first+row, row)
			}
		}
	})
}

// faces stitches all panels.
func (t *tessellation) faces() [][3]uint32 {
	faces := make([][3]uint32, 0, 2*t.count)
	for p := range panelCount {
		cols := t.columns[p]
		for i := 1; i < len(cols); i++ {
			faces = stitch(faces, cols[i-1].rows, cols[i].rows, uint32(cols[i-1].first), uint32(cols[i].first))
		}
	}
	return faces
}

// asFloat32 returns the coordinates as a file of single precision holds them.
func asFloat32(p geom.Vec) geom.Vec {
	return geom.Vec{X: float64(float32(p.X)), Y: float64(float32(p.Y)), Z: float64(float32(p.Z))}
}

// compact drops faces with an unseen corner and numbers the vertices that are
// left in order of first appearance, as a reader that joins equal corners does.
func compact(vertices []geom.Vec, origins []Origin, unseen []bool, faces [][3]uint32) ([]geom.Vec, []Origin, [][3]uint32) {
	const none = math.MaxUint32
	renamed := make([]uint32, len(vertices))
	for i := range renamed {
		renamed[i] = none
	}
	kept, order := faces[:0], make([]uint32, 0, len(vertices))
	for _, f := range faces {
		if unseen != nil && (unseen[f[0]] || unseen[f[1]] || unseen[f[2]]) {
			continue
		}
		for k, v := range f {
			if renamed[v] == none {
				renamed[v] = uint32(len(order))
				order = append(order, v)
			}
			f[k] = renamed[v]
		}
		kept = append(kept, f)
	}
	outV, outO := make([]geom.Vec, len(order)), make([]Origin, len(order))
	for i, v := range order {
		outV[i], outO[i] = vertices[v], origins[v]
	}
	return outV, outO, kept
}
