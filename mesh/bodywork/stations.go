package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// StationEvery is the distance of stations along a seam's path, mm.
const StationEvery = 25.0

const (
	midLineReach = 15.0 // mm each way, of the quadratic through the mid-line of two edges
	bandReach    = 8.0  // mm each way along the path, of the vertices a station uses
	faceFrom     = 2.5  // mm behind the shoulder
	faceTo       = 12.5
)

// StationTruth is what a station must find.
type StationTruth struct {
	Seam     string
	Index    int     // from 1
	Along    float64 // mm on the path
	P        geom.Vec
	F        geom.Vec // unit, along the seam
	Measures          // of the section; its points in the plane's own axes
	Shoulder [2]geom.Vec
	Nose     [2]geom.Vec
	Radius   [2]float64 // mm

	// Of the scan alone:
	SeenTo    [2]float64 // radians of arc sampled within the band
	ArcPoints [2]int     // samples beyond the shoulder within the band
	NoseState [2]string  // seen, carried, unseen
	FaceShare [2]float64 // share of the face zone that was sampled
	State     string     // the expected state, in the words of the results
	Clear     bool       // the expected state does not hang on a threshold
}

// pathStation is a station's place on a path.
type pathStation struct {
	along float64
	p, f  geom.Vec
}

// pathStations returns the stations of a polyline: every mm apart, starting
// half a step in; f is the direction of the path over 10 mm each way.
func pathStations(path []geom.Vec, every float64) []pathStation {
	length := 0.0
	for i := 1; i < len(path); i++ {
		length += path[i].Dist(path[i-1])
	}
	var out []pathStation
	for i := 0; ; i++ {
		s := float64(every/2) + float64(every*float64(i))
		if s >= length {
			return out
		}
		f := onPath(path, s+10).Sub(onPath(path, s-10)).Unit()
		out = append(out, pathStation{s, onPath(path, s), f})
	}
}

// onPath returns the point at arc length s, held to the path's ends.
func onPath(path []geom.Vec, s float64) geom.Vec {
	if s <= 0 {
		return path[0]
	}
	for i := 1; i < len(path); i++ {
		l := path[i].Dist(path[i-1])
		if s <= l {
			return path[i-1].Lerp(path[i], s/l)
		}
		s -= l
	}
	return path[len(path)-1]
}

// plane is a station's plane: through p, square to f.
type plane struct{ p, f geom.Vec }

// meet returns z at which the curve at crosses the plane, near z0.
func (q plane) meet(z0 float64, at func(z float64) geom.Vec) float64 {
	h := func(z float64) float64 { return at(z).Sub(q.p).Dot(q.f) }
	z1 := z0 - h(z0)
	h0, h1 := h(z0), h(z1)
	for range 50 {
		if h1 == h0 || math.Abs(h1) < 1e-12 {
			break
		}
		z2 := z1 - h1*(z1-z0)/(h1-h0)
		z0, h0, z1 = z1, h1, z2
		h1 = h(z1)
	}
	return z1
}

// profile returns an edge's section with a plane in the axes a, u.
func (e *edge) profile(q plane, a, u geom.Vec) (Profile, func(phi float64) geom.Vec) {
	arc := func(phi float64) geom.Vec {
		at := func(z float64) geom.Vec {
			s := e.at(z)
			p, _ := s.roll(phi)
			return p
		}
		return at(q.meet(q.p.Z, at))
	}
	flat := func(v geom.Vec) Point2 { return Point2{v.Sub(q.p).Dot(a), v.Sub(q.p).Dot(u)} }
	z := q.meet(q.p.Z, func(z float64) geom.Vec { p, _ := e.at(z).roll(0); return p })
	_, n := e.skin.at(e.shoulderX(z), z)
	t := q.f.Cross(n).Unit() // along +a: f x u
	tangent := Point2{t.Dot(a), t.Dot(u)}
	if e.side < 0 {
		tangent = Point2{-tangent.S, -tangent.H}
	}
	return Profile{Tangent: tangent, Radius: hemRadius, Arc: func(phi float64) Point2 { return flat(arc(phi)) }}, arc
}

// direction returns the tangent of the mid-line of a seam's two edges at a
// station: the quadratic through the middles of the shoulders over midLineReach.
func (v *side) direction(edges [2]int, s pathStation) geom.Vec {
	f := s.f
	for range 3 {
		// For places evenly spaced about 0 a quadratic's slope there is that of the straight line (least squares).
		var slope geom.Vec
		sum := 0.0
		const steps = 60
		for i := -steps; i <= steps; i++ {
			d := midLineReach * float64(i) / steps
			q := plane{s.p.AddScaled(d, f), f}
			var mid geom.Vec
			for _, k := range edges {
				e := &v.edges[k]
				at := func(z float64) geom.Vec { p, _ := e.skin.at(e.shoulderX(z), z); return p }
				mid = mid.AddScaled(0.5, at(q.meet(q.p.Z, at)))
			}
			slope = slope.AddScaled(d, mid.Sub(s.p))
			sum += float64(d * d)
		}
		f = slope.Unit()
	}
	return f
}

// stationTruth computes a station of a seam on one side (drawn, or as scanned).
func (v *side) stationTruth(seam SeamSpec, index int, s pathStation) StationTruth {
	f := v.direction(seam.edges, s)
	_, normal := v.edges[seam.edges[0]].nominal.at(s.p.X, s.p.Z)
	u := normal.AddScaled(-normal.Dot(f), f).Unit()
	a := f.Cross(u)
	t := StationTruth{Seam: seam.Name, Index: index, Along: s.along, P: s.p, F: f, Radius: seam.Radius}
	var sides [2]Profile
	var arcs [2]func(float64) geom.Vec
	for k := range sides {
		sides[k], arcs[k] = v.edges[seam.edges[k]].profile(plane{s.p, f}, a, u)
	}
	t.Measures = Measure(sides, seam.Master)
	for k := range sides {
		t.Shoulder[k], t.Nose[k] = arcs[k](0), arcs[k](t.NoseArc[k])
	}
	return t
}

// ReferenceStations returns the truth of every station of the drawing, seam by seam.
func (j *Job) ReferenceStations() []StationTruth {
	var out []StationTruth
	for _, seam := range j.Seams {
		for i, s := range pathStations(seam.Path, StationEvery) {
			t := j.nominal.stationTruth(seam, i+1, s)
			t.State, t.Clear = "measured", true
			t.NoseState = [2]string{"seen", "seen"}
			t.FaceShare = [2]float64{1, 1}
			t.SeenTo = [2]float64{math.Pi, math.Pi}
			out = append(out, t)
		}
	}
	return out
}

// StationsAt returns gap and flush of a seam of the scanned side at stations so
// many mm apart, by the formula alone: what of them was seen is not looked at.
func (j *Job) StationsAt(seam SeamSpec, every float64) []StationTruth {
	return stationsOf(j.scanned, seam, every)
}

// ReferenceStationsAt is the same of the drawing.
func (j *Job) ReferenceStationsAt(seam SeamSpec, every float64) []StationTruth {
	return stationsOf(j.nominal, seam, every)
}

func stationsOf(v *side, seam SeamSpec, every float64) (out []StationTruth) {
	for i, s := range pathStations(seam.Path, every) {
		out = append(out, v.stationTruth(seam, i+1, s))
	}
	return out
}
