package gapflush

import (
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// poolShortArcs improves the radius of an edge of which no station saw enough to tell it
// alone. Each station's fit, in which what was assumed rules, still says which way it
// pulls and how firmly; over a seam that adds up. With the curvatures of the whole seam
// the stations that say what its edges are, are looked at once more.
func (j *job) poolShortArcs(ctx context.Context, c *cutter, first []raw, kn []known) error {
	var short [2]bool
	for k := A; k <= B; k++ {
		var arcs []float64
		telling := 0
		for i := range first {
			if e := &first[i].side[k].edge; kn[i].weighed && e.found && e.kind == Round {
				arcs = append(arcs, e.seen)
			}
			if first[i].shows[k].round.ok {
				telling++
			}
		}
		short[k] = kn[0].form[k] == Round && !kn[0].held[k] && kn[0].sunk[k] == 0 && len(arcs) >= few && telling*2 < len(arcs)
	}
	if !short[A] && !short[B] {
		return nil
	}
	again := make([]raw, len(first))
	workers := make([]worker, parallel.Threads(j.set.Threads))
	err := parallel.Chunks(ctx, len(first), stationChunk, j.set.Threads, nil, func(w, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if kn[i].weighed && first[i].traced {
				again[i] = c.fit(&workers[w], first[i].along, kn[i], geom.Vec{}, &first[i])
			}
		}
	})
	if err != nil {
		return err
	}
	for k := A; k <= B; k++ {
		if !short[k] {
			continue
		}
		off, u, n := pulled(again, kn, k, pulledBy)
		if n == 0 || u > defaultRadiusU {
			// A radius stated too large leaves a pattern of its own, for which every station is believed less.
			if o, uo, m := pulled(again, kn, k, pulledFormally); m > 0 && o < -clearlyLess*uo {
				off, u, n = o, uo, m
			}
		}
		if n == 0 {
			continue
		}
		var stated []float64
		contradicted := 0
		for i := range kn {
			r, ur := &kn[i].radius[k], &kn[i].radiusU[k]
			stated = append(stated, *r)
			if math.Abs(off) > contradicts*math.Sqrt(float64(*ur**ur)+float64(u*u)) {
				contradicted++
			}
			toward, both := reconciled(off, u, *ur)
			*r = max(*r+toward, *r/4) // far off the pull is not even
			*ur = max(both, min(shownRadiusU, *ur))
		}
		if contradicted*2 > len(kn) && (j.seam.Radius[k] > 0 || j.ref != nil) {
			j.noteRadius(k, median(stated), off, n, "measured with that")
		}
	}
	return nil
}

// contradicts is how many standard uncertainties what points say may be off what is assumed before that is not believed.
const contradicts = 2.0

// reconciled returns by how much a radius assumed to ur is to be moved where points say off to u, and its standard
// uncertainty then: the mean by weight, by Birge's ratio (1932) where the two agree badly; what the points say where they
// contradict what was assumed. Then either lies within twice the uncertainty: what was stated may be wrong, or
// a web over a short arc.
func reconciled(off, u, ur float64) (toward, both float64) {
	w, data := 1/float64(ur*ur)+1/float64(u*u), 1/float64(u*u)
	toward = off * data / w
	ratio := math.Abs(off) / math.Sqrt(float64(ur*ur)+float64(u*u))
	both = math.Sqrt(1/w) * max(ratio, 1)
	switch {
	case ratio > contradicts:
		return off, max(u, math.Abs(off)/2)
	case ratio > 1:
		both = max(both, math.Abs(toward)/2, math.Abs(off-toward)/2)
	}
	return toward, both
}

// shownRadiusU is what a hem's radius is known to at best, mm, one standard
// uncertainty: along a seam made hems differ by as much (common practice, no source).
const shownRadiusU = 0.05

// clearlyLess is how many standard uncertainties a radius must be pulled toward less, by points of which a pattern was left, to be
// less: a web and a filter pull it toward more.
const clearlyLess = 4.0

// pulledBy is the weight of a station's radius with what was assumed of it and without, 1/mm², ur being its uncertainty.
func pulledBy(e *edge, ur float64) (with, data float64) {
	with = 1 / (e.data[1][1] + float64(e.prior[1]*e.prior[1]))
	return with, with - 1/float64(ur*ur)
}

// pulledFormally is the same by the scatter alone, whatever pattern the points follow.
func pulledFormally(e *edge, ur float64) (with, data float64) {
	with = 1 / float64(e.prior[1]*ur)
	return with, with - 1/float64(ur*ur)
}

// pulled is by how much the points of all stations move the radius that was assumed, and
// the standard uncertainty of that, and how many they are; none where they do not say.
func pulled(again []raw, kn []known, k Side, weigh func(e *edge, ur float64) (with, data float64)) (off, u float64, n int) {
	var d, weight []float64
	shared := 0.0
	sum := 0.0
	// Webs hide some of an edge. What leaves the rolls of nearly all stations is none: the radius is wrong.
	clear, webbed := 0, 0
	for i := range again {
		if e := &again[i].side[k].edge; again[i].traced && e.found && e.kind == Round {
			if e.webbed {
				webbed++
			} else {
				clear++
			}
		}
	}
	all := clear < few && webbed >= 4*clear
	for i := range again {
		e := &again[i].side[k].edge
		if !again[i].traced || !e.found || e.webbed && !all || e.sparse || e.kind != Round {
			continue
		}
		// The fit's radius is the mean of what was assumed and of what the points say, each
		// by its weight: taken apart again.
		with, data := weigh(e, kn[i].radiusU[k])
		if !(data > 0) {
			continue
		}
		d, weight = append(d, with/data*(e.r-kn[i].radius[k])), append(weight, data)
		// The face carried on to the edge is bent alike at all stations.
		f, uc := &again[i].side[k].face, kn[i].curvatureU[k]
		moved := float64(e.toFace[1][0]*f.dh0*uc) + float64(e.toFace[1][1]*f.dm*uc) + float64(e.toFace[1][2]*uc)
		shared += float64(with * moved)
		sum += data
	}
	if len(d) < few {
		return 0, 0, 0
	}
	middle := median(slices.Clone(d))
	var up, down, chi float64
	for i := range d {
		// A web makes single stations say otherwise.
		z := (d[i] - middle) * math.Sqrt(weight[i])
		w := float64(weight[i] * tukey(z, 1.5))
		up += float64(w * d[i])
		down += w
	}
	if down == 0 {
		return 0, 0, 0
	}
	off = up / down
	for i := range d {
		chi += float64(weight[i] * (d[i] - off) * (d[i] - off))
	}
	more := max(chi/float64(len(d)-1), 1) // Birge's ratio (1932)
	shared /= sum
	return off, math.Sqrt(float64(more/down) + float64(shared*shared)), len(d)
}
