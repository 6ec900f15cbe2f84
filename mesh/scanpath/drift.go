package scanpath

import (
	"math"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// Drift is how a scanner loses its way: at every step of the path it takes itself
// to be shifted and turned, about where it is, by a little more than it was. The
// steps along and about each of three axes are normal, of mean 0, and those less than Smooth apart are alike.
type Drift struct {
	Shift  float64 // mm along each axis after a metre, growing with the root of the path
	Turn   float64 // radians about each axis after a metre
	Smooth float64 // mm over which the steps' correlation falls to 1/e; 0: DefaultSmooth
}

// DefaultSmooth is a few of the scanner's fields of view.
const DefaultSmooth = 1500.0

// GoodScanner comes back to its start some 10 mm off after going round the
// body, and is some 1.5 mm wrong over the body's length once that error has been
// spread along the path (root mean squares; both figures are common practice).
func GoodScanner() Drift { return Drift{Shift: 0.39, Turn: 0.00032} }

// PoorScanner comes back 275 mm off, see [GoodScanner].
func PoorScanner() Drift { return GoodScanner().Times(27.5) }

// Times returns the drift of a scanner that is so much worse.
func (d Drift) Times(factor float64) Drift {
	d.Shift, d.Turn = float64(d.Shift*factor), float64(d.Turn*factor)
	return d
}

// Creep is a motion that grows evenly with the path to this at its end: about
// the point at half the wall's height in the middle of the front, where the path round the body begins and ends.
type Creep struct {
	Shift geom.Vec // mm
	Turn  geom.Vec // radians, as a rotation vector
}

func (c *Creep) zero() bool { return *c == Creep{} }

// part returns the share f of a motion given by shift and turn about a point.
func part(about, shift, turn geom.Vec, f float64) geom.Rigid {
	g := geom.RotationVector(turn.Scale(f))
	g.T = about.Add(shift.Scale(f)).Sub(g.ApplyDir(about))
	return g
}

// knotStep is the step of the walk, mm.
const knotStep = 50.0

// track is the motion of one path: scanned from true, at every knot.
type track struct {
	path  *Path
	begin float64 // s where the scanner began: 0, or the middle
	knots []geom.Rigid
}

// home is where the path round the body begins and ends.
var home = Place{Wall, 0, WallTop / 2}

// newTrack walks the path.
func newTrack(b *Body, path *Path, o *Options, piece int) *track {
	n := int(math.Ceil(path.Length/knotStep)) + 1
	t := &track{path: path, knots: make([]geom.Rigid, n)}
	begin := 0
	if o.FromMiddle {
		begin = n / 2
	}
	t.begin = float64(begin) * knotStep
	for i := range t.knots {
		t.knots[i] = geom.Identity()
	}
	if o.Drift.Shift != 0 || o.Drift.Turn != 0 {
		t.walk(b, o, piece, begin, 1)
		t.walk(b, o, piece, begin, -1)
	}
	centre, _ := b.At(home)
	if !o.Creep.zero() {
		for i := range t.knots {
			f := min(1, math.Abs(float64(float64(i)*knotStep)-t.begin)/path.Length)
			t.knots[i] = part(centre, o.Creep.Shift, o.Creep.Turn, f).After(t.knots[i])
		}
	}
	if o.LoopClosed {
		t.close(centre)
	}
	return t
}

// walk goes from a knot to one end of the path.
func (t *track) walk(b *Body, o *Options, piece, begin, way int) {
	smooth := o.Drift.Smooth
	if smooth <= 0 {
		smooth = DefaultSmooth
	}
	// An autoregressive step of correlation r makes the walk's variance grow (1+r)/(1-r) as fast as independent ones.
	r := geom.Pow(euler, -knotStep/smooth)
	size := math.Sqrt(knotStep / 1000 * (1 - r) / (1 + r))
	fresh := math.Sqrt(1 - float64(r*r))
	source := bodywork.Keyed(o.Seed, 'd', uint64(piece), uint64(way+1))
	var state [6]float64
	for i := range state {
		state[i] = source.Normal()
	}
	for i := begin + way; i >= 0 && i < len(t.knots); i += way {
		for k := range state {
			state[k] = float64(r*state[k]) + float64(fresh*source.Normal())
		}
		a, w := float64(size*o.Drift.Shift), float64(size*o.Drift.Turn)
		shift := geom.Vec{X: state[0], Y: state[1], Z: state[2]}.Scale(a)
		turn := geom.Vec{X: state[3], Y: state[4], Z: state[5]}.Scale(w)
		at := t.path.At(b, float64(i)*knotStep)
		t.knots[i] = t.knots[i-way].After(part(at, shift, turn, 1)).Orthonormal()
	}
}

// close spreads the motion between the first and the last stroke's middles along
// the path: the shift of the middle and the turn about it by the share of the path.
func (t *track) close(centre geom.Vec) {
	first, last := &t.path.Strokes[0], &t.path.Strokes[len(t.path.Strokes)-1]
	a, b := first.sOf(home.V), last.sOf(home.V)
	endFromStart := t.at(b).After(t.at(a).Inverse())
	shift, turn := endFromStart.Apply(centre).Sub(centre), rotationVector(endFromStart)
	for i, g := range t.knots {
		f := min(1, max(0, (float64(float64(i)*knotStep)-a)/(b-a)))
		t.knots[i] = part(centre, shift, turn, f).Inverse().After(g)
	}
}

// at returns the motion of the knot nearest to s.
func (t *track) at(s float64) geom.Rigid {
	return t.knots[min(max(int(s/knotStep+0.5), 0), len(t.knots)-1)]
}

// carry moves a point as the scanner does at s.
func (t *track) carry(p geom.Vec, s float64) geom.Vec {
	x := s / knotStep
	i := min(max(int(x), 0), len(t.knots)-2)
	return t.knots[i].Apply(p).Lerp(t.knots[i+1].Apply(p), min(1, x-float64(i)))
}

// rotationVector returns axis times angle of a turn.
func rotationVector(g geom.Rigid) geom.Vec {
	skew := geom.Vec{X: g.R[2][1] - g.R[1][2], Y: g.R[0][2] - g.R[2][0], Z: g.R[1][0] - g.R[0][1]}
	return skew.Unit().Scale(g.Angle())
}
