package align

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Rest lets the scan come to rest from a start that lies within reach mm of the pose
// sought, without searching other poses; what is known of it is known as of a best fit.
// A placement whose RMS is not known (RMSKnown false) found no surface near. The error is ctx's.
func (p *Placer) Rest(ctx context.Context, start geom.Rigid, reach float64, progress mesh.Progress) (Placement, error) {
	f := p.f
	points := f.draw(exactPoints, seedExact)
	g, err := f.matcher.descend(ctx, start, points, fallingScales(max(reach, 2*exactLast), exactLast, exactSteps))
	if err != nil {
		return Placement{}, err
	}
	return f.finish(ctx, g, progress)
}
