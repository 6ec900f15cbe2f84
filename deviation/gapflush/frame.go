package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// frame is a station's own: f along the seam, a from A to B, u outward.
type frame struct{ p, f, a, u geom.Vec }

func newFrame(p, f, outward geom.Vec) frame {
	u := outward.AddScaled(-outward.Dot(f), f).Unit()
	return frame{p, f, f.Cross(u), u}
}

// local returns v along f, a and u.
func (r *frame) local(v geom.Vec) (x, s, h float64) {
	d := v.Sub(r.p)
	return d.Dot(r.f), d.Dot(r.a), d.Dot(r.u)
}

const (
	outwardReach  = 20.0 // mm about P, the faces that say where outside is
	outwardHeight = 6.0  // mm above or below P
	// Two equal skins back to back leave nothing of the mean direction. A skin
	// whose hem return is 13 mm long keeps a seventh within 20 mm, one without
	// a return more than nine tenths; less than this is no direction.
	outwardShare = 0.1
	// What so little is left of may look the wrong way by the chance of where faces end: the skins farther
	// from the gap tell it better. A return of 9 mm, below a gap of 4 mm, leaves as much.
	plainShare = 0.35
)

// nearFace is a face that says where outside is.
type nearFace struct {
	at, n geom.Vec // from P; twice its counted area long
	area  float64
}

// outward returns the area-weighted mean direction of the faces near p, and
// its length as a share of their area; share is negative when there are none.
// Where a long hem's return leaves little of it the skin behind it decides.
func (o *patch) outward(p geom.Vec, w *worker) (dir geom.Vec, share float64) {
	dir, share = o.outwardWithin(p, outwardReach, w)
	if share >= 0 && share < plainShare {
		if far, s := o.outwardWithin(p, 2*outwardReach, w); s > outwardShare {
			return far, s
		}
	}
	return dir, share
}

func (o *patch) outwardWithin(p geom.Vec, reach float64, w *worker) (dir geom.Vec, share float64) {
	w.runs = append(collect(o.faces, p, reach+o.far, w.runs[:0]), o.large)
	near := w.near[:0]
	for t := range o.each(w.runs) {
		mid := t.mid
		if mid.Sub(p).Norm2() > reach*reach {
			size := t.long
			if size < cellSize*cellSize/4 {
				continue // too small for its near end to matter
			}
			q, _ := geom.ClosestOnTriangle(p, o.v[t.corner[0]], o.v[t.corner[1]], o.v[t.corner[2]])
			if q.Dist(p) > reach {
				continue
			}
			if size > reach*reach {
				n := t.n.Scale(reach * reach / size)
				near = append(near, nearFace{q.Sub(p), n, n.Norm()})
				continue
			}
			mid = q
		}
		near = append(near, nearFace{mid.Sub(p), t.n, t.long})
	}
	w.near = near
	share = -1
	for range 3 {
		sum, area := geom.Vec{}, 0.0
		for i := range near {
			if dir != (geom.Vec{}) && math.Abs(near[i].at.Dot(dir)) > outwardHeight {
				continue
			}
			sum = sum.Add(near[i].n)
			area += near[i].area
		}
		if area == 0 {
			return dir, -1
		}
		share = sum.Norm() / area
		dir = sum.Unit()
	}
	return dir, share
}

// touches reports whether a face lies within reach of p; reach is at most outwardReach.
func (o *patch) touches(p geom.Vec, reach float64, w *worker) bool {
	w.runs = append(collect(o.faces, p, outwardReach+o.far, w.runs[:0]), o.large)
	for f := range o.each(w.runs) {
		t := &f.corner
		if q, _ := geom.ClosestOnTriangle(p, o.v[t[0]], o.v[t[1]], o.v[t[2]]); q.Dist(p) <= reach {
			return true
		}
	}
	return false
}
