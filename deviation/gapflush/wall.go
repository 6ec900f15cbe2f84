package gapflush

import (
	"fmt"
	"math"
	"slices"

	"shutline/mesh/geom"
)

// What goes on below a roll toward the other panel and was not measured as a flange may be a web that sags into the gap, or be bent: the
// circle's nose is not where the edge stops advancing, and where that is the fit does not say.

const (
	wallTurned = 50 * math.Pi / 180 // from the face on; what may be a web lies flatter
	wallFrom   = -0.3               // of the radius, below the nose: one that leans much leaves the roll far above it
	wallDeep   = 0.5                // mm from the highest of a wall's points to the lowest
	wallBy     = 0.15               // mm, or 3.5 times the noise: beyond the nose
	wallOff    = 0.25               // mm, a wall's plane off the roll it is tangent to
	wallLoose  = 1.0                // mm, the same where the roll was not seen to its nose: a hem that is not round goes on beside the circle
	wallLinked = 2.0                // mm, from the last that was seen of such a roll to what goes on from it
	mostBelow  = 3.0                // mm that a nose lies under a shoulder at most, besides the radius
	wallPoints = 8                  // at least, in all but one of the band's slabs
)

// wall reports by how much, mm, a wall that goes on from a side's roll reaches beyond its nose toward the other panel, at most
// mostBelow under its shoulder; 0: none does.
func (c *cutter) wall(w *worker, o *raw, k Side, noise float64) float64 {
	e := &o.side[k].edge
	if !e.found || e.kind == Sharp {
		return 0
	}
	m := c.seam.Master
	own, other := outlineOf(k, &o.side[k], [5]float64{}), outlineOf(1-k, &o.side[1-k], [5]float64{})
	dir := own.tangent
	if k != m {
		dir = Point2{-other.tangent.S, -other.tangent.H}
	}
	nose := own.noseAlong(dir)
	from := own.centre // of the radius, square to the wall
	if e.kind == Chamfer {
		from = own.nose
	}
	half := dot(dir, sub(other.noseAlong(Point2{-dir.S, -dir.H}), nose)) / 2
	least := max(wallBy, 3.5*noise)
	sin, cos := geom.Sincos(wallTurned)
	cv := &o.curves[k]
	var by, off, deep []float64
	var slabs [slabCount]bool
	band := c.seam.Band
	sn, cs := geom.Sincos(e.seen)
	last, nearest := along(along(from, own.r*sn, own.tangent), own.r*cs, own.normal), math.Inf(1)
	for _, p := range w.side(k) {
		if math.Abs(p.x) > band {
			continue
		}
		y, ny := p.y-float64(p.x*cv.s1)-float64(p.x*p.x*cv.s2), p.ny
		if k == B {
			y, ny = -y, -ny
		}
		at, n := Point2{y, p.h}, Point2{ny, p.nh}
		below, beyond := dot(own.normal, sub(nose, at)), dot(dir, sub(at, nose))
		if below < wallFrom*own.r || dot(own.normal, sub(own.shoulder, at)) > e.drop()+mostBelow || beyond < least || half > 0 && beyond > half {
			continue
		}
		if turned := dot(n, own.tangent); turned < sin || dot(n, own.normal) > cos {
			continue
		}
		by, off, deep = append(by, beyond), append(off, math.Abs(dot(n, sub(at, from))-own.r)), append(deep, below)
		nearest = min(nearest, length(sub(at, last)))
		slabs[min(max(int((p.x+band)/(2*band)*slabCount), 0), slabCount-1)] = true
	}
	empty := 0
	for _, s := range slabs {
		if !s {
			empty++
		}
	}
	most := wallOff
	if e.kind == Round && nearest <= wallLinked && !own.noseAmong(e.phis, dir) {
		most = wallLoose
	}
	if len(by) < wallPoints || empty > 1 || slices.Max(deep)-slices.Min(deep) < wallDeep || median(off) > most {
		return 0
	}
	return slices.Max(by)
}

// walls measures the flanges below a station's rolls, and says of one that would have a gap which of its edges goes on below its
// nose in another way.
func (c *cutter) walls(w *worker, o *raw, kn *known) string {
	for k := A; k <= B; k++ {
		o.side[k].flange = c.flange(w, o, k, kn)
	}
	for k := A; k <= B; k++ {
		if o.side[k].flange.is {
			continue
		}
		if by := c.wall(w, o, k, kn.noise); by > 0 {
			return with(fmt.Sprintf("Side %s's edge goes on below its roll, straight and toward the other panel, by %.1f mm: its roll alone does not tell where it ends.", sideName[k], by), doWall)
		}
	}
	return ""
}
