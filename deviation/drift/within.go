package drift

import (
	"math"

	"shutline/mesh/geom"
)

// A cell's mean tells nothing of how the normals turn inside of it: over a crease or a swage, which hold what moves along a skin, they turn
// within some millimetres. That is told by what the parts of a cell differ by.

const (
	// partsAcross is how many parts a cell has along a side.
	partsAcross = 4
	// leastParts of a cell tell more than the plane that is taken out of them.
	leastParts = 6
)

// within is what the parts of the cells tell beside the cells' means: least squares of what is left of each cell's parts beside a plane.
// What a panel's own shape adds is as good as plane over a cell, and what hangs together over more than that is told by the means.
type within struct {
	a        square // lower triangle, each part by the number of its samples
	b        row
	variance float64 // mm², of a sample as the parts scatter, what neighbours in a part share counted; 0: too few parts tell
	free     int
}

type partKey struct {
	cell    cellKey
	x, y, z int32
}

type part struct {
	j    row
	d    float64
	area float64
	n    float64
	at   geom.Vec
}

// withinOf gathers what the parts of the cells that are not out tell; keep as for cellsOf.
func withinOf(list []sample, cells []cell, f *Frame, h float64, keep func(s *sample) bool) (out within) {
	at := map[cellKey]int{}
	for i := range cells {
		if !cells[i].out {
			at[cells[i].key] = i
		}
	}
	index := map[partKey]int{}
	parts := make([][]part, len(cells))
	side := h / partsAcross
	for i := range list {
		s := &list[i]
		if !s.ok || keep != nil && !keep(s) {
			continue
		}
		key := partKey{cell: keyOf(s, h)}
		c, in := at[key.cell]
		if !in {
			continue
		}
		key.x, key.y, key.z = int32(math.Floor(s.q.X/side)), int32(math.Floor(s.q.Y/side)), int32(math.Floor(s.q.Z/side))
		k, known := index[key]
		if !known {
			k = len(parts[c])
			index[key] = k
			parts[c] = append(parts[c], part{})
		}
		p := &parts[c][k]
		j := f.rowAt(s.q, s.n)
		for m := range columns {
			p.j[m] += float64(s.area * j[m])
		}
		p.d += float64(s.area * s.d)
		p.at = p.at.AddScaled(s.area, s.q)
		p.area += s.area
		p.n++
	}
	squares := 0.0
	for c := range cells {
		if len(parts[c]) < leastParts {
			continue
		}
		squares += out.add(parts[c], &cells[c])
	}
	if out.free < leastCells {
		return within{}
	}
	out.variance = squares / float64(out.free)
	return out
}

// add takes a plane out of the parts of a cell and adds what is left. It returns the weighted sum of squares of the deviations left.
func (w *within) add(parts []part, c *cell) (squares float64) {
	u, v := 0, 1
	switch c.key.side % 3 {
	case 0:
		u, v = 1, 2
	case 1:
		u, v = 0, 2
	}
	type full = [columns + 1]float64
	rows := make([]full, len(parts))
	plane := make([][3]float64, len(parts))
	reach := 0.0
	for i := range parts {
		p := &parts[i]
		for m := range columns {
			rows[i][m] = p.j[m] / p.area
		}
		rows[i][columns] = p.d / p.area
		q := p.at.Scale(1 / p.area).Sub(c.at)
		plane[i] = [3]float64{1, q.At(u), q.At(v)}
		reach = max(reach, math.Abs(q.At(u)), math.Abs(q.At(v)))
	}
	// One column of the plane after the other, made square to those before (Gram and Schmidt).
	used := 0
	for k := range 3 {
		for b := range k {
			dot, own := 0.0, 0.0
			for i := range parts {
				dot += float64(parts[i].n * float64(plane[i][k]*plane[i][b]))
				own += float64(parts[i].n * float64(plane[i][b]*plane[i][b]))
			}
			if own > 0 {
				for i := range parts {
					plane[i][k] -= float64(dot / own * plane[i][b])
				}
			}
		}
		own, total := 0.0, 0.0
		for i := range parts {
			own += float64(parts[i].n * float64(plane[i][k]*plane[i][k]))
			total += parts[i].n
		}
		if k > 0 && own < 1e-4*float64(total*float64(reach*reach)) {
			for i := range parts {
				plane[i][k] = 0
			}
			continue
		}
		used++
		for m := range columns + 1 {
			dot := 0.0
			for i := range parts {
				dot += float64(parts[i].n * float64(plane[i][k]*rows[i][m]))
			}
			dot /= own
			for i := range parts {
				rows[i][m] -= float64(dot * plane[i][k])
			}
		}
	}
	for i := range parts {
		j := row(rows[i][:columns])
		d := rows[i][columns]
		addOuter(&w.a, parts[i].n, &j)
		for m := range columns {
			w.b[m] += float64(parts[i].n * float64(d*j[m]))
		}
		squares += float64(parts[i].n * float64(d*d))
	}
	w.free += len(parts) - used
	return squares
}
