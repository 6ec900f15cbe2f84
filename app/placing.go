package app

import (
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// placing returns what a placement's uncertainty is to a deviation. One that
// was given, or that nothing was asked about, is taken at its word; one whose
// uncertainty has no number leaves the deviations without one.
func placing(p align.Placement) *deviation.Placing {
	if p.Method == inspection.Given || p.Method == inspection.None {
		return nil
	}
	out := &deviation.Placing{Covariance: p.HeldCovariance, Centre: p.Centre}
	if p.NoSigma != "" {
		for _, axis := range []geom.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
			out.Free = append(out.Free, deviation.Free{Shift: axis, Words: "be off by an amount that is not known"})
		}
		return out
	}
	for _, f := range p.FreeMotions {
		out.Free = append(out.Free, deviation.Free{Shift: f.Shift, Turn: f.Turn, Sigma: f.Sigma, Words: f.Words})
	}
	return out
}
