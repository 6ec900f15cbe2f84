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
	inward, outward := 0, 0
	for i := range stations {
		st := &stations[i]
		switch {
		case st.State == Measured:
			outward++
		case st.State == NoseUnseen && st.bendsOutward(A) && st.bendsOutward(B):
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

// bendsOutward reports whether what lies beyond a side's shoulder rises over its face, and next to nothing falls.
func (s *Station) bendsOutward(k Side) bool {
	f := &s.Side[k]
	if !f.Found || f.Tangent == (Point2{}) {
		return false
	}
	up, down := 0, 0
	for _, p := range s.Points {
		d := sub(p, f.Shoulder)
		along, high := dot(d, f.Tangent), dot(d, f.Normal)
		if along <= 0 || along > risesWithin || math.Abs(high) < risesBy {
			continue
		}
		if high > 0 {
			up++
		} else {
			down++
		}
	}
	return up >= leastRising && down*4 <= up
}
