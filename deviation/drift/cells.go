package drift

import (
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	// wantedCells and mostCells: enough to see a panel's own shape beside the drift's, few
	// enough for the covariances of all of them. 400 cells of a van's side are 80 mm wide.
	wantedCells = 350
	mostCells   = 450
	leastCells  = 3 * columns
)

// cell is the mean of the samples of a place that face alike.
type cell struct {
	j    row
	d    float64  // mm
	area float64  // mm²
	at   geom.Vec // local
	n    int      // samples
	// noise, mm², is the variance of d as the scatter of samples about the means of their cells tells it.
	noise float64
	own   float64 // variance of d by how its spots share their noise, in units of a sample's
	key   cellKey
	out   bool // set aside: it does not follow the rest
}

// leastKept is the share of a cell's area that must follow for the cell to count.
const leastKept = 0.6

// cellKey is a cube of the grid and the side that the samples in it face.
type cellKey struct {
	x, y, z int32
	side    int8
	piece   uint32
}

func keyOf(s *sample, h float64) cellKey {
	q, n := s.q, s.n
	side, most := int8(0), math.Abs(n.X)
	if a := math.Abs(n.Y); a > most {
		side, most = 1, a
	}
	if math.Abs(n.Z) > most {
		side = 2
	}
	if n.At(int(side)) < 0 {
		side += 3
	}
	return cellKey{int32(math.Floor(q.X / h)), int32(math.Floor(q.Y / h)), int32(math.Floor(q.Z / h)), side, s.piece}
}

// cellSize returns the side of the cells, mm. A scan in more pieces than cells may be is in crumbs: they are taken for one piece,
// since its panels cannot be told apart.
func cellSize(list []sample) float64 {
	total, box := 0.0, geom.EmptyBox()
	for i := range list {
		if list[i].ok {
			total += list[i].area
			box = box.Extend(list[i].q)
		}
	}
	h := math.Sqrt(total / wantedCells)
	for {
		seen := map[cellKey]bool{}
		for i := range list {
			if list[i].ok {
				seen[keyOf(&list[i], h)] = true
			}
		}
		if len(seen) <= mostCells || h == 0 {
			return h
		}
		if h > box.Diagonal() {
			for i := range list {
				list[i].piece = 0
			}
			h = math.Sqrt(total / wantedCells)
		}
		h *= 1.15
	}
}

// cellsOf gathers the samples, in the order of first appearance; of those for which keep
// does not hold only the place counts. A cell that keeps too few of its samples is out.
func cellsOf(list []sample, f *Frame, h, spread float64, keep func(s *sample) bool) []cell {
	index := map[cellKey]int{}
	var out []cell
	var whole []float64
	for i := range list {
		s := &list[i]
		if !s.ok {
			continue
		}
		key := keyOf(s, h)
		k, known := index[key]
		if !known {
			k = len(out)
			index[key] = k
			out, whole = append(out, cell{key: key}), append(whole, 0)
		}
		c := &out[k]
		c.at = c.at.AddScaled(s.area, s.q)
		whole[k] += s.area
		if keep != nil && !keep(s) {
			continue
		}
		j := f.rowAt(s.q, s.n)
		for m := range columns {
			c.j[m] += float64(s.area * j[m])
		}
		c.d += float64(s.area * s.d)
		c.area += s.area
		c.n++
	}
	for k := range out {
		c := &out[k]
		c.at = c.at.Scale(1 / whole[k])
		c.out = c.area < leastKept*whole[k]
		if c.out {
			c.area = whole[k]
			continue
		}
		for m := range columns {
			c.j[m] /= c.area
		}
		c.d /= c.area
		c.noise = float64(spread*spread) / float64(c.n)
	}
	return out
}

// following returns the cells that are not out.
func following(cells []cell) []cell {
	var in []cell
	for i := range cells {
		if !cells[i].out {
			in = append(in, cells[i])
		}
	}
	return in
}

// normalMedian is the median of |x| for a standard normal x.
const normalMedian = 0.6744897501960817

// spreadOf returns the standard deviation of single samples about the mean of their
// cell, mm, by the median (Hampel 1974): noise, and what is smaller than a cell.
func spreadOf(list []sample, f *Frame, h float64) float64 {
	type sum struct{ d, n float64 }
	sums := map[cellKey]sum{}
	for i := range list {
		if s := &list[i]; s.ok {
			k := keyOf(s, h)
			v := sums[k]
			sums[k] = sum{v.d + s.d, v.n + 1}
		}
	}
	var off []float64
	for i := range list {
		if s := &list[i]; s.ok {
			v := sums[keyOf(s, h)]
			off = append(off, math.Abs(s.d-v.d/v.n))
		}
	}
	if len(off) == 0 {
		return 0
	}
	slices.Sort(off)
	return off[len(off)/2] / normalMedian
}
