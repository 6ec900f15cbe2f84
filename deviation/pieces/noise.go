package pieces

import (
	"context"
	"math"

	"shutline/mesh/geom"
)

// Noise is what neighbouring places of an overlap differ by that no shape explains.
type Noise struct {
	Sigma float64 // mm, one standard deviation of a residual
	Area  float64 // mm² over which residuals agree: the integral of their correlation
	Looks int     // places it was taken from
	Lag   float64 // mm, how far apart residuals were compared at the most
}

const (
	// noiseLag in mm: residuals so far apart share no noise. Scanners were measured to share it over 4
	// to 8 mm, smoothing reaches to 12.
	noiseLag = 24.0
	// lagEdges: on a coarse piece residuals so many edges apart are compared.
	lagEdges = 4.0
	// lagSlack is how far from its place a point may be taken, as a share of the lag.
	lagSlack = 0.3
	// noiseAnchors of each piece are looked from; the median is good to 2 %.
	noiseAnchors = 2000
	// fewestLooks give a median that means something: good to 8 %.
	fewestLooks = 200
	// mostLags: 24, 12, 6, 3 and 1.5 mm.
	mostLags = 5
	// leastShared: a correlation as small is within what the medians scatter by.
	leastShared = 0.08
	// madEfficiency: a median of so many values is as good as a standard deviation of this share of
	// them (Huber 1981).
	madEfficiency = 0.37
)

// noise estimates the noise of the residuals from how far each lies from the mean of two that lie
// at equal distances to either side: shape, whose slope is even over 48 mm, drops out of that, and the
// median leaves edges out. Residuals that share nothing differ so by √1.5 of one's noise, and what is
// less at shorter distances is their correlation.
//
// It is a variogram of second differences (Matheron 1963).
func (c *contact) noise(ctx context.Context, bFromA geom.Rigid) (Noise, error) {
	spacing := max(c.a.spacing, c.b.spacing)
	longest := max(noiseLag, lagEdges*spacing)
	anchors := c.anchors()
	var lags, variance []float64
	n := Noise{}
	for lag := longest; len(lags) < mostLags && lag >= 1.2*spacing; lag /= 2 {
		v, looks, err := c.secondDifference(ctx, bFromA, anchors, lag)
		if err != nil {
			return Noise{}, err
		}
		if looks < fewestLooks {
			if len(lags) == 0 { // too narrow for the longest: the next is the longest
				continue
			}
			break
		}
		if len(lags) == 0 {
			n.Looks, n.Lag = looks, lag
		}
		lags, variance = append(lags, lag), append(variance, v)
	}
	if len(lags) == 0 {
		return Noise{}, nil
	}
	const alone = 1.5 // the variance of a second difference of numbers that share nothing
	total := variance[0] / alone
	n.Sigma = math.Sqrt(total)
	rho := make([]float64, len(lags))
	for k := 1; k < len(lags) && total > 0; k++ {
		if r := (alone - variance[k]/total + float64(rho[k-1]/2)) / 2; r > leastShared {
			rho[k] = min(r, 1)
		}
	}
	last := len(lags) - 1
	area := float64(math.Pi*lags[last]*lags[last]) * rho[last]
	for k := last; k > 0; k-- {
		area += float64(math.Pi * (float64(lags[k]*rho[k]) + float64(lags[k-1]*rho[k-1])) * (lags[k-1] - lags[k]))
	}
	n.Area = max(area, float64(spacing*spacing))
	return n, nil
}

// anchors returns the samples looked from, by index.
func (c *contact) anchors() []int {
	var of [2][]int
	for i := range c.samples {
		if c.matches[i].paired {
			side := 0
			if c.samples[i].onB {
				side = 1
			}
			of[side] = append(of[side], i)
		}
	}
	var out []int
	for _, all := range of {
		n := min(len(all), noiseAnchors)
		for k := range n {
			out = append(out, all[k*len(all)/n])
		}
	}
	return out
}

// secondDifference returns the robust variance, mm², of residuals less the mean of those a lag away to either side.
func (c *contact) secondDifference(ctx context.Context, bFromA geom.Rigid, anchors []int, lag float64) (variance float64, looks int, err error) {
	beside := make([]sample, 0, 2*len(anchors))
	var of []int
	findA, findB := c.findA[0], c.findB[0]
	for k, i := range anchors {
		s := &c.samples[i]
		own, find := c.a, findA
		if s.onB {
			own, find = c.b, findB
		}
		along := tangent(s.n, unitOf(7, uint64(k)))
		var pair [2]sample
		good := true
		for e, way := range [2]float64{lag, -lag} {
			at := s.p.AddScaled(way, along)
			hit, ok := find.ClosestFacing(at, s.n, likeNormal, lagSlack*lag)
			if !ok || hit.Border {
				good = false
				break
			}
			v, far := nearestCorner(own, hit.Face, at)
			if far > float64(lagSlack*lag)+own.spacing || own.normals[v].Dot(s.n) < likeNormal {
				good = false
				break
			}
			pair[e] = sample{p: own.mesh.Vertices[v], n: own.normals[v], vertex: int32(v), onB: s.onB}
		}
		if good {
			beside, of = append(beside, pair[0], pair[1]), append(of, i)
		}
	}
	found := make([]match, len(beside))
	reach := leastReach
	if s, _ := c.spreadOf(); s*reachOfSpread > reach {
		reach = s * reachOfSpread
	}
	if err := c.pairUp(ctx, bFromA, reach, beside, found); err != nil {
		return 0, 0, err
	}
	var away []float64
	for k, i := range of {
		if x, y := &found[2*k], &found[2*k+1]; x.paired && y.paired {
			away = append(away, math.Abs(c.matches[i].r-float64((x.r+y.r)/2)))
		}
	}
	s := madScale * median(away)
	return float64(s * s), len(away), nil
}

func nearestCorner(b *body, face uint32, p geom.Vec) (vertex uint32, far float64) {
	far = math.Inf(1)
	for _, v := range b.mesh.Faces[face] {
		if d := b.mesh.Vertices[v].Dist(p); d < far {
			vertex, far = v, d
		}
	}
	return vertex, far
}

// tangent returns a unit direction square to n, at a share of the full turn.
func tangent(n geom.Vec, share float64) geom.Vec {
	x := geom.Vec{X: 1}
	if math.Abs(n.X) > 0.7 {
		x = geom.Vec{Y: 1}
	}
	x = x.AddScaled(-x.Dot(n), n).Unit()
	s, c := geom.Sincos(2 * math.Pi * share)
	return x.Scale(c).AddScaled(s, n.Cross(x))
}
