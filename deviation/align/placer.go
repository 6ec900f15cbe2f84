package align

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// Placer places one scan on one reference by several methods without making
// them ready anew for each. It is for one goroutine.
type Placer struct {
	f     *fit
	whole *Placement // the best fit on the whole part, once it was asked for
	err   error
}

// NewPlacer makes a scan and a reference ready. It returns ErrTooFew,
// ErrNoOverlap for a reference without area, or ctx's error.
func NewPlacer(ctx context.Context, scan *mesh.Mesh, ref *surface.Surface, s Settings) (*Placer, error) {
	f, err := newFit(ctx, scan, ref, s)
	if err != nil {
		return nil, err
	}
	return &Placer{f: f}, nil
}

// BestFit is the function BestFit; it is worked out once.
func (p *Placer) BestFit(ctx context.Context, progress mesh.Progress) (Placement, error) {
	if p.whole == nil && p.err == nil {
		whole, err := p.f.bestFit(ctx, bothHands, progress)
		if ctx.Err() != nil {
			return Placement{}, ctx.Err()
		}
		p.whole, p.err = &whole, err
	}
	if p.err != nil {
		return Placement{}, p.err
	}
	return *p.whole, nil
}

// Describe is the function Describe.
func (p *Placer) Describe(ctx context.Context, method string, referenceFromScan geom.Rigid) (Placement, error) {
	return p.f.describeGiven(ctx, method, referenceFromScan)
}

// described returns what the surface says about a placement that something else
// than the surface holds: RMS, points used and share, and the doubts of
// them. The six motions are left to the caller.
func (f *fit) described(ctx context.Context, method string, g geom.Rigid) (Placement, error) {
	d, err := f.describeAt(ctx, method, g)
	if err != nil {
		return Placement{}, err
	}
	return Placement{
		Method: method, ReferenceFromScan: g,
		RMS: d.RMS, RMSKnown: d.RMSKnown, PointsUsed: d.PointsUsed, ShareUsed: d.ShareUsed, Notes: d.Notes,
	}, nil
}

// hold sets the six motions of a placement from a covariance about a centre, in
// mm with turns counted at the lever.
func (p *Placement) hold(covariance sym6, centre geom.Vec, lever float64) {
	h := held{centre: centre, lever: lever, covariance: covariance}
	p.Directions = h.independent()
	h.inUnits()
	p.Centre, p.Lever = centre, lever
	p.Covariance, p.HeldCovariance = h.covariance, h.full
	for i := range 6 {
		p.Sigma[i] = root(h.covariance[i][i])
	}
}
