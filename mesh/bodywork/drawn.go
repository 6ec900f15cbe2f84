package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// DrawnOptions say what of a drawn trial is not left to chance. Gap, flush, angle and
// curvature of the faces, and how slantwise the path runs, are drawn for every trial;
// radii, gaps and lengths so that their logarithms are even.
type DrawnOptions struct {
	Radius  [2]float64 // mm, from and to, of both hems
	Noise   float64    // mm
	Seen    float64    // radians of the hems seen from the shoulder on; 0: 180 degrees
	Spacing float64    // mm
	Length  float64    // mm; 0: drawn, from 250 to 1000
}

// What is stated of a radius is off by so much, mm, one standard deviation: an
// inspection's and a reference's, as the definitions take them.
const (
	statedOff    = 0.1
	referenceOff = 0.2
)

// between returns a number drawn evenly from lo to hi.
func (s *source) between(lo, hi float64) float64 {
	return float64(lo + float64((hi-lo)*float64((float64(s.uniform())+1)/2)))
}

// even draws a length whose logarithm is even.
func (s *source) even(of [2]float64) float64 {
	return float64(of[0] * geom.Pow(of[1]/of[0], (float64(s.uniform())+1)/2))
}

// drawnJoint draws two hems and how they lie to one another.
func drawnJoint(s *source, d DrawnOptions) JointOptions {
	o := JointOptions{
		Gap: s.even([2]float64{1, 12}), Flush: s.between(-5, 5), Angle: s.between(-10, 10) * math.Pi / 180,
		Length: d.Length, Width: 40, Spacing: d.Spacing, Noise: d.Noise, Jitter: 0.3,
	}
	if o.Length == 0 {
		o.Length = s.even([2]float64{250, 1000})
	}
	for k := range o.Edge {
		o.Edge[k] = hem(s.even(d.Radius))
		o.Edge[k].Seen = d.Seen
		o.Curvature[k] = s.between(-1, 1) / 400
	}
	return o
}

// Drawn returns a trial of two hems drawn by the seed. What is stated of their radii is
// as far off as it may be: of every second trial by an inspection, else by a reference.
func Drawn(d DrawnOptions, seed uint64) *Trial {
	s := keyed(seed, 'w')
	o := drawnJoint(&s, d)
	t, _ := trial(o, seed)
	t.stateDrawn(&s, o, seed)
	t.Path = zigzag(&s, o.Length)
	return t
}

// Rescanned returns one of many scans of the same drawn seam: what is stated and the path stay,
// noise and places of the points are others, their spacing by up to a tenth.
func Rescanned(d DrawnOptions, seed, scan uint64) *Trial {
	s := keyed(seed, 'w')
	o := drawnJoint(&s, d)
	again := keyed(seed, 'w', scan)
	o.Spacing *= 1 + float64(0.1*again.uniform())
	t, _ := trial(o, again.next())
	o.Spacing = d.Spacing
	t.stateDrawn(&s, o, seed)
	t.Path = zigzag(&s, o.Length)
	return t
}

// stateDrawn draws what is stated of the radii.
func (t *Trial) stateDrawn(s *source, o JointOptions, seed uint64) {
	fromReference := seed%2 == 0
	for k := range t.Radius {
		off := statedOff
		if fromReference {
			off = referenceOff
		}
		r := max(o.Edge[k].Radius+float64(off*s.normal()), o.Edge[k].Radius/2)
		if o.Edge[k].Form != Round {
			continue
		}
		if t.Radius[k] = r; fromReference {
			o.Edge[k].Radius, t.Radius[k] = r, 0
		}
	}
	if fromReference {
		for k := range o.Edge {
			o.Edge[k].Seen = 0
		}
		o.Noise, o.Jitter, o.Spacing = 0, 0, min(o.Spacing, 0.8)
		t.Reference = NewJoint(o).Mesh
	}
}

// zigzag draws a path along a seam up to 20 degrees slantwise, within 5 mm of its middle.
func zigzag(s *source, length float64) (path []geom.Vec) {
	const aside = 5.0 // mm
	rise := math.Abs(geom.Tan(s.between(-20, 20) * math.Pi / 180))
	x, toward := s.between(-aside, aside), 1.0
	if s.uniform() < 0 {
		toward = -1
	}
	for y := 0.0; ; {
		path = append(path, geom.Vec{X: x, Y: y})
		if y >= length {
			return path
		}
		leg := length - y
		if rise > 0 {
			leg = min(leg, (aside-float64(toward*x))/rise)
		}
		// The last place before a turn lies on the border, from where it goes back.
		x += float64(toward * rise * leg)
		if y += leg; length-y < 1e-6 {
			y = length
		}
		toward = -toward
	}
}

// DrawnRadius returns the true radii of the hems of a drawn trial.
func DrawnRadius(d DrawnOptions, seed uint64) [2]float64 {
	s := keyed(seed, 'w')
	o := drawnJoint(&s, d)
	return [2]float64{o.Edge[0].Radius, o.Edge[1].Radius}
}
