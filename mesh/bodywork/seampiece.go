package bodywork

import (
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// SeamPieceOptions describe two flat hemmed panels along a straight shut line.
// A zero radius makes a sharp edge; other zero values are what they say.
type SeamPieceOptions struct {
	Radius  [2]float64 // mm, of the rollovers of side A and B
	Gap     float64    // mm, between the noses along A's face, A being the master
	Flush   float64    // mm, B's shoulder above A's face
	Angle   float64    // radians, positive: B's face falls away
	Length  float64    // mm along the seam; 0: 200
	Width   float64    // mm of face behind each shoulder; 0: 40
	Spacing float64    // mm between samples; 0: 1.2
	ArcStep float64    // radians between samples around a rollover; 0: Spacing over the radius, at most 30 degrees
	Seen    [2]float64 // radians of arc sampled from the shoulder on; 0: 180 degrees
	Return  float64    // mm of hem return behind a rollover seen to 180 degrees
	Noise   float64    // mm along the normal, one standard deviation
	Seed    uint64
	Jitter  float64 // share of the spacing that samples are strewn by, at most 0.45
}

// SeamPiece is two panels, the path between them and the truth that holds at every station.
type SeamPiece struct {
	Mesh  *mesh.Mesh
	Path  []geom.Vec  // along +Y; side A lies at -X, the outside is +Z
	Truth [2]Measures // with A and with B as master, S along X and H along Z from the path
	Sides [2]Profile
}

// NewSeamPiece makes a piece. Walking along +Y with +Z up, side A is on the
// left (-X): A's face lies in Z = 0 and its nose at X = -Gap/2.
func NewSeamPiece(o SeamPieceOptions) *SeamPiece {
	if o.Length == 0 {
		o.Length = 200
	}
	if o.Width == 0 {
		o.Width = 40
	}
	if o.Spacing == 0 {
		o.Spacing = 1.2
	}
	p := &SeamPiece{Path: []geom.Vec{{}, {Y: o.Length}}}
	p.Sides[0] = CircleProfile(Point2{-float64(o.Gap/2) - o.Radius[0], 0}, Point2{1, 0}, o.Radius[0])
	// B's tangent toward the gap rises when its face falls away from A.
	sin, cos := geom.Sincos(o.Angle)
	tangent := Point2{-cos, sin}
	b := CircleProfile(Point2{0, o.Flush}, tangent, o.Radius[1])
	nose := b.Arc(noseArc(b, Point2{-1, 0}))
	p.Sides[1] = CircleProfile(Point2{float64(o.Gap/2) - nose.S, o.Flush}, tangent, o.Radius[1])
	p.Truth = [2]Measures{Measure(p.Sides, 0), Measure(p.Sides, 1)}
	a := p.strip(o, 0)
	other := p.strip(o, 1)
	first := uint32(len(a.Vertices))
	a.Vertices = append(a.Vertices, other.Vertices...)
	for _, f := range other.Faces {
		a.Faces = append(a.Faces, [3]uint32{f[0] + first, f[1] + first, f[2] + first})
	}
	p.Mesh = a
	return p
}

// strip samples one side.
func (p *SeamPiece) strip(o SeamPieceOptions, side int) *mesh.Mesh {
	profile, r := p.Sides[side], o.Radius[side]
	seen := o.Seen[side]
	if seen == 0 {
		seen = math.Pi
	}
	// d runs along the profile: negative on the face, then arc length, then the return.
	arc := float64(r * seen)
	var at []float64
	add := func(from, to, step float64) {
		n := steps(to-from, step)
		for i := 1; i <= n; i++ {
			at = append(at, from+(to-from)*float64(i)/float64(n))
		}
	}
	at = append(at, -o.Width)
	add(-o.Width, 0, o.Spacing)
	if r > 0 {
		step := o.ArcStep
		if step == 0 {
			step = min(o.Spacing/r, mostRollStep)
		}
		add(0, arc, float64(r*step))
		if o.Return > 0 && seen == math.Pi {
			add(arc, arc+o.Return, o.Spacing)
		}
	}
	nv := steps(o.Length, o.Spacing)
	sample := func(i, k int) geom.Vec {
		random := keyed(o.Seed, 'q', uint64(side), uint64(i), uint64(k))
		across, along := random.uniform(), random.uniform()
		d, y := at[i], o.Length*float64(k)/float64(nv)
		// Shoulders and ends stay where they are.
		if i > 0 && i+1 < len(at) && d != 0 {
			d += float64(o.Jitter * min(at[i]-at[i-1], at[i+1]-at[i]) * across)
		}
		if k > 0 && k < nv {
			y += float64(o.Jitter * o.Length / float64(nv) * along)
		}
		q, n := profile.along(d)
		move := o.Noise * random.normal()
		return geom.Vec{X: q.S + float64(move*n.S), Y: y, Z: q.H + float64(move*n.H)}
	}
	if side == 0 {
		return gridMesh(len(at)-1, nv, sample)
	}
	return gridMesh(len(at)-1, nv, func(i, k int) geom.Vec {
		// Walked the other way, so that faces look outward.
		q := sample(len(at)-1-i, k)
		return q
	})
}

// along returns the profile's point d mm from the shoulder, negative on the face, and its outward normal.
func (p Profile) along(d float64) (q, n Point2) {
	s := p.Arc(0)
	up := Point2{-p.Tangent.H, p.Tangent.S}
	if up.H < 0 {
		up = Point2{-up.S, -up.H}
	}
	if d <= 0 || p.Radius == 0 {
		return Point2{s.S + float64(d*p.Tangent.S), s.H + float64(d*p.Tangent.H)}, up
	}
	phi := min(d/p.Radius, math.Pi)
	back := max(0, d-float64(math.Pi*p.Radius))
	sin, cos := geom.Sincos(phi)
	q = p.Arc(phi)
	q = Point2{q.S - float64(back*p.Tangent.S), q.H - float64(back*p.Tangent.H)}
	return q, Point2{float64(cos*up.S) + float64(sin*p.Tangent.S), float64(cos*up.H) + float64(sin*p.Tangent.H)}
}
