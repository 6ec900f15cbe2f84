package crosscut

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/deviation"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/section"
	"shutline/mesh/surface"
)

// ErrMisses is wrapped by the error for a plane that does not meet the scan.
var ErrMisses = errors.New("the plane does not meet the scan")

// Missed is the section of a plane that met no scan, as the error of Cut says: it has no curves, and its
// read-outs have no value.
func Missed(spec Spec, err error) *Section {
	s := &Section{Spec: spec, Missing: err.Error()}
	s.Across, s.Up = axes(spec.Normal.Unit())
	none := func(name, kind string, at ...geom.Vec) {
		r := Reading{Name: name, Kind: kind, Why: "there is no section"}
		for k := range r.At {
			r.At[k] = s.flat(at[k%len(at)])
		}
		s.Readings = append(s.Readings, r)
	}
	for _, r := range spec.Radii {
		none(r.Name, "radius", r.At)
	}
	for _, a := range spec.Angles {
		none(a.Name, "angle", a.Between[0], a.Between[1])
	}
	return s
}

// Point2 is a place in the plane: H along Across, V along Up, mm from the plane's point.
type Point2 struct{ H, V float64 }

// Spec says where to cut and what to read.
type Spec struct {
	Name   string
	Point  geom.Vec // mm
	Normal geom.Vec // need not be of unit length, not zero
	Within float64  // mm about the point; 0: the whole part
	Radii  []RadiusSpec
	Angles []AngleSpec
	// Magnify is how many times larger than the part deviations are drawn, MostMagnify at most; 0: chosen by the drawing.
	Magnify float64
}

// MostMagnify is a magnification beyond which noise fills a drawing.
const MostMagnify = 10000.0

// RadiusSpec asks for the radius of the curve at a place.
type RadiusSpec struct {
	Name   string
	At     geom.Vec // mm, on the curve or near it
	Within float64  // mm about it: the stretch that tells
}

// AngleSpec asks for the angle between two straight stretches of a curve.
type AngleSpec struct {
	Name    string
	Between [2]geom.Vec // mm, a place on each stretch
	Within  float64     // mm about each
}

// Curve is a run of the cut.
type Curve struct {
	Points []Point2
	Places []geom.Vec // the same in space
	Closed bool       // the last place leads back to the first
	// Of the scan's curves beside a reference:
	Deviation []float64 // mm; 0 where the state is not Measured
	State     []deviation.State
	Out       []Point2 // unit: outward, in the plane
}

// neighbours returns the places before and after place k: k itself at the ends of a curve that is not closed.
func (c *Curve) neighbours(k int) (before, after int) {
	n := len(c.Places)
	if c.Closed {
		return (k + n - 1) % n, (k + 1) % n
	}
	return max(0, k-1), min(n-1, k+1)
}

// Figures are the deviations along the scan's curves, each weighted by its share of their length.
type Figures struct {
	Measured, Points       int
	Lowest, Highest        verdict.Value // mm, U 0
	Mean, RMS              float64       // mm
	AtLowest, AtHighest    Point2
	PlaceLow, PlaceHighest geom.Vec
	Length                 float64 // mm of the curves
	InTolerance            float64 // 0 to 1, of the measured length
}

// Reading is a read-out.
type Reading struct {
	Name      string
	Kind      string        // "radius" or "angle"
	Scan      verdict.Value // mm, or radians
	Reference verdict.Value
	At        [2]Point2 // the place, of an angle both
	Centre    Point2    // of the scan's circle, when it has one
	Why       string    // of a scan without a number
	// WhyReference is why a reference that the plane meets has no number.
	WhyReference string
}

// Section is a cut and what it showed.
type Section struct {
	Spec             Spec
	Missing          string   // why there is no section; the rest is then empty but for Spec, axes and read-outs
	Across, Up       geom.Vec // unit: to the right and upward in drawings
	Scan, Reference  []Curve
	HasReference     bool
	Figures          Figures
	Readings         []Reading
	ReferenceMissing bool // there is one, but the plane does not meet it
	Tolerance        verdict.Tolerance
}

// Maker cuts one scan and its reference many times.
type Maker struct {
	scan      *section.Cutter
	reference *section.Cutter
	finder    *bvh.Finder
	normals   []geom.Vec
	mesh      *mesh.Mesh
	surface   *surface.Surface
	reach     float64
	tolerance verdict.Tolerance
	threads   int
}

// NewMaker indexes the placed scan, whose unit vertex normals are given, and the
// reference; refSurface is nil without one. reach is that of the deviation and t its
// tolerance, in mm. The errors are those of [bvh.Build] and [section.New].
func NewMaker(ctx context.Context, placed *mesh.Mesh, normals []geom.Vec, refSurface *surface.Surface, reach float64, t verdict.Tolerance, threads int) (*Maker, error) {
	m := &Maker{normals: normals, mesh: placed, surface: refSurface, reach: reach, tolerance: t, threads: threads}
	tree, err := bvh.Build(ctx, placed, threads, nil)
	if err != nil {
		return nil, err
	}
	index, err := section.New(ctx, placed, tree)
	if err != nil {
		return nil, err
	}
	m.scan, m.finder = index.NewCutter(), tree.NewFinder()
	if refSurface == nil {
		return m, nil
	}
	if index, err = section.New(ctx, refSurface.Mesh, refSurface.Tree()); err != nil {
		return nil, err
	}
	m.reference = index.NewCutter()
	return m, nil
}

// axes returns the directions to the right and upward in a drawing of the plane: Z
// upward, in a level plane X to the right; the right is where coordinates grow.
func axes(n geom.Vec) (across, up geom.Vec) {
	if math.Abs(n.Z) > 0.9 {
		across = geom.Vec{X: 1}.AddScaled(-n.X, n).Unit()
		up = n.Cross(across)
		if up.Y < 0 {
			up = up.Neg()
		}
		return across, up
	}
	up = geom.Vec{Z: 1}.AddScaled(-n.Z, n).Unit()
	across = up.Cross(n)
	if c := across; math.Abs(c.X) >= math.Abs(c.Y) && c.X < 0 || math.Abs(c.X) < math.Abs(c.Y) && c.Y < 0 {
		across = across.Neg()
	}
	return across, up
}

// Cut makes a section. The error wraps ErrMisses and says where the scan lies from
// the plane, or is the context's.
func (m *Maker) Cut(ctx context.Context, spec Spec) (*Section, error) {
	n := spec.Normal.Unit()
	s := &Section{Spec: spec, HasReference: m.reference != nil, Tolerance: m.tolerance}
	s.Across, s.Up = axes(n)
	var err error
	if s.Scan, err = s.curves(m.scan, n); err != nil {
		return nil, err
	}
	if len(s.Scan) == 0 {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, p := range m.mesh.Vertices {
			d := p.Sub(spec.Point).Dot(n)
			lo, hi = min(lo, d), max(hi, d)
		}
		const beside = 1e-3 // mm: single precision's step some metres out
		switch {
		case lo < -beside && hi > beside && spec.Within > 0:
			return nil, fmt.Errorf("%w within %g mm of its point; name a point on the part, or leave within out", ErrMisses, spec.Within)
		case lo < -beside && hi > beside:
			return nil, fmt.Errorf("%w but passes between parts of it", ErrMisses)
		case lo <= beside && hi >= -beside:
			return nil, fmt.Errorf("%w but touches its end: it lies from %.1f to %.1f mm along the plane's normal from its point", ErrMisses, lo, hi)
		}
		if axis, at, ok := axisPlane(spec); ok && n.At(int(axis[0]-'x')) > 0 {
			return nil, fmt.Errorf("%w, which lies from %.1f to %.1f mm along the plane's normal from its point, at %s = %.1f to %.1f mm", ErrMisses, lo, hi, axis, at+lo, at+hi)
		}
		return nil, fmt.Errorf("%w, which lies from %.1f to %.1f mm along the plane's normal from its point", ErrMisses, lo, hi)
	}
	if m.reference != nil {
		if s.Reference, err = s.curves(m.reference, n); err != nil {
			return nil, err
		}
		s.ReferenceMissing = len(s.Reference) == 0
		if err := m.compare(ctx, s); err != nil {
			return nil, err
		}
	}
	s.figures()
	s.read()
	return s, ctx.Err()
}

// curves cuts one mesh.
func (s *Section) curves(c *section.Cutter, n geom.Vec) ([]Curve, error) {
	within := math.Inf(1)
	if s.Spec.Within > 0 {
		within = s.Spec.Within
	}
	lines, err := c.Near(s.Spec.Point, n, within)
	if err != nil {
		return nil, err
	}
	var list []Curve
	for _, line := range lines {
		c := Curve{Closed: line.Closed}
		for _, p := range line.Points {
			c.Places = append(c.Places, p)
			c.Points = append(c.Points, s.flat(p))
		}
		// The outside lies on the right hand with the plane's normal toward the eye.
		c.Out = make([]Point2, len(c.Points))
		for k := range c.Places {
			a, b := c.neighbours(k)
			o := c.Places[b].Sub(c.Places[a]).Cross(n)
			h, v := o.Dot(s.Across), o.Dot(s.Up)
			if l := math.Sqrt(float64(h*h) + float64(v*v)); l > 0 {
				c.Out[k] = Point2{h / l, v / l}
			}
		}
		list = append(list, c)
	}
	return list, nil
}

func (s *Section) flat(p geom.Vec) Point2 {
	d := p.Sub(s.Spec.Point)
	return Point2{d.Dot(s.Across), d.Dot(s.Up)}
}

// compare measures the deviation at every place of the scan's curves.
func (m *Maker) compare(ctx context.Context, s *Section) error {
	cloud := &mesh.Mesh{}
	var normals []geom.Vec
	for _, c := range s.Scan {
		for _, p := range c.Places {
			cloud.Vertices = append(cloud.Vertices, p)
			var n geom.Vec
			if a, ok := m.finder.Closest(p, 1, nil); ok {
				t := m.mesh.Faces[a.Face]
				n = m.normals[t[0]].Add(m.normals[t[1]]).Add(m.normals[t[2]]).Unit()
			}
			normals = append(normals, n)
		}
	}
	f, err := deviation.Measure(ctx, cloud, m.surface, deviation.Settings{Reach: m.reach, Normals: normals, Threads: m.threads}, nil)
	if err != nil {
		return err
	}
	at := 0
	for k := range s.Scan {
		n := len(s.Scan[k].Places)
		s.Scan[k].Deviation, s.Scan[k].State = f.Deviation[at:at+n:at+n], f.State[at:at+n:at+n]
		at += n
	}
	return nil
}

// figures sums the deviations up.
func (s *Section) figures() {
	f := &s.Figures
	var weight, sum, squares, in float64
	for _, c := range s.Scan {
		for k := range c.Points {
			before, after := c.neighbours(k)
			w := float64(c.Places[k].Dist(c.Places[before])/2) + float64(c.Places[k].Dist(c.Places[after])/2)
			f.Length += w
			f.Points++
			if c.State == nil || c.State[k] != deviation.Measured {
				continue
			}
			f.Measured++
			d := c.Deviation[k]
			weight += w
			sum += float64(w * d)
			squares += float64(w * float64(d*d))
			if d >= s.Tolerance.Lo && d <= s.Tolerance.Hi {
				in += w
			}
			if !f.Lowest.OK || d < f.Lowest.V {
				f.Lowest, f.AtLowest, f.PlaceLow = verdict.Value{V: d, OK: true}, c.Points[k], c.Places[k]
			}
			if !f.Highest.OK || d > f.Highest.V {
				f.Highest, f.AtHighest, f.PlaceHighest = verdict.Value{V: d, OK: true}, c.Points[k], c.Places[k]
			}
		}
	}
	if weight > 0 {
		f.Mean, f.RMS, f.InTolerance = sum/weight, math.Sqrt(squares/weight), in/weight
	}
}
