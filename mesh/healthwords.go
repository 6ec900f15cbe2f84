package mesh

import "fmt"

// Grave says in one sentence each what makes deviations wrong: sides that cannot be told.
func (r *Report) Grave() []string {
	var s sentences
	s.say(r.FlippedEdges, "edge between faces that wind against one another", "edges between faces that wind against one another",
		"outside and inside change there, so deviations beside it get the wrong sign or the state facing-away; turn the faces one way")
	if r.Closed && r.VolumeMM3 < 0 {
		s = append(s, "the closed surface is inside out: every deviation would have the wrong sign; turn all its faces")
	}
	return s
}

// sentences are collected.
type sentences []string

func (s *sentences) say(n int, one, many, consequence string) {
	switch {
	case n == 1:
		*s = append(*s, "1 "+one+": "+consequence)
	case n > 1:
		*s = append(*s, fmt.Sprintf("%d %s: %s", n, many, consequence))
	}
}

// Faults says in one sentence each what is wrong with the mesh, the grave ones first, and what it
// means for measuring; none when nothing is. Open borders and several
// pieces are none: panels have them.
func (r *Report) Faults() []string {
	if r.Faces == 0 {
		return []string{"no faces, only points: deviations can be measured, but no gap, flush or section, and it cannot be the reference"}
	}
	s := sentences(r.Grave())
	say := s.say
	say(r.DuplicateFaces, "face lies on another with the same corners", "faces lie on others with the same corners",
		"their area counts twice in area-weighted figures; remove them")
	say(r.BranchingEdges, "edge has more than two faces", "edges have more than two faces",
		"the surface branches there, so the sign of a deviation at the edge depends on which branch is meant")
	say(r.PinchedVertices, "vertex joins surfaces that touch in one point only", "vertices join surfaces that touch in one point only",
		"the normal there is a mean of unrelated faces, so a deviation at that point may have the wrong sign")
	say(r.LooseVertices, "vertex belongs to no face", "vertices belong to no face", "it has no normal and no area and is not weighed in figures")
	say(r.smallLoops()-r.specks(), "small hole or crack", "small holes or cracks", // a speck has a border of its own
		"points over it may read off-edge; a border within 0.05 mm of another face counts as joined")
	say(r.specks(), "loose speck of under 1 % of the largest piece's area", "loose specks of under 1 % of the largest piece's area each",
		"they count in figures and pictures; cut them away")
	return s
}

// speckShare of the largest piece's area tells a speck from a panel: a fuel flap is about 1 % of a van's
// side. It only chooses words.
const speckShare = 0.01

func (r *Report) specks() int {
	n := 0
	for i := range r.Pieces {
		if r.Pieces[i].Area < speckShare*r.Pieces[0].Area {
			n++
		}
	}
	return n
}

// Panels returns the pieces that are no specks, the largest area first.
func (r *Report) Panels() []Piece { return r.Pieces[:len(r.Pieces)-r.specks()] }

// smallLoop tells a hole or crack from a panel's border: shorter than 2 % of the
// box's diagonal. It only chooses words.
const smallLoop = 0.02

func (r *Report) smallLoops() int {
	n := 0
	for _, l := range r.BorderLoops {
		if l.Length < smallLoop*r.Box.Diagonal() {
			n++
		}
	}
	return n
}
