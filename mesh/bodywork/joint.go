package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Form is what lies beyond a shoulder.
type Form int

// The forms of edges.
const (
	Round Form = iota
	Chamfered
	SharpCorner
)

// JointEdge is one side's edge. Walls lie square to their face or undercut; a flange's or a chamfer's may lean toward the other panel instead.
type JointEdge struct {
	Form     Form
	Radius   float64 // mm, of a round edge
	Cut      float64 // mm along the face, of a chamfer
	Fall     float64 // radians, of a chamfer's facet below the face
	Wall     float64 // mm, seen of the wall below a corner or facet, and of a flange that runs on straight from a round edge
	Undercut float64 // radians by which the wall leans back under its panel; negative, of a flange or a chamfer: toward the other panel
	Seen     float64 // radians of a round edge seen from the shoulder on; 0: 180 degrees
	Return   float64 // mm of hem return behind a round edge seen to 180 degrees
}

// JointOptions describe two panels with a straight shut line between them.
type JointOptions struct {
	Edge      [2]JointEdge
	Gap       float64    // mm between the noses along A's face, A being the master; negative: the panels overlap
	Flush     float64    // mm, B's shoulder above A's tangent plane
	Angle     float64    // radians, positive: B's face falls away
	Curvature [2]float64 // 1/mm, of the faces across the seam, positive: falling away from the shoulder
	Length    float64    // mm along the seam
	Width     float64    // mm of face behind each shoulder
	Spacing   float64    // mm between samples
	Noise     float64    // mm along the normal, one standard deviation
	Jitter    float64    // share of the spacing that samples are strewn by
	Seed      uint64
}

// Joint is two panels, the path between them and the truth that holds at every station.
type Joint struct {
	Mesh       *mesh.Mesh
	Path       []geom.Vec // along +Y; side A lies at -X, the outside is +Z
	Gap, Flush float64    // mm, A being the master
	Shoulder   [2]Point2  // S along X, H along Z
	Nose       [2]Point2
}

// mostBelow is how far a nose lies under its shoulder at most, mm, besides the radius.
const mostBelow = 3.0

// NewJoint makes two panels. Nose and shoulder are those of the definitions: of a
// round edge the place that lies farthest along A's face, on its roll or down a flange that leads on toward the other panel, of a
// chamfer the lower end of its facet, or down a wall that leads on so, of a sharp corner the corner itself.
func NewJoint(o JointOptions) *Joint {
	j := &Joint{Path: []geom.Vec{{}, {Y: o.Length}}, Gap: o.Gap, Flush: o.Flush}
	sin, cos := geom.Sincos(o.Angle)
	tangent := [2]Point2{{1, 0}, {-cos, sin}}
	normal := [2]Point2{{0, 1}, {sin, cos}}
	for k, e := range o.Edge {
		toward := Point2{1, 0}
		if k == 1 {
			toward.S = -1
		}
		var nose Point2
		switch e.Form {
		case Round:
			nose = Point2{float64(e.Radius * (toward.S - normal[k].S)), -float64(e.Radius * normal[k].H)}
			if end, ok := e.flangeNose(tangent[k], normal[k], toward); ok {
				nose = end
			}
		case Chamfered:
			down := float64(e.Cut * geom.Tan(e.Fall))
			nose = Point2{float64(e.Cut*tangent[k].S) - float64(down*normal[k].S), float64(e.Cut*tangent[k].H) - float64(down*normal[k].H)}
			if more := e.wallLeads(tangent[k], normal[k], toward); e.Wall > 0 {
				nose = Point2{nose.S + more.S, nose.H + more.H}
			}
		}
		j.Shoulder[k] = Point2{float64(toward.S*-o.Gap/2) - nose.S, 0}
		if k == 1 {
			j.Shoulder[k].H = o.Flush
		}
		j.Nose[k] = Point2{j.Shoulder[k].S + nose.S, j.Shoulder[k].H + nose.H}
	}
	var parts []*mesh.Mesh
	for k := range o.Edge {
		w := walk{edge: o.Edge[k], shoulder: j.Shoulder[k], t: tangent[k], n: normal[k], curvature: o.Curvature[k]}
		parts = append(parts, w.strip(&o, k))
	}
	j.Mesh = Together(parts...)
	return j
}

// flangeNose is where, from the shoulder, a flange ends, or is as deep as a nose lies at most, whose direction down leads on toward
// the other panel; ok is false where there is none or it leads away.
func (e *JointEdge) flangeNose(tangent, normal, toward Point2) (nose Point2, ok bool) {
	if e.Wall <= 0 {
		return nose, false
	}
	sin, cos := geom.Sincos(math.Pi/2 + e.Undercut)
	down := Point2{float64(cos*tangent.S) - float64(sin*normal.S), float64(cos*tangent.H) - float64(sin*normal.H)}
	if down.dot(toward) <= 0 {
		return nose, false
	}
	fallen := float64(e.Radius * (1 - cos))
	long := float64(min(e.Wall, (e.Radius+mostBelow-fallen)/sin))
	along, below := float64(e.Radius*sin)+float64(long*cos), fallen+float64(long*sin)
	return Point2{float64(along*tangent.S) - float64(below*normal.S), float64(along*tangent.H) - float64(below*normal.H)}, true
}

// wallLeads is how a chamfer's wall runs on from its facet to where it ends, or is as deep as a nose lies at most, where it leads on toward
// the other panel.
func (e *JointEdge) wallLeads(tangent, normal, toward Point2) Point2 {
	sin, cos := geom.Sincos(-e.Undercut)
	down := Point2{float64(sin*tangent.S) - float64(cos*normal.S), float64(sin*tangent.H) - float64(cos*normal.H)}
	if down.dot(toward) <= 0 {
		return Point2{}
	}
	long := min(e.Wall, mostBelow/cos)
	return Point2{float64(long * down.S), float64(long * down.H)}
}

// walk leads over a panel's face and edge.
type walk struct {
	edge      JointEdge
	shoulder  Point2
	t, n      Point2
	curvature float64
}

// lengths returns the stretches beyond the shoulder, mm.
func (w *walk) lengths() []float64 {
	e := &w.edge
	switch e.Form {
	case Round:
		if e.Wall > 0 {
			return []float64{float64(e.Radius * (math.Pi/2 + e.Undercut)), e.Wall}
		}
		seen := e.Seen
		if seen == 0 {
			seen = math.Pi
		}
		l := []float64{float64(e.Radius * seen)}
		if seen == math.Pi && e.Return > 0 {
			l = append(l, e.Return)
		}
		return l
	case Chamfered:
		_, cos := geom.Sincos(e.Fall)
		return []float64{e.Cut / cos, e.Wall}
	}
	return []float64{e.Wall}
}

// at returns the point d mm beyond the shoulder, negative on the face, and its
// outward normal; a corner belongs to what lies before it.
func (w *walk) at(d float64) (q, n Point2) {
	axes := func(a, b float64) Point2 {
		return Point2{float64(a*w.t.S) + float64(b*w.n.S), float64(a*w.t.H) + float64(b*w.n.H)}
	}
	from := func(p Point2, v Point2) Point2 { return Point2{p.S + v.S, p.H + v.H} }
	if d <= 0 {
		slope := float64(w.curvature * d)
		l := math.Sqrt(1 + float64(slope*slope))
		return from(w.shoulder, axes(d, -float64(w.curvature*d*d/2))), axes(slope/l, 1/l)
	}
	e := &w.edge
	l := w.lengths()
	switch e.Form {
	case Round:
		if d > l[0] && e.Wall > 0 {
			sin, cos := geom.Sincos(math.Pi/2 + e.Undercut)
			end := from(w.shoulder, axes(e.Radius*sin, -e.Radius*(1-cos)))
			return from(end, axes((d-l[0])*cos, -(d-l[0])*sin)), axes(sin, cos)
		}
		if d > l[0] && len(l) > 1 { // rounding may lead a hair past an end
			return from(w.shoulder, axes(-(d-l[0]), -2*e.Radius)), axes(0, -1)
		}
		sin, cos := geom.Sincos(d / e.Radius)
		return from(w.shoulder, axes(e.Radius*sin, -e.Radius*(1-cos))), axes(sin, cos)
	case Chamfered:
		sin, cos := geom.Sincos(e.Fall)
		if d <= l[0] {
			return from(w.shoulder, axes(d*cos, -d*sin)), axes(sin, cos)
		}
		us, uc := geom.Sincos(e.Undercut)
		end := from(w.shoulder, axes(l[0]*cos, -l[0]*sin))
		return from(end, axes(-(d-l[0])*us, -(d-l[0])*uc)), axes(uc, -us)
	}
	us, uc := geom.Sincos(e.Undercut)
	return from(w.shoulder, axes(-d*us, -d*uc)), axes(uc, -us)
}

// strip samples a panel. Only the ends of the strip stay where they are: corners
// and shoulders lie between samples as they do in a scan.
func (w *walk) strip(o *JointOptions, side int) *mesh.Mesh {
	at := []float64{-o.Width}
	add := func(to, step float64) {
		from := at[len(at)-1]
		n := steps(to-from, step)
		for i := 1; i <= n; i++ {
			at = append(at, from+(to-from)*float64(i)/float64(n))
		}
	}
	add(0, o.Spacing)
	end := 0.0
	for i, l := range w.lengths() {
		if l <= 0 {
			continue
		}
		step := o.Spacing
		if i == 0 && w.edge.Form == Round {
			step = min(step, mostRollStep*w.edge.Radius)
		}
		end += l
		add(end, step)
	}
	nv := steps(o.Length, o.Spacing)
	sample := func(i, k int) geom.Vec {
		random := keyed(o.Seed, 'j', uint64(side), uint64(i), uint64(k))
		across, along := random.uniform(), random.uniform()
		d, y := at[i], o.Length*float64(k)/float64(nv)
		if i > 0 && i+1 < len(at) {
			d += float64(o.Jitter * min(at[i]-at[i-1], at[i+1]-at[i]) * across)
		}
		if k > 0 && k < nv {
			y += float64(o.Jitter * o.Length / float64(nv) * along)
		}
		q, n := w.at(d)
		move := o.Noise * random.normal()
		return geom.Vec{X: q.S + float64(move*n.S), Y: y, Z: q.H + float64(move*n.H)}
	}
	if side == 0 {
		return gridMesh(len(at)-1, nv, sample)
	}
	return gridMesh(len(at)-1, nv, func(i, k int) geom.Vec { return sample(len(at)-1-i, k) })
}
