package pieces

import (
	"math"

	"shutline/mesh/geom"
)

// A piece drifts while it is scanned: it is as a rod cut across into slabs, each shifted and turned a little against the one before, about
// where the two meet; and so along each of its three axes. What it is off by at one of its ends so depends on what it is off by at the
// other, and on where it lies best as a whole. A round of pieces that are all bent alike closes without a gap, and each is off its
// best place all the same: only how the errors of one piece hang together tells that.

const (
	// slabs of a piece along an axis: of a van's side in pieces, some 200 mm each, less than an overlap is wide.
	slabs = 12
	// placeRadius in mm: a place counts as a small patch, so that a few, in a line or one alone, hold turns as well.
	placeRadius = 100.0
	// drifts are what a step from slab to slab is made of: shifts and turns.
	drifts = 2
	// metre, mm: variances grow by the metre along the piece; turns count as mm at a metre.
	metre = 1000.0
	// acrossShare of what a piece drifts along its longest axis it drifts along the two others: a scanner goes across in strokes and along from
	// one to the next, so that a metre along takes it several metres of its way. Of simulated scans in strokes half a metre apart the true
	// differences in shape are likelier by far with 0.2 than with 1 or with 0.
	acrossShare = 0.2
)

// flex is how a node loses its shape along one axis, in the joined frame, motions as twists about the graph's centre with turns at its
// lever.
type flex struct {
	axis       geom.Vec
	from, step float64
	// walk is the covariance of the step into each slab from the one before, for shifts and for turns of 1 mm² a metre.
	walk  [slabs][drifts]mat6
	whole [slabs]mat6 // what each slab counts for in the best place of the whole
}

// patchInformation is what a place tells of a motion about the graph's centre.
func (g *graph) patchInformation(p geom.Vec) mat6 {
	j := g.jacobian6(p)
	jt := j.Transposed()
	scaled := j
	for i := 3; i < 6; i++ {
		for k := range 6 {
			scaled[i][k] *= float64(placeRadius * placeRadius)
		}
	}
	return jt.Mul(&scaled)
}

// flexesOf cuts a node of the points given, in the joined frame, into slabs along each axis that it extends along.
func (g *graph) flexesOf(points []geom.Vec) (out []flex) {
	var middle geom.Vec
	for _, p := range points {
		middle = middle.AddScaled(1/float64(len(points)), p)
	}
	var spread geom.Mat3
	for _, p := range points {
		d := p.Sub(middle)
		for i := range 3 {
			for k := range 3 {
				spread[i][k] += float64(d.At(i) * d.At(k))
			}
		}
	}
	_, axes := geom.Eigen3(spread) // the longest last
	for k, axis := range axes {
		share := acrossShare
		if k == len(axes)-1 {
			share = 1
		}
		if f, ok := g.flexAlong(axis, share, points, middle); ok {
			out = append(out, f)
		}
	}
	return out
}

// flexAlong cuts a node into slabs along an axis; share of what grows by the metre grows along it.
func (g *graph) flexAlong(axis geom.Vec, share float64, points []geom.Vec, middle geom.Vec) (f flex, ok bool) {
	f.axis = axis
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		s := f.axis.Dot(p)
		lo, hi = min(lo, s), max(hi, s)
	}
	f.from, f.step = lo, (hi-lo)/slabs
	if !(f.step > 0) {
		return f, false
	}
	var middles [slabs]geom.Vec
	var count [slabs]float64
	for _, p := range points {
		s := f.slabOf(p)
		middles[s], count[s] = middles[s].Add(p), count[s]+1
	}
	for s := range slabs {
		if count[s] == 0 {
			middles[s] = middle.AddScaled(f.from+float64((float64(s)+0.5)*f.step)-f.axis.Dot(middle), f.axis)
			continue
		}
		middles[s] = middles[s].Scale(1 / count[s])
	}
	for s := 1; s < slabs; s++ {
		to := shifted(middles[s-1].Lerp(middles[s], 0.5), g.centre)
		for d := range drifts {
			var unit mat6
			grown := float64(share * f.step / metre)
			for i := range 3 {
				if d == 0 {
					unit[i][i] = grown
				} else {
					unit[i+3][i+3] = grown / (metre * metre)
				}
			}
			unit = unit.Carried(&to)
			f.walk[s][d] = levered(&unit, g.lever)
		}
	}
	f.whole = g.sharesOf(&f, points)
	return f, true
}

func (f *flex) slabOf(p geom.Vec) int {
	return min(max(int((f.axis.Dot(p)-f.from)/f.step), 0), slabs-1)
}

// sharesOf returns what the motion of each slab counts for in the best motion of the places; they sum to one.
func (g *graph) sharesOf(f *flex, places []geom.Vec) (shares [slabs]mat6) {
	var all mat6
	for _, p := range places {
		i := g.patchInformation(p)
		shares[f.slabOf(p)].Add(&i)
		all.Add(&i)
	}
	values, vectors := all.Eigen()
	var inverse mat6
	for k, v := range vectors {
		inverse.AddOuter(1/values[k], &v, &v)
	}
	for s := range shares {
		shares[s] = inverse.Mul(&shares[s])
	}
	return shares
}

// carries returns by what the step into each slab moves the places against the best place of the whole.
func (g *graph) carries(f *flex, places []geom.Vec) (c [slabs]mat6) {
	shares := g.sharesOf(f, places)
	var sum mat6
	for s := slabs - 1; s > 0; s-- {
		less := f.whole[s].Scaled(-1)
		sum.Add(&shares[s])
		sum.Add(&less)
		c[s] = sum
	}
	return c
}

// together returns the covariance of what two places of a node are off by, for a drift of 1 mm² a metre of one kind.
func (f *flex) together(a, b *[slabs]mat6, kind int) (c mat6) {
	for s := 1; s < slabs; s++ {
		half := a[s].Mul(&f.walk[s][kind])
		t := b[s].Transposed()
		part := half.Mul(&t)
		c.Add(&part)
	}
	return c
}
