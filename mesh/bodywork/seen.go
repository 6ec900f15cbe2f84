package bodywork

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	nearNose     = 10 * math.Pi / 180 // definitions: seen when a point lies within 10 degrees of the nose
	leastArc     = 25 * math.Pi / 180 // definitions: unseen below 25 degrees of arc
	leastPoints  = 4
	noFaceShare  = 0.1 // of the zone's samples: below, the face zone is not there
	clearShare   = 0.5 // above, it clearly is
	arcClearance = 4 * math.Pi / 180
)

// ScanStations returns the truth of every station of the scan, seam by seam:
// figures from the formula, and from the samples what of it was seen.
func (j *Job) ScanStations(ctx context.Context, progress mesh.Progress) ([]StationTruth, error) {
	var out []StationTruth
	sizes := zoneSamples(j)
	for n, seam := range j.Seams {
		stations := pathStations(seam.Path, StationEvery)
		tally := j.tally(seam, stations)
		for i, s := range stations {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			t := j.scanned.stationTruth(seam, i+1, s)
			j.judge(&t, tally[i], seam, sizes)
			out = append(out, t)
			progress.Report((float64(n) + float64(i+1)/float64(len(stations))) / float64(len(j.Seams)))
		}
	}
	return out, nil
}

// seenOf is what of one side of a station was sampled.
type seenOf struct {
	arcs []float32
	face int
	web  int
}

// tally sorts the scan's samples by station and side.
func (j *Job) tally(seam SeamSpec, stations []pathStation) [][2]seenOf {
	out := make([][2]seenOf, len(stations))
	for i, o := range j.Origins {
		side := -1
		for k, e := range seam.edges {
			if int(o.Edge) == e {
				side = k
			}
		}
		if side < 0 && o.Part != Membrane {
			continue
		}
		p := j.ReferenceFromScan.Apply(j.Scan.Vertices[i])
		for s := range stations {
			d := p.Sub(stations[s].p)
			if math.Abs(d.Dot(stations[s].f)) > bandReach || d.Norm() > 40 {
				continue
			}
			switch {
			case o.Part == Membrane:
				out[s][0].web++
			case o.Part == Roll && o.Arc > 0:
				out[s][side].arcs = append(out[s][side].arcs, o.Arc)
			case o.Part == Face && o.Arc >= faceFrom && o.Arc <= faceTo:
				out[s][side].face++
			}
		}
	}
	return out
}

// zoneSamples returns how many samples the whole face zone of a station holds.
func zoneSamples(j *Job) float64 {
	return 2 * bandReach * (faceTo - faceFrom) / (j.stripStep * j.stripStep)
}

// judge fills in what was seen and the state that follows.
func (j *Job) judge(t *StationTruth, seen [2]seenOf, seam SeamSpec, zone float64) {
	t.State, t.Clear = "measured", true
	for k := range seen {
		to, off := 0.0, math.Inf(1)
		for _, a := range seen[k].arcs {
			to = max(to, float64(a))
			off = min(off, math.Abs(float64(a)-t.NoseArc[k]))
		}
		t.SeenTo[k], t.ArcPoints[k] = to, len(seen[k].arcs)
		switch {
		case off <= nearNose:
			t.NoseState[k] = "seen"
		case to < leastArc || len(seen[k].arcs) < leastPoints:
			t.NoseState[k] = "unseen"
			t.State = "nose-unseen"
		default:
			t.NoseState[k] = "carried"
		}
		if math.Abs(to-leastArc) < arcClearance {
			t.Clear = false
		}
		t.FaceShare[k] = min(1, float64(seen[k].face)/zone)
	}
	for k := range seen {
		if t.FaceShare[k] < noFaceShare {
			t.State = "no-face"
			if len(seen[k].arcs) == 0 && seen[k].face == 0 {
				t.State = "side-missing"
			}
		} else if t.FaceShare[k] < clearShare {
			t.Clear = false
		}
	}
	lo, hi := j.view.web[0], j.view.web[1]
	if seam.edges[0] == doorRear && hi > lo {
		switch z := t.P.Z; {
		case z >= lo && z <= hi:
			t.State = "bridged"
			t.Clear = z >= lo+bandReach && z <= hi-bandReach
		case z > lo-bandReach && z < hi+bandReach:
			t.Clear = false
		}
	}
}

// Placed returns a scan vertex in the reference's frame.
func (j *Job) Placed(vertex int) geom.Vec {
	return j.ReferenceFromScan.Apply(j.Scan.Vertices[vertex])
}
