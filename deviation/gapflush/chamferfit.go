package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// chamfer is a face's end, a straight facet and a wall, in the axes of the face at its
// shoulder: v mm along the face toward the gap, w mm up from it. The facet runs from
// (vs, 0) to the nose (vn, wn), the wall on from there by wall mm of v a mm of w.
type chamfer struct {
	vs, vn, wn, wall float64
	along            course
	cov              [4]row // of vs, vn, wn, wall
	sigma            float64
	strays           float64 // mm, root mean square of the distances of patches' means
	n                int
}

// chamferPiece is what of a chamfer a point lies nearest to.
type chamferPiece int

const (
	onFace chamferPiece = iota
	onFacet
	onWall
	offAll
)

const (
	chamferRounds = 12
	chamferOff    = 0.8                // mm from the outline
	chamferLean   = 50 * math.Pi / 180 // a corner's points lean between what meets there
)

// nearest returns the piece a point lies on, its distance from it, positive outside, and
// the change of that with vs, vn, wn and wall.
func (c *chamfer) nearest(v, w, lean float64) (piece chamferPiece, d float64, by row) {
	lv, lw := c.vn-c.vs, c.wn
	l := math.Sqrt(float64(lv*lv) + float64(lw*lw))
	nv, nw := -lw/l, lv/l // outward, square to the facet
	fall := geom.Atan2(-lw, lv)
	t := (float64((v-c.vs)*lv) + float64(w*lw)) / (l * l)
	k := math.Sqrt(1 + float64(c.wall*c.wall))
	steep := math.Pi/2 + geom.Atan(c.wall)
	facet := float64((v-c.vs)*nv) + float64(w*nw)
	wall := (v - c.vn - float64(c.wall*(w-c.wn))) / k
	best := chamferOff
	piece = offAll
	if v <= c.vs && math.Abs(lean) < chamferLean && math.Abs(w) < best {
		piece, best = onFace, math.Abs(w)
	}
	if far := math.Abs(facet) + float64(l*max(-t, t-1, 0)); far < best && math.Abs(lean-fall) < chamferLean {
		piece, best = onFacet, far
	}
	if far := math.Abs(wall) + max(w-c.wn, 0); far < best && math.Abs(lean-steep) < chamferLean {
		piece = onWall
	}
	switch piece {
	case onFacet:
		return piece, facet, row{-nv * (1 - t), -nv * t, -nw * t}
	case onWall:
		return piece, wall, row{1: -1 / k, 2: c.wall / k, 3: -(w - c.wn) / k}
	}
	return piece, w, by
}

// chamferPlace is where a point lies in a chamfer's axes, x mm along the seam, and how its surface leans.
type chamferPlace struct{ x, v, w, lean float64 }

// placesNear returns those of the points that lie about the chamfer of a face with its shoulder at s.
func (c *chamfer) placesNear(pts []zonePoint, f *face, s float64) (near []chamferPlace) {
	m := f.slope(s)
	q := math.Sqrt(1 + float64(m*m))
	for i := range pts {
		p := &pts[i]
		w := (p.h - f.at(p.x, p.y)) / q
		v := float64((p.y-s)*q) + float64(m*w)
		if v < c.vs-1 || v > c.vn+1.5 || w > 0.5 || w < c.wn-flankDeep {
			continue
		}
		near = append(near, chamferPlace{p.x, v, w, geom.Atan2(p.ny+float64(m*p.nh), p.nh-float64(m*p.ny))})
	}
	return near
}

// fit improves the chamfer by the squared distances of all points from it (Gauss and
// Newton, redescending weights). ok is false where they do not hold it.
func (c *chamfer) fit(pts []zonePoint, f *face, s, noise float64) (ok bool) {
	near := c.placesNear(pts, f, s)
	sigma := 0.1
	var abs []float64
	held, rest := courseFree, 0 // rounds since what was found of the course was judged
	for round := 0; round < chamferRounds; round++ {
		eq, facets, walls := c.equations(near, sigma, &abs)
		if facets < minOnArc || walls < minOnArc {
			return false
		}
		// A wall seen at one depth only says nothing of its slope.
		eq.a[3][3] += 0.05
		held.add(&eq, 4, sigma, &c.along)
		inv, good := eq.inverse()
		if !good {
			return false
		}
		step := eq.apply(&inv)
		scatter := robustSigma(abs, 5)
		if round >= 3 {
			sigma = max(min(scatter, 0.1), noise, 0.002)
		}
		if !c.move(&step) {
			return false
		}
		v := max(scatter, noise, 0.001)
		c.n, c.sigma = facets+walls, v
		for i := range c.cov {
			for k := range 4 {
				c.cov[i][k] = float64(v * v * inv[i][k])
			}
		}
		switch {
		case round < 5 || rest > 0 && rest < 4:
			rest += min(rest, 1)
		case rest == 0:
			if rest = 1; c.along.traced(&inv, 4, v) {
				held = courseTraced
			}
		case math.Abs(step[0])+math.Abs(step[1])+math.Abs(step[2]) < settled:
			round = chamferRounds
		}
	}
	c.scatterOfMeans(near)
	return true
}

// equations returns the normal equations of the points on facet and wall, how many of either count, and all their distances.
func (c *chamfer) equations(near []chamferPlace, sigma float64, abs *[]float64) (eq normalEq, facets, walls int) {
	eq = normalEq{n: 6}
	*abs = (*abs)[:0]
	for i := range near {
		piece, d, by := c.nearest(near[i].v-c.along.at(near[i].x), near[i].w, near[i].lean)
		t := near[i].x / alongScale
		by[4] = (by[0] + by[1]) * t
		by[5] = by[4] * t
		if piece == onFace || piece == offAll {
			continue
		}
		*abs = append(*abs, math.Abs(d))
		if weight := tukey(d, sigma); weight > 0 {
			eq.add(&by, -d, weight)
			if piece == onFacet {
				facets++
			} else {
				walls++
			}
		}
	}
	return eq, facets, walls
}

// move takes a step, or what is safe of it, and reports whether a chamfer is left.
func (c *chamfer) move(step *row) bool {
	c.vs += min(max(step[0], -0.3), 0.3)
	c.vn += min(max(step[1], -0.3), 0.3)
	c.wn += min(max(step[2], -0.3), 0.3)
	c.wall += min(max(step[3], -0.2), 0.2)
	c.along.turn += min(max(step[4], -0.5), 0.5)
	c.along.bend += min(max(step[5], -0.5), 0.5)
	return c.vn > c.vs+0.05 && c.wn < -0.05
}

// scatterOfMeans tells how far the means of thirds of facet and wall stray; where they do not scatter as noise does the edge
// is none of straight pieces, and its covariance grows by that (Birge 1932).
func (c *chamfer) scatterOfMeans(near []chamferPlace) {
	const thirds = 3
	var sum, n [2 * thirds]float64
	for i := range near {
		p := &near[i]
		piece, d, _ := c.nearest(p.v-c.along.at(p.x), p.w, p.lean)
		if piece != onFacet && piece != onWall || math.Abs(d) > 6*c.sigma {
			continue
		}
		k := min(int(thirds*p.w/c.wn), thirds-1)
		if piece == onWall {
			k = thirds + min(int(thirds*(c.wn-p.w)/flankDeep), thirds-1)
		}
		k = max(k, 0)
		sum[k] += d
		n[k]++
	}
	chi2, used := 0.0, 0
	for k := range sum {
		if n[k] > 0 {
			chi2 += float64(sum[k] * sum[k] / n[k])
			used++
		}
	}
	const chance = 3.0 // with one or two degrees of freedom chance alone exceeds it once in twenty
	c.strays = math.Sqrt(chi2 / float64(c.n))
	if ratio := chi2 / float64(max(used-4, 1)) / (c.sigma * c.sigma); ratio > chance {
		for i := range c.cov {
			for k := range 4 {
				c.cov[i][k] *= ratio
			}
		}
	}
}
