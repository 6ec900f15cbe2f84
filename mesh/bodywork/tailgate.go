package bodywork

import (
	"math"

	"shutline/mesh/geom"
)

// sweep is a curve through space with a frame that does not twist about it (Bishop 1975):
// what is drawn in the frame's plane is cut unchanged by the plane square to the curve.
type sweep struct {
	step    float64 // mm
	p       []geom.Vec
	f, a, u []geom.Vec // unit
}

// newSweep bends a straight line of a length: aside and up are its curvatures, 1/mm, toward a and u.
func newSweep(length, step float64, aside, up func(s float64) float64) *sweep {
	w := &sweep{step: step}
	p, f, a, u := geom.Vec{}, geom.Vec{Y: 1}, geom.Vec{X: 1}, geom.Vec{Z: 1}
	for s := float64(-2 * step); s <= length+float64(3*step); s += step {
		w.p, w.f, w.a, w.u = append(w.p, p), append(w.f, f), append(w.a, a), append(w.u, u)
		k1, k2 := aside(s), up(s)
		next := f.AddScaled(k1*step, a).AddScaled(k2*step, u).Unit()
		p = p.AddScaled(step/2, f).AddScaled(step/2, next)
		a = a.AddScaled(-k1*step, f)
		f = next
		a = a.AddScaled(-a.Dot(f), f).Unit()
		u = a.Cross(f)
	}
	return w
}

// at carries a point of the straight line's surroundings along the curve.
func (w *sweep) at(v geom.Vec) geom.Vec {
	t := v.Y/w.step + 2
	i := min(max(int(math.Floor(t)), 0), len(w.p)-2)
	t -= float64(i)
	a, u := w.a[i].Lerp(w.a[i+1], t).Unit(), w.u[i].Lerp(w.u[i+1], t).Unit()
	return w.p[i].Lerp(w.p[i+1], t).AddScaled(v.X, a).AddScaled(v.Z, u)
}

// Tailgate returns a trial of a shut line as round a tailgate: along a crowned roof edge, round a
// corner and down a curved pillar, between a hem of 0.8 to 1.5 mm and one of 2 to 4 mm, the
// faces bent across it too. Noise in mm, seen in radians as in JointEdge, of 0.8 mm spacing.
func Tailgate(noise, seen float64, seed uint64) *Trial {
	s := keyed(seed, 't')
	o := JointOptions{
		Edge: [2]JointEdge{hem(s.between(0.8, 1.5)), hem(s.between(2, 4))},
		Gap:  s.between(3, 6), Flush: s.between(-1.5, 1.5), Angle: s.between(-5, 5) * math.Pi / 180,
		Curvature: [2]float64{1 / s.between(300, 1500), 1 / s.between(300, 1500)},
		Length:    600, Width: 40, Spacing: 0.8, Noise: noise, Jitter: 0.3,
	}
	for k := range o.Edge {
		o.Edge[k].Seen = seen
	}
	t, _ := trial(o, seed)
	t.stateDrawn(&s, o, seed)
	corner, crown, pillar := s.between(140, 220), s.between(700, 1500), s.between(900, 2500)
	from := s.between(150, 250)
	to := from + float64(corner*80*math.Pi/180)
	eased := func(x float64) float64 { // from 0 to 1 over 40 mm
		x = min(max(x/40, 0), 1)
		return float64(x * x * (3 - float64(2*x)))
	}
	w := newSweep(o.Length, 0.5, func(s float64) float64 {
		return float64(eased(s-from)-eased(s-to)) / corner
	}, func(s float64) float64 {
		late := eased(s - to)
		return -(1-late)/crown - late/pillar
	})
	t.Scan = Mapped(t.Scan, w.at)
	if t.Reference != nil {
		t.Reference = Mapped(t.Reference, w.at)
	}
	t.Path = nil
	for y := 0.0; y <= o.Length; y += 10 {
		t.Path = append(t.Path, w.at(geom.Vec{X: 0.5 * s.uniform(), Y: y}))
	}
	return t
}
