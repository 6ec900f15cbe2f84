package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// variantPoints is how many points of the scan another reading is tried with.
	variantPoints = 60000

	// Another reading explains the scan when at least readingLeast of it then lies
	// close to the reference, and clearly more than as it is: by readingGain as a
	// factor or, where it leaves fewer motions open, by readingMore.
	readingLeast = 0.5
	readingGain  = 1.15
	readingMore  = 0.01

	// A crop of 40 % of a part has 0.3 of its diagonal or more; a scan with its
	// surroundings rarely more than twice.
	ratioLeast, ratioMost = 0.25, 2.0
)

// reading is another way to read a scan.
type reading struct {
	what   string // completes "it looks ..."
	remedy string
	scale  float64 // of lengths
	mirror bool
	turn   bool // the normals
}

// otherwise tries other readings of a scan whose best pose leaves doubt, and
// returns an error that names the one that explains it; nil for none.
func (f *fit) otherwise(ctx context.Context, best *found, readings []reading) error {
	for _, r := range readings {
		v := f.variant(r)
		b, err := v.look(ctx, brief, nil, nil)
		if err != nil {
			return err
		}
		if b.explains(best, r.scale) {
			return f.explained(&r, best, &b)
		}
	}
	return nil
}

// explained is the error of a scan that another reading explains.
func (f *fit) explained(r *reading, best, b *found) error {
	kind := ErrReadWrongly
	if r.mirror {
		kind = ErrNoOverlap
	}
	return fmt.Errorf("align: the scan looks %s: so read, %.0f %% of it would lie within %.2f mm of the reference with a scatter of %.2f mm, as it is %.0f %% with %.2f mm at best; %s: %w",
		r.what, 100*b.q.Fine, max(fineLeast, 4*f.settings.Noise), b.p.RMS, 100*best.q.Fine, best.q.Scatter, r.remedy, kind)
}

// explains reports whether a reading's best pose is clearly better than the plain one.
func (b *found) explains(plain *found, scale float64) bool {
	if !b.p.RMSKnown || b.q.Fine < readingLeast || b.p.directionsFree > mostFree {
		return false
	}
	fewer := b.p.directionsFree < plain.p.directionsFree || !b.p.Ambiguous && plain.p.Ambiguous
	if scale > 1 && fewer {
		return true // what is small enough lies close to anything
	}
	return b.q.Fine > readingGain*plain.q.Fine || fewer && b.q.Fine > plain.q.Fine+readingMore
}

var mirrored = reading{what: "mirrored", remedy: "it may be the part of the other side, or the reference has to be mirrored", scale: 1, mirror: true}

// plainReadings returns the units that bring the scan near the reference's size,
// where it is not, and its other side where little of it fits.
func (f *fit) plainReadings(best *found) []reading {
	var out []reading
	ratio := f.search.box.Diagonal() / f.ref.diag
	if ratio < ratioLeast || ratio > ratioMost {
		for _, u := range [...]struct {
			scale float64
			words string
		}{
			{10, "as if its centimetres were read as millimetres"}, {25.4, "as if its inches were read as millimetres"}, {1000, "as if its metres were read as millimetres"},
			{0.1, "as if the reference's centimetres were read as millimetres"}, {1 / 25.4, "as if the reference's inches were read as millimetres"}, {1e-3, "as if the reference's metres were read as millimetres"},
		} {
			if r := ratio * u.scale; r >= ratioLeast && r <= ratioMost {
				out = append(out, reading{what: u.words, remedy: fmt.Sprintf("state the unit (lengths times %.4g would fit)", u.scale), scale: u.scale})
			}
		}
	}
	if f.cloud.signed && best.q.Fine < readingLeast {
		out = append(out, reading{what: "inside out", remedy: "turn its faces or normals round, or those of the reference", scale: 1, turn: true})
	}
	return out
}

// image is the mirror image of a scan, in the plane X = 0 of its own frame, with the best pose found for it.
type image struct {
	fit  *fit
	best found
}

// read returns a point as the reading has it.
func (r *reading) read(p point) point {
	if r.mirror {
		p.p.X, p.n.X = -p.p.X, -p.n.X
	}
	if r.turn {
		p.n = p.n.Neg()
	}
	p.p = p.p.Scale(r.scale)
	return p
}

// variant returns a fit of the scan's points, read in another way, on the same reference.
func (f *fit) variant(r reading) *fit {
	points := f.cloud.points(f.byArea.draw(variantPoints, seedVariant))
	c := &cloud{mesh: &mesh.Mesh{Vertices: make([]geom.Vec, len(points))}, normals: make([]geom.Vec, len(points)), area: make([]float64, len(points)), signed: f.cloud.signed}
	for i, p := range points {
		p = r.read(p)
		c.mesh.Vertices[i], c.normals[i], c.area[i] = p.p, p.n, 1
	}
	c.total, c.usable = float64(len(points)), len(points)
	v := &fit{ref: f.ref, cloud: c, settings: f.settings}
	v.ready()
	return v
}

// inwardLeast of the diagonal: by how much a skin has to bulge the wrong way to be named.
const inwardLeast = 0.005

// inward returns a sentence when the reference's faces look to its inside, which
// a scan that does so too cannot show: a body whose volume is negative, or a skin
// that bulges away from the side it faces. "" for none.
func (r *reference) inward() string {
	// The mean over the area of the height above the middle, along the normal: a
	// third of it times the area is a body's volume.
	// About the box's centre first, so that one look at the faces is enough.
	var moment, sum geom.Vec
	area, bulge := 0.0, 0.0
	for f := range r.mesh.Faces {
		a, b, c := r.mesh.Corners(uint32(f))
		n := b.Sub(a).Cross(c.Sub(a))
		at, size := a.Add(b).Add(c).Scale(1.0/3).Sub(r.centre), n.Norm()
		moment, sum = moment.AddScaled(size, at), sum.Add(n)
		area += size
		bulge += at.Dot(n)
	}
	if !(area > 0) {
		return ""
	}
	bulge = (bulge - moment.Scale(1/area).Dot(sum)) / area
	const closed = 0.05 // of the area: what a body's open holes leave of the sum of its faces
	switch {
	case sum.Norm() < closed*area && bulge < 0:
		return fmt.Sprintf("The reference's faces look inward: its volume comes out as %.3g cm³. If the scan's do too, every deviation has the wrong sign: turn the faces of both.", bulge*area/6/1000)
	case sum.Norm() >= closed*area && bulge < -inwardLeast*r.diag:
		return fmt.Sprintf("The reference's faces look to its hollow side (it bulges by %.2g mm away from them on average). If that is its inside, every deviation has the wrong sign: turn the faces of scan and reference.", math.Abs(bulge))
	}
	return ""
}
