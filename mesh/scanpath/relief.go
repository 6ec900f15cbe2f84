package scanpath

import (
	"math"

	"shutline/mesh/geom"
)

// form is a kind of relief.
type form uint8

const (
	dome  form = iota // (1-ρ²)³ over the half-axes a and b
	field             // a raised or sunk rectangle of half-sides a and b with soft flanks
	ring              // a ridge of half-width b round a circle of radius a
	line              // a character line through the middle, over the half-length a
	door              // a field that ends between two shut lines without a flank
)

// feature is something that stands out of, or into, the smooth body: height mm
// along the normal, as a function of two coordinates u, v on its sheet. Radii of
// curvature stay above 50 mm, so that triangles of 7 mm (a million on the whole body) miss the body by 0.1 mm at most.
type feature struct {
	form   form
	u, v   float64 // the middle
	a, b   float64 // mm, see form
	height float64 // mm, positive: proud
	flank  float64 // mm
}

// at returns height and slopes at (u, v), u already taken from the middle.
func (f *feature) at(du, v float64) (h, hu, hv float64) {
	dv := v - f.v
	switch f.form {
	case dome:
		x, y := du/f.a, dv/f.b
		q := 1 - float64(x*x) - float64(y*y)
		if q <= 0 {
			return 0, 0, 0
		}
		g := -6 * f.height * float64(q*q)
		return float64(f.height*q) * float64(q*q), float64(g*x) / f.a, float64(g*y) / f.b
	case field:
		s, su := plateau(du, f.a, f.flank)
		t, tv := plateau(dv, f.b, f.flank)
		return float64(f.height*s) * t, float64(f.height*su) * t, float64(f.height*s) * tv
	case door:
		t, tv := plateau(dv, f.b, f.flank)
		return float64(f.height * t), 0, float64(f.height * tv)
	case ring:
		d := math.Sqrt(float64(du*du) + float64(dv*dv))
		e := (d - f.a) / f.b
		q := 1 - float64(e*e)
		if q <= 0 || d == 0 {
			return 0, 0, 0
		}
		g := -4 * f.height * float64(q*e) / (f.b * d)
		return float64(f.height*q) * q, float64(g * du), float64(g * dv)
	default:
		// As mesh/bodywork draws its character line: two hyperbolas' difference.
		core := math.Sqrt(float64(dv*dv) + lineCore*lineCore)
		wide := math.Sqrt(float64(dv*dv) + lineWidth*lineWidth)
		s, su := plateau(du, f.a, f.flank)
		// The hyperbolas never meet: the ridge is faded out beside them.
		t, tv := plateau(dv, lineWidth, 2*lineWidth)
		ridge := float64(f.height / (lineWidth - lineCore) * (wide - core))
		slope := float64(f.height / (lineWidth - lineCore) * (dv/wide - dv/core))
		return float64(ridge*s) * t, float64(ridge*su) * t, float64(s * (float64(slope*t) + float64(ridge*tv)))
	}
}

// euler is e; package math is used only for what is the same on every processor.
const euler = 2.718281828459045

const lineCore, lineWidth = 16.0, 80.0 // mm

// plateau is 1 between the half-sides and falls to 0 over the flank outside, with its slope.
func plateau(x, half, flank float64) (s, slope float64) {
	q := (half + flank - math.Abs(x)) / flank
	switch {
	case q >= 1:
		return 1, 0
	case q <= 0:
		return 0, 0
	}
	q2 := float64(q * q)
	s = float64(float64(q2*q) * (10 - float64(15*q) + float64(6*q2)))
	g := 30 * float64(q2*float64((1-q)*(1-q))) / flank
	return s, math.Copysign(g, -x)
}

// reach returns how far from its middle along u the feature can be met.
func (f *feature) reach() float64 {
	switch f.form {
	case dome, door:
		return f.a
	case ring:
		return f.a + f.b
	}
	return f.a + f.flank
}

// relief is what stands out of one sheet; round is the length of a sheet that closes on itself, or 0.
type relief struct {
	features []feature
	round    float64
}

func (r *relief) at(u, v float64) (h, hu, hv float64) {
	for i := range r.features {
		f := &r.features[i]
		du := u - f.u
		if r.round > 0 {
			du = wrap(du, r.round)
		}
		if math.Abs(du) >= f.reach() {
			continue
		}
		g, gu, gv := f.at(du, v)
		h, hu, hv = h+g, hu+gu, hv+gv
	}
	return h, hu, hv
}

// wrap returns u less a whole number of rounds, from -round/2 to round/2.
func wrap(u, round float64) float64 { return u - float64(round*math.Floor(u/round+0.5)) }

// wallRelief returns what is drawn on the wall.
func wallRelief() relief {
	r := relief{round: Round}
	both := func(f feature) {
		r.features = append(r.features, f)
		f.u = -f.u
		r.features = append(r.features, f)
	}
	side := func(x float64) float64 { return x + sideU }     // x on the left side as U
	both(feature{field, side(1535), 1010, 200, 110, -9, 60}) // front door's window
	both(feature{field, side(3230), 1060, 520, 80, -6, 60})  // blank window of the load space
	both(feature{ring, side(frontWheelX), 0, archRadius, 80, 14, 0})
	both(feature{ring, side(rearWheelX), 0, archRadius, 80, 14, 0})
	both(feature{line, side(2150), 640, 1500, 0, 7, 250})
	both(feature{dome, side(1770), 735, 110, 70, -9, 0}) // handles
	both(feature{dome, side(2035), 735, 110, 70, -9, 0})
	both(feature{field, side(3300), 850, 540, 15, -8, 50}) // the sliding door's rail
	both(feature{field, side(2030), 290, 600, 30, 6, 50})  // rubbing strip
	both(feature{field, side(3960), 560, 40, 120, 9, 60})  // rear lamps
	both(feature{field, 780, 470, 90, 60, -9, 60})         // head lamps
	both(feature{dome, 600, 200, 110, 70, -12, 0})         // fog lamps
	both(feature{field, Round/2 - 330, 980, 160, 120, -7, 60})
	r.features = append(r.features,
		feature{field, side(3600), 480, 60, 60, -2.5, 30}, // fuel flap, on the left alone
		feature{field, 0, 340, 330, 55, -10, 65},          // grille
		feature{dome, 0, 560, 70, 60, 6, 0},               // badge
		feature{field, 0, 130, 240, 25, 5, 50},            // number plate
		feature{field, 0, 960, 500, 150, -8, 60},          // windscreen
		feature{line, 0, 690, 300, 0, 6, 200},
		feature{field, Round / 2, 420, 240, 30, -6, 50},
		feature{dome, Round/2 + 150, 640, 110, 70, -9, 0},
	)
	return r
}

// roofRelief returns what is drawn on the roof; it ends before the rim, which the wall's coordinates reach too.
func roofRelief() relief {
	var r relief
	for i := -2; i <= 2; i++ {
		r.features = append(r.features, feature{field, 2250, 240 * float64(i), 1350 - float64(60*math.Abs(float64(i))), 30, -6, 50})
	}
	r.features = append(r.features,
		feature{dome, 560, 90, 90, 60, 14, 0},
		feature{dome, 3860, -120, 70, 90, 10, 0},
	)
	return r
}

// bent is the smooth map that gives the rounded box its shape: the front leans
// rearward, the sides draw in, the roof is crowned. It returns the point and
// what becomes of two directions there.
func bent(p, a, b geom.Vec) (q, qa, qb geom.Vec) {
	// The front leans by e(x) q(z).
	e1 := (Length - p.X) / Length
	e, ex := float64(e1*e1)*e1, -3*float64(e1*e1)/Length
	u := max(0, (p.Z-900)/800)
	l, lz := float64(u*u), 2*u/800
	const lean = 330.0
	dx := [3]float64{1 + float64(lean*ex*l), 0, float64(lean*e) * lz}
	// The sides draw in by a factor of x and z.
	sz, sx := (p.Z-750)/950, (p.X-2000)/2200
	k := 1 - float64(0.06*float64(sz*sz)) - float64(0.035*float64(sx*sx))
	dy := [3]float64{float64(p.Y * -0.07 * sx / 2200), k, float64(p.Y * -0.12 * sz / 950)}
	// The roof rises with the height cubed.
	w, y, x := p.Z/roofZ, p.Y/(Width/2), (p.X-2300)/2300
	w3, crown := float64(w*w)*w, float64(30*(1-float64(y*y)))-float64(25*float64(x*x))
	dz := [3]float64{
		float64(w3 * -50 * x / 2300),
		float64(w3 * -60 * y / (Width / 2)),
		1 + float64(3*float64(w*w)/roofZ*crown),
	}
	q = geom.Vec{X: p.X + float64(lean*e*l), Y: float64(p.Y * k), Z: p.Z + float64(w3*crown)}
	turn := func(d geom.Vec) geom.Vec {
		return geom.Mat3{dx, dy, dz}.MulVec(d)
	}
	return q, turn(a), turn(b)
}
