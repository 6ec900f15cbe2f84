package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// lean returns by how much a point's normal leans over from the skin's, toward the gap.
func (l line) lean(p *zonePoint) float64 {
	return geom.Atan2(p.ny+float64(l.m*p.nh), p.nh-float64(l.m*p.ny))
}

const (
	edgeLean = 35 * math.Pi / 180 // a skin's feature lines lean less
	edgeOver = 2.0                // radians; more looks inward: a hem's return
)

// edgeWithin reports whether an edge runs through a face zone of n points: points
// near the skin lean as a roll's do, more of them than strays, and side by side for
// farther than a crumb is wide.
func (c *cutter) edgeWithin(pts []zonePoint, l line, s float64, n int) bool {
	const above, below, few, share = 0.5, 2.5, 6, 0.05
	lean := 0
	var grid leaning
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < c.seam.Face[0] || d > c.seam.Face[1] {
			continue
		}
		if e := p.h - l.at(p.x, p.y); e > above || e < -below {
			continue
		}
		// Most points lie flat: what surely leans less than by tan⁻¹ 0.69, 35°, needs no angle.
		if v, w := p.ny+float64(l.m*p.nh), p.nh-float64(l.m*p.ny); w > 0 && math.Abs(v) < 0.69*w {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
			grid.mark(p.x, d-c.seam.Face[0])
		}
	}
	return lean >= few && float64(lean) >= share*float64(n) && grid.runs()
}

// edgeBefore reports whether an edge runs between a face zone and the shoulder at s of the roll that was found: what
// then ends there is no end of the face but a seal, for instance, that lies level with it in the gap.
func (c *cutter) edgeBefore(pts []zonePoint, l line, s float64) bool {
	const (
		above, below = 0.5, 2.5
		from         = 0.5 // mm behind the shoulder: what is rounded off by smoothing leans there by less
		few          = 6
		share        = 0.15
	)
	lean, n := 0, 0
	var grid leaning
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < from || d > c.seam.Face[0] {
			continue
		}
		if e := p.h - l.at(p.x, p.y); e > above || e < -below {
			continue
		}
		n++
		if v, w := p.ny+float64(l.m*p.nh), p.nh-float64(l.m*p.ny); w > 0 && math.Abs(v) < 0.69*w {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
			grid.mark(p.x, d)
		}
	}
	return lean >= few && float64(lean) >= share*float64(n) && grid.runs()
}

const (
	leaningCells = 16
	leaningSize  = 2.0 // mm
	crumb        = 2   // cells that a crumb of 2 mm may touch in a row
)

// leaning is where in a zone points lean, in cells.
type leaning [leaningCells][leaningCells]bool

func (g *leaning) mark(x, y float64) {
	i := int(float64(x/leaningSize) + leaningCells/2)
	k := int(y / leaningSize)
	if i >= 0 && i < leaningCells && k >= 0 && k < leaningCells {
		g[i][k] = true
	}
}

// runs reports whether marked cells that touch reach farther than a crumb does; it clears them.
func (g *leaning) runs() bool {
	type cell struct{ i, k int }
	var reached []cell
	for i := range g {
		for k := range g[i] {
			if !g[i][k] {
				continue
			}
			lo, hi := cell{i, k}, cell{i, k}
			g[i][k] = false
			reached = append(reached[:0], cell{i, k})
			for len(reached) > 0 {
				at := reached[len(reached)-1]
				reached = reached[:len(reached)-1]
				lo = cell{min(lo.i, at.i), min(lo.k, at.k)}
				hi = cell{max(hi.i, at.i), max(hi.k, at.k)}
				for di := -1; di <= 1; di++ {
					for dk := -1; dk <= 1; dk++ {
						if n := (cell{at.i + di, at.k + dk}); n.i >= 0 && n.k >= 0 && n.i < leaningCells && n.k < leaningCells && g[n.i][n.k] {
							g[n.i][n.k] = false
							reached = append(reached, n)
						}
					}
				}
			}
			if hi.i-lo.i >= crumb || hi.k-lo.k >= crumb {
				return true
			}
		}
	}
	return false
}

// behindBreak is how far behind a face zone, mm, a skin is looked for that goes on there.
const behindBreak = 6.0

// beyond reports whether a skin goes on behind a break in the face zone with
// an edge at the break: points there lean toward it.
func (c *cutter) beyond(pts []zonePoint, l line, s float64) bool {
	lean, behind := 0, 0
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < c.seam.Face[0] || d > c.seam.Face[1]+behindBreak {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
		} else if p.nh > facing {
			behind++
		}
	}
	return lean >= 4 && behind >= 8
}
