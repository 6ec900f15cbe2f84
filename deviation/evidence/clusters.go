package evidence

import (
	"strconv"

	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/mesh"
)

const (
	clusterHeader = "cluster,state,verdict,area_mm2,length_mm,width_mm,peak_mm,peak_U_mm,mean_mm,x_mm,y_mm,z_mm,vertex,points,excess_mm3"
	// mostCalled is how many regions a picture numbers: more labels than that hide what they point at.
	mostCalled = 8
	// leastCalled, mm², is the area from which a region that may be in tolerance after all is numbered too: a fingertip.
	leastCalled = 100
)

// clusterResult is a region beyond the tolerance: a row of clusters.csv.
type clusterResult struct {
	Cluster int    `json:"cluster"`
	State   string `json:"state"`
	Verdict string `json:"verdict"`
	Area    num    `json:"area_mm2"`
	Size    [2]num `json:"size_mm"`
	Peak    num    `json:"peak_mm"`
	PeakU   num    `json:"peak_U_mm"`
	Mean    num    `json:"mean_mm"`
	Point   [3]num `json:"point_mm"`
	Vertex  int    `json:"vertex"`
	Points  int    `json:"points"`
	Excess  num    `json:"excess_mm3"`
}

func clusterOf(k int, c *deviation.Cluster, m *mesh.Mesh) clusterResult {
	p := m.Vertices[c.Peak]
	return clusterResult{
		Cluster: k + 1, State: c.State.String(), Verdict: c.Verdict.String(), Area: mm(c.Area), Size: [2]num{mm(c.Size[0]), mm(c.Size[1])},
		Peak: val(c.Value), PeakU: num{c.Value.U, mmDecimals, c.HasU}, Mean: mm(c.Mean), Point: mm3(p),
		Vertex: c.Peak, Points: c.Points, Excess: mm(c.Excess),
	}
}

func clusterTable(r *Record) []byte {
	t := newTable(clusterHeader)
	for k := range r.Surface.Clusters.List {
		c := clusterOf(k, &r.Surface.Clusters.List[k], r.Mesh)
		t.row(strconv.Itoa(c.Cluster), c.State, c.Verdict, c.Area.String(), c.Size[0].String(), c.Size[1].String(),
			c.Peak.String(), c.PeakU.String(), c.Mean.String(), c.Point[0].String(), c.Point[1].String(), c.Point[2].String(),
			strconv.Itoa(c.Vertex), strconv.Itoa(c.Points), c.Excess.String())
	}
	return t.bytes()
}

// callOuts are the worst regions, numbered as in clusters.csv, without small ones
// that are undecided, and the named points.
func callOuts(r *Record) []chart.CallOut {
	var out []chart.CallOut
	for k := range r.Surface.Clusters.List {
		c := &r.Surface.Clusters.List[k]
		if len(out) == mostCalled {
			break
		}
		if c.State != deviation.BeyondByU && c.Area < leastCalled {
			continue
		}
		out = append(out, chart.CallOut{At: r.Mesh.Vertices[c.Peak], Label: strconv.Itoa(k + 1), Text: signed(c.Value.V) + " mm", Verdict: c.Verdict})
	}
	for _, p := range r.Points {
		if p.Spot.Value.OK {
			out = append(out, chart.CallOut{At: p.Spot.Foot, Label: p.Name, Text: signed(p.Spot.Value.V) + " mm", Verdict: p.Verdict})
		}
	}
	return out
}
