package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

const (
	// waversFrom is the share of its length by which a path may be longer than the line it follows, and wavering
	// over how many mm is said: a corner costs 3 mm, and a taper that is out by a twentieth is less than its U.
	waversFrom = 0.05
	waversOver = 10.0
	// slantFrom is from how slantwise a path is said to be so: by 10° lengths along it are out by 1.5 %.
	slantFrom = 10 * math.Pi / 180
)

// wavers notes a path whose points run to and fro: lengths along it are not those along the gap.
func (j *job) wavers() {
	long := 1 - j.path.straightness()
	if long > waversFrom && long*j.path.full > waversOver {
		j.note("The path runs to and fro: of its %.0f mm, %.0f mm are not along the gap. Lengths along it, the spacing of stations and the taper are out by as much. Write fewer points, in order along the middle of the gap (path).", j.path.full, long*j.path.full)
	}
}

// slant notes a path that is drawn slantwise to the gap that was found.
func (j *job) slant() {
	most, at := 0.0, -1
	for i := range j.result.Stations {
		st := &j.result.Stations[i]
		if st.State != Measured && st.State != NoseUnseen {
			continue
		}
		f := j.path.tangent(st.Along - j.seam.From)
		if a := geom.Atan2(st.F.Cross(f).Norm(), math.Abs(st.F.Dot(f))); a > most {
			most, at = a, i
		}
	}
	if at >= 0 && most > slantFrom {
		j.note("The path runs slantwise to the gap, by %.0f° at station %d: gaps and flushes are square to the gap all the same, but lengths along the path are not along the gap. Draw the path along the middle of the gap (path).",
			most*180/math.Pi, j.result.Stations[at].Index)
	}
}
