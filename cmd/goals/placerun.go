package main

import (
	"context"
	"errors"
	"math"
	"time"

	"shutline/deviation/align"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// outcome is how a run ended.
type outcome uint8

const (
	within    outcome = iota // within placedWithin of the truth
	named                    // farther off, by no more than the uncertainty that the result states
	ambiguous                // farther off, and the result says that another pose fits as well
	refused                  // no result, and it says so
	wrong                    // a wrong result without a word
)

var outcomeNames = [...]string{"within", "named", "ambiguous", "refused", "WRONG"}

const (
	placedWithin = 1.0 // mm over the reference's box
	regionShare  = 0.95
	trustShare   = 0.99 // a run whose error lies outside this region is not covered by its uncertainty
)

// placedRun is one scan placed.
type placedRun struct {
	outcome outcome
	off     float64 // mm, greatest displacement over the reference's box
	inside  bool    // the truth lies in the stated 95 % region
	beyond  float64 // root of the mean square of the error over its sigma, of the held directions
	seconds float64
	p       align.Placement
	err     error
}

// placeOne places a scan whose truth is known.
func placeOne(ctx context.Context, c scanCase, ref *surface.Surface, box geom.Box, seed uint64, threads int) (placedRun, error) {
	scan, scanFromReference, err := c.make(ctx, box, seed)
	if err != nil {
		return placedRun{}, err
	}
	var r placedRun
	start := time.Now()
	r.p, r.err = align.BestFit(ctx, scan, ref, align.Settings{Threads: threads}, nil)
	r.seconds = time.Since(start).Seconds()
	switch {
	case errors.Is(r.err, align.ErrNoOverlap), errors.Is(r.err, align.ErrTooFew):
		r.outcome = refused
		return r, nil
	case r.err != nil:
		return r, r.err
	}
	if c.part.mirrored {
		r.outcome = wrong
		if r.p.MirrorFits {
			r.outcome = named
		}
		if r.p.Ambiguous {
			r.outcome = ambiguous
		}
		return r, nil
	}
	r.judge(r.p.ReferenceFromScan.After(scanFromReference), box)
	return r, nil
}

// judge compares a placement with the truth; motion is what the placement does
// to points that lie at their true places.
func (r *placedRun) judge(motion geom.Rigid, box geom.Box) {
	r.off = geom.MaxDisplacement(motion, geom.Identity(), box)
	along := r.p.Along(motion)
	squares, n := 0.0, 0
	free := false
	stated := 0.0
	for k, d := range r.p.Directions {
		if d.Free {
			free = true
			continue
		}
		squares += math.Pow(along[k]/d.Sigma, 2)
		n++
	}
	r.inside = n > 0 && squares <= chiSquare(n, regionShare)
	r.beyond = math.Sqrt(squares / float64(max(n, 1)))
	for _, corner := range box.Corners() {
		s, _ := r.p.SigmaAt(corner)
		stated = max(stated, 2*s)
	}
	covered := n > 0 && squares <= chiSquare(n, trustShare)
	switch {
	case r.off <= placedWithin:
		r.outcome = within
	case covered && (free || stated > placedWithin/2):
		r.outcome = named
	case r.p.Ambiguous:
		r.outcome = ambiguous
	default:
		r.outcome = wrong
	}
}

// chiSquare is the quantile of the chi-square distribution with n degrees of
// freedom, 1 to 6, from the usual tables.
func chiSquare(n int, share float64) float64 {
	if share == trustShare {
		return [...]float64{0, 6.635, 9.210, 11.345, 13.277, 15.086, 16.812}[n]
	}
	return [...]float64{0, 3.841, 5.991, 7.815, 9.488, 11.070, 12.592}[n]
}
