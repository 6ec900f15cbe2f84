package gapflush

import "math"

const (
	// risesBy is how far, mm, what lies beyond a shoulder must stand over the face carried on to it to bend
	// outward: more than any nose that a fit carries on, under the radius of a usual hem.
	risesBy = 0.5
	// risesWithin is how far beyond its shoulder, mm, an edge is looked at.
	risesWithin = 4.0
	// leastRising is how many points tell it.
	leastRising = 4
	// Of arcs so short that few points of a station rise that far, the stations beside it tell, by points that
	// stand over the face by more than the border of a scan may curl up, and by more than noise.
	risesTogether  = 0.35 // mm
	risesOverNoise = 5
	risesBeside    = 3 // stations to either side
)

// refuseInward refuses the stations of a scan alone at which the edges of both panels bend outward: rolled edges go
// in, so that it is the inside that is taken for the outside. A and B would be exchanged there, and what stands
// proud sits low. A reference says which way is out, and what it says is looked at before.
func (j *job) refuseInward(stations []Station) {
	if j.ref != nil {
		return
	}
	refuse := func(st *Station, why string) {
		*st = Station{Index: st.Index, Along: st.Along, P: st.P, F: st.F, A: st.A, U: st.U, Profile: st.Profile, Points: st.Points, State: TwoSkins, Why: with(why, doTurnFaces)}
	}
	together := j.bendOutwardTogether(stations)
	inward, outward := 0, 0
	for i := range stations {
		st := &stations[i]
		switch {
		case st.State == Measured:
			outward++
		case st.State == NoseUnseen && (together[i] || st.bendsOutward(A) && st.bendsOutward(B)):
			inward++
			refuse(st, "The faces look inward: by them the edges of both panels bend outward.")
		}
	}
	if inward <= outward {
		return
	}
	// Where an edge was not seen, nothing at the station itself tells; most others do.
	for i := range stations {
		if st := &stations[i]; st.State == NoseUnseen {
			refuse(st, "The faces look inward at most stations of this seam that tell it.")
		}
	}
}

// bendOutwardTogether says at which stations without a nose both edges bend outward by their points and by those of the
// stations beside them: at least one point of each side rises at each of these stations on average, and next to none falls.
func (j *job) bendOutwardTogether(stations []Station) []bool {
	by := max(risesTogether, risesOverNoise*j.noise)
	up, down := make([][2]int, len(stations)), make([][2]int, len(stations))
	for i := range stations {
		for k := A; k <= B; k++ {
			up[i][k], down[i][k] = stations[i].beyondShoulder(k, by)
		}
	}
	told := make([]bool, len(stations))
	for i := range stations {
		if stations[i].State != NoseUnseen {
			continue
		}
		n := 0
		var ups, downs [2]int
		for o := max(i-risesBeside, 0); o <= min(i+risesBeside, len(stations)-1); o++ {
			if stations[o].State != NoseUnseen {
				continue
			}
			n++
			for k := A; k <= B; k++ {
				ups[k] += up[o][k]
				downs[k] += down[o][k]
			}
		}
		told[i] = true
		for k := A; k <= B; k++ {
			told[i] = told[i] && rising(ups[k], downs[k]) && ups[k] >= n
		}
	}
	return told
}

// bendsOutward reports whether what lies beyond a side's shoulder rises over its face, and next to nothing falls.
func (s *Station) bendsOutward(k Side) bool { return rising(s.beyondShoulder(k, risesBy)) }

func rising(up, down int) bool { return up >= leastRising && down*4 <= up }

// beyondShoulder counts the points beyond a side's shoulder that stand over its face carried on, and those that lie under it,
// by so many mm or more.
func (s *Station) beyondShoulder(k Side, by float64) (up, down int) {
	f := &s.Side[k]
	if !f.Found || f.Tangent == (Point2{}) {
		return 0, 0
	}
	for _, p := range s.Points {
		d := sub(p, f.Shoulder)
		along, high := dot(d, f.Tangent), dot(d, f.Normal)
		if along <= 0 || along > risesWithin || math.Abs(high) < by {
			continue
		}
		if high > 0 {
			up++
		} else {
			down++
		}
	}
	return up, down
}
