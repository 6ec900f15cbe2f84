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
// near the skin lean as a roll's do, more of them than strays.
func (c *cutter) edgeWithin(pts []zonePoint, l line, s float64, n int) bool {
	const above, below, few, share = 0.5, 2.5, 6, 0.05
	lean := 0
	for i := range pts {
		p := &pts[i]
		if d := s - p.y; d < c.seam.Face[0] || d > c.seam.Face[1] {
			continue
		}
		if e := p.h - l.at(p.x, p.y); e > above || e < -below {
			continue
		}
		if t := math.Abs(l.lean(p)); t > edgeLean && t < edgeOver {
			lean++
		}
	}
	return lean >= few && float64(lean) >= share*float64(n)
}

// beyond reports whether a skin goes on behind a break in the face zone with
// an edge at the break: points there lean toward it.
func (c *cutter) beyond(pts []zonePoint, l line, s float64) bool {
	lean, behind := 0, 0
	for i := range pts {
		p := &pts[i]
		d := s - p.y
		if d < c.seam.Face[0] || d > c.seam.Face[1]+6 {
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
