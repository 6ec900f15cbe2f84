package words

import (
	"math"

	"shutline/app"
	"shutline/deviation"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// nearBridge, mm, is how near to a stretch where the scan runs across the gap a
// spot may be part of that membrane: a usual gap of 4 mm with both edges, and the
// few triangles beside them that the closing has bent.
const nearBridge = 10.0

// extremes says where the surface stands highest and lies lowest. A spot beside
// bridged stations may be the membrane over the gap instead of a panel: that is
// said, and the highest or lowest spot of the rest stands beside it.
func (w Writer) extremes(c *Card, o *app.Outcome) {
	for _, sign := range []float64{1, -1} {
		all, rest := extremeOf(o, sign, nil), -1
		if all < 0 {
			continue
		}
		value, at := o.Compared.Field.Deviation[all], o.Placed.Mesh.Vertices[all]
		if sign*value <= 0 {
			continue
		}
		r, st := membrane(o, at)
		data := fields{"MM": MM(math.Abs(value)), "Spot": Spot(at)}
		said := w.say("surface.proud", "At its highest it stands {{.MM}} proud, at {{.Spot}}.", data)
		if sign < 0 {
			said = w.say("surface.low", "At its lowest it lies {{.MM}} low, at {{.Spot}}.", data)
		}
		if atReach(o, value) { // it may go on
			data["MM"] = MM(o.Inspection.Surface.Reach)
			said = w.say("surface.proud.reach", "At its highest it stands proud by {{.MM}} and more, at {{.Spot}}: that is the reach, beyond which nothing is measured.", data)
			if sign < 0 {
				said = w.say("surface.low.reach", "At its lowest it lies low by {{.MM}} and more, at {{.Spot}}: that is the reach, beyond which nothing is measured.", data)
			}
		}
		if r != nil {
			data["Name"], data["K"] = r.Seam.Name, r.Stations[st].Index
			said += " " + w.say("surface.membrane", "That is beside station {{.K}} of {{.Name}}, where the scan runs across the gap: it may be a membrane and no panel.", data)
			rest = extremeOf(o, sign, func(p geom.Vec) bool { r, _ := membrane(o, p); return r != nil })
		}
		c.Found = append(c.Found, Sentence{Text: said, At: &at})
		if rest < 0 {
			continue
		}
		value, at = o.Compared.Field.Deviation[rest], o.Placed.Mesh.Vertices[rest]
		data = fields{"MM": Signed(value), "Spot": Spot(at)}
		said = w.say("surface.proud.rest", "Away from such stations the highest spot reads {{.MM}}, at {{.Spot}}.", data)
		if sign < 0 {
			said = w.say("surface.low.rest", "Away from such stations the lowest spot reads {{.MM}}, at {{.Spot}}.", data)
		}
		c.Found = append(c.Found, Sentence{Text: said, At: &at})
	}
}

// atReach reports whether a deviation is as large as is measured at all while points lie beyond that: it is the reach that ends
// there, and not the part.
func atReach(o *app.Outcome, value float64) bool {
	const near = 0.98 // of the reach: points stand apart
	reach := o.Inspection.Surface.Reach
	return reach > 0 && o.Compared.Summary.Count[deviation.BeyondReach] > 0 && math.Abs(value) >= float64(near*reach)
}

// extremeOf returns the measured vertex with the largest deviation times sign
// that is not to be skipped, the first of equal ones; -1 for none.
func extremeOf(o *app.Outcome, sign float64, skip func(geom.Vec) bool) int {
	if o.Placed == nil || o.Placed.Mesh == nil {
		return -1
	}
	// What is seldom so comes first: a window waits for the sentences about millions of points.
	f, best, most := o.Compared.Field, -1, math.Inf(-1)
	for i, d := range f.Deviation {
		if !(sign*d > most) || f.State[i] != deviation.Measured || skip != nil && skip(o.Placed.Mesh.Vertices[i]) {
			continue
		}
		best, most = i, sign*d
	}
	return best
}

// membrane returns the seam and the index of the bridged station that p lies
// beside, nil for none. Where a membrane begins is only known to the next station
// that is not bridged, so it is taken to reach that far.
func membrane(o *app.Outcome, p geom.Vec) (*gapflush.Result, int) {
	for _, r := range o.Seams {
		for i := range r.Stations {
			if r.Stations[i].State != gapflush.Bridged {
				continue
			}
			at := r.Stations[i].P
			for _, k := range []int{max(i-1, 0), min(i+1, len(r.Stations)-1)} {
				if toSegment(p, at, r.Stations[k].P) <= nearBridge {
					return r, i
				}
			}
		}
	}
	return nil, 0
}

// toSegment is the distance from p to the segment from a to b, mm.
func toSegment(p, a, b geom.Vec) float64 {
	d, t := b.Sub(a), 0.0
	if l := d.Norm2(); l > 0 {
		t = max(0, min(1, p.Sub(a).Dot(d)/l))
	}
	return p.Dist(a.Add(d.Scale(t)))
}
