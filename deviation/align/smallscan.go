package align

import "fmt"

// smallShare of the reference's area is what a scan that may slide must cover for its place to be believed: a
// smaller one finds stretches that are shaped as its own in several places. Of crops of a van's side at 2, 6 and
// 20 % 12 of 26 were laid elsewhere, all of them free to slide; at 40 % none of 72. Where the line lies between is our choice.
const smallShare = 0.25

// judgePlace marks the placement of a small scan ambiguous where motions are free: along them it may lie on quite
// another place of the reference, whose shape differs in the motions that are held, too.
func (f *fit) judgePlace(p *Placement, q Overlap) {
	any := false
	for _, free := range p.Free {
		any = any || free
	}
	if !any || len(f.cloud.mesh.Faces) == 0 {
		return
	}
	if share := f.covered(q); share < smallShare {
		p.Ambiguous, p.ambiguousElse = true, true
		p.Notes = append(p.Notes, fmt.Sprintf(
			"The scan lies on only %.2g %% of the reference and does not hold all motions: it may belong to another place of it. Scan more of the part, with an edge or a corner, or place it by pairs.", 100*share))
	}
}
