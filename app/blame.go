package app

import (
	"fmt"
	"slices"

	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/mesh/geom"
)

const (
	// muchBetter: a best fit that leaves less than this share of the RMS shows that the scan
	// is sound and what placed it is not; bent parts seldom differ by a factor of two.
	muchBetter = 1.0 / 3
	// asMuchUsed: it must not have come by it by leaving points out.
	asMuchUsed = 0.9
)

// blame corrects a placement's note that doubts the scan for its scatter where the best fit
// of the same scan leaves far less: then the pairs, datums or matrix are off.
func (placed *Placed) blame() {
	p := &placed.Placement
	k := slices.Index(p.Notes, p.FarScatter())
	if p.FarScatter() == "" || k < 0 {
		return
	}
	for _, o := range placed.Others {
		fit := &o.Placement
		if o.Method != inspection.BestFit || o.Why != "" || !fit.RMSKnown || fit.RMS >= muchBetter*p.RMS || fit.ShareUsed < asMuchUsed*p.ShareUsed {
			continue
		}
		p.Notes = slices.Clone(p.Notes)
		p.Notes[k] = fmt.Sprintf("The points that follow the reference scatter by %.2f mm about it. The best fit leaves %.2f mm: %s off, not the scan.", p.RMS, fit.RMS, holder(placed.Method))
		return
	}
	if placed.Method == inspection.Given || placed.Method == inspection.None {
		p.Notes = slices.Clone(p.Notes)
		p.Notes[k] = unplaced(p, placed.Method)
	}
}

// unplaced words the scatter of a placement that nothing was fitted for.
func unplaced(p *align.Placement, method string) string {
	what := "the matrix in [place] is off"
	if method == inspection.None {
		what = "the scan's file is in another frame than the reference's"
	}
	return fmt.Sprintf("The points that follow the reference scatter by %.2f mm about it, far more than a scanner's noise: %s, the scan has drifted, or it is another part or a mirrored one.", p.RMS, what)
}

// holder names what a method places by, with its verb.
func holder(method string) string {
	switch method {
	case inspection.Pairs:
		return "the pairs are"
	case inspection.Datums:
		return "the datums, or the part where they lie, are"
	case inspection.Given:
		return "the matrix is"
	case inspection.None:
		return "the frame of the scan's file is"
	}
	return "the regions, or the part where they lie, are"
}

const (
	// farBeyond times what pairs and best fit explain together (k = 2) is no chance.
	farBeyond = 3.0
	// plainlyCloser: the best fit must leave less than this share of the RMS.
	plainlyCloser = 0.9
	// halfUsed: a fit at the scanner's noise lets go of damage that a loose one still counts.
	halfUsed = 0.5
)

// contradict tells whether the pairs lay the scan elsewhere than its surface does, by more than either explains: pairs that agree
// with one another may all be off alike, and their own scatter does not show it. box is the reference's.
func (placed *Placed) contradict(box geom.Box) {
	p := &placed.Placement
	if placed.Method != inspection.Pairs || !p.RMSKnown || p.NoSigma != "" {
		return
	}
	if p.Pairs != nil && p.Pairs.Wrong >= 0 { // it is named already
		placed.PairsOff = true
		return
	}
	for _, o := range placed.Others {
		fit := &o.Placement
		if o.Method != inspection.BestFit || o.Why != "" || !fit.RMSKnown || fit.Ambiguous || len(fit.FreeMotions) > 0 || fit.RMS >= plainlyCloser*p.RMS || fit.ShareUsed < halfUsed*p.ShareUsed {
			continue
		}
		explained := 0.0
		for _, corner := range box.Corners() {
			a, _ := p.SigmaAt(corner)
			b, _ := fit.SigmaAt(corner)
			explained = max(explained, 2*(a+b))
		}
		if o.Greatest <= farBeyond*explained {
			continue
		}
		placed.PairsOff = true
		doubt := p.FarScatter()
		p.Notes = slices.DeleteFunc(slices.Clone(p.Notes), func(n string) bool { return n == doubt })
		p.Notes = append(p.Notes, fmt.Sprintf("The pairs and the surface contradict one another: the best fit would lie up to %.3g mm elsewhere, and both together explain %.2g mm (k = 2). "+
			"Pairs that are all off alike do not show it among themselves, and this placement's uncertainty does not hold it; mend the pairs, or place by best-fit.", o.Greatest, explained))
	}
}
