package evidence

import (
	"math"

	"shutline/deviation/align"
)

// verifiedResult says how a placement was verified: how much of the scan lies on the reference, what is left, and which
// pose came second.
type verifiedResult struct {
	Near      num            `json:"share_within_2_mm"`
	Fine      num            `json:"share_close"` // within 0.15 mm, or four times the noise where that is more
	RunnerUp  *runnerUp      `json:"runner_up"`   // null: every other pose was far worse
	Mirror    bool           `json:"mirror_image_fits"`
	Borders   []borderResult `json:"borders"` // stretches of the part's border that hold what the surface leaves free
	Residuals residualBins   `json:"residuals"`
}

type runnerUp struct {
	Matrix []num `json:"matrix"`
	Apart  num   `json:"apart_mm"`
	Angle  num   `json:"angle_deg"`
	Lead   num   `json:"worse_by_standard_deviations"`
}

type borderResult struct {
	Middle [3]num `json:"middle_mm"`
	Length num    `json:"length_mm"`
	Left   num    `json:"rms_mm"`
}

// residualBins counts the points offered by their signed distance, proud positive.
type residualBins struct {
	Width    num   `json:"bin_mm"`
	Lowest   num   `json:"lowest_mm"`
	Counts   []int `json:"counts"`
	Below    int   `json:"below"`
	Above    int   `json:"above"`
	Unpaired int   `json:"unpaired"`
}

// verifiedOf returns nil for a placement with nothing near the reference.
func verifiedOf(p *align.Placement) *verifiedResult {
	if !p.RMSKnown {
		return nil
	}
	r := &p.Residuals
	out := &verifiedResult{Near: mm(p.Overlap.Near), Fine: mm(p.Overlap.Fine), Mirror: p.MirrorFits, Borders: []borderResult{},
		Residuals: residualBins{mm(r.Width), mm(-float64(r.Width * float64(len(r.Count)) / 2)), r.Count[:], r.Below, r.Above, r.Unpaired}}
	if u := p.RunnerUp; u != nil {
		out.RunnerUp = &runnerUp{matrixOf(u.ReferenceFromScan), mm(u.Apart), mm(u.Angle * 180 / math.Pi), mm(u.Lead)}
	}
	for _, b := range p.Borders {
		out.Borders = append(out.Borders, borderResult{mm3(b.Middle), mm(b.Length), mm(b.Left)})
	}
	return out
}
