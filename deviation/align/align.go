// Package align finds the placement: the rigid motion that carries scan
// coordinates into the reference's frame.
package align

import (
	"context"
	"errors"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// Placement is a motion with what is known about it.
type Placement struct {
	Method            string // "best-fit", "given" or "none"
	ReferenceFromScan geom.Rigid
	RMS               float64 // mm, of the points used, about the reference surface
	PointsUsed        int     // points that carry weight at the end
	ShareUsed         float64 // of the points offered
	RMSKnown          bool    // false where no point lay near the reference

	// Standard uncertainties of the six motions, translations in mm along the
	// reference's axes, rotations in radians about them through Centre. A free
	// motion (Free[i]) has no number: Sigma[i] is 0 then.
	Sigma      [6]float64
	Free       [6]bool
	Centre     geom.Vec
	Covariance [6][6]float64 // same order and units, rows of free motions are 0

	Ambiguous bool     // a second, different pose explains the data nearly as well
	Notes     []string // sentences for the user: what is weakly held, what to check
}

// Settings of a best fit; the zero value works.
type Settings struct {
	Threads int
	Noise   float64 // mm, scanner noise, 0: estimated
}

// BestFit finds the placement from any starting pose.
func BestFit(ctx context.Context, scan *mesh.Mesh, ref *surface.Surface, s Settings, progress mesh.Progress) (Placement, error) {
	return Placement{}, errors.New("align: not built yet")
}

// Describe fills in the RMS, points used and uncertainties of a motion that was given.
func Describe(ctx context.Context, method string, referenceFromScan geom.Rigid, scan *mesh.Mesh, ref *surface.Surface, s Settings) (Placement, error) {
	return Placement{}, errors.New("align: not built yet")
}
