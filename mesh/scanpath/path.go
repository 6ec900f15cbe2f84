package scanpath

import (
	"math"

	"shutline/mesh/geom"
)

const (
	strokesRound = 23
	// Pitch is the distance between strokes, mm.
	Pitch = Round / strokesRound
	// field is how far to each side of a stroke the scanner sees, mm.
	fieldReach = 0.9 * Pitch
	// turnBack is how far before the edge of a sheet a stroke ends: the field reaches beyond.
	turnBack = 200.0

	roofHalf = Width/2 - rimInset // of a stroke over the roof, mm
)

// Stroke is one pass of the scanner up the wall, on the sides on over the roof.
type Stroke struct {
	U    float64 // on the wall, unrolled
	X    float64 // on the roof
	Roof Sheet   // RoofLeft, RoofRight, or Wall when it ends below the roof
	Down bool
	S    float64 // mm, length of the path where it begins
	lo   float64 // along the stroke, from the sill: where the scanner turns
	hi   float64
}

// sOf returns the length of the path at which the stroke passes z mm from the sill.
func (k *Stroke) sOf(z float64) float64 {
	z = min(max(z, k.lo), k.hi)
	if k.Down {
		return k.S + k.hi - z
	}
	return k.S + z - k.lo
}

// place returns the place of the stroke at s of the path.
func (k *Stroke) place(s float64) Place {
	z := k.lo + s - k.S
	if k.Down {
		z = k.hi - (s - k.S)
	}
	z = min(max(z, k.lo), k.hi)
	switch {
	case z <= WallTop || k.Roof == Wall:
		return Place{Wall, k.U, min(z, WallTop)}
	case k.Roof == RoofLeft:
		return Place{RoofLeft, k.X, z - WallTop - roofHalf}
	}
	return Place{RoofRight, k.X, roofHalf - (z - WallTop)}
}

// alongStroke returns how far from the sill, along a stroke, a place lies.
func alongStroke(at Place) float64 {
	switch at.Sheet {
	case Wall:
		return at.V
	case RoofLeft:
		return WallTop + roofHalf + at.V
	}
	return WallTop + roofHalf - at.V
}

// Path is the way of the scanner over what it sees in one go: from one U on the wall to another.
type Path struct {
	From, To float64 // U
	Strokes  []Stroke
	Length   float64 // mm
}

// NewPath returns the path that sees the body from one U to another, at least one stroke.
func NewPath(from, to float64) *Path {
	p := &Path{From: from, To: to}
	first, last := int(math.Ceil(from/Pitch-1e-9)), int(math.Floor(to/Pitch+1e-9))
	if last < first {
		first = int(math.Floor((from+to)/2/Pitch + 0.5))
		last = first
	}
	for n := first; n <= last; n++ {
		k := Stroke{U: float64(n) * Pitch, lo: turnBack, hi: WallTop - turnBack, Down: (n-first)%2 == 1}
		o, t, _ := outline(k.U)
		if k.X = o.X; math.Abs(t.X) > 0.5 {
			k.Roof, k.hi = RoofLeft, WallTop+roofHalf
			if t.X < 0 {
				k.Roof = RoofRight
			}
		}
		k.S = p.Length
		p.Length += k.hi - k.lo
		if n < last {
			p.Length += Pitch
		}
		p.Strokes = append(p.Strokes, k)
	}
	return p
}

// At returns the point of the body the scanner is over at s.
func (p *Path) At(b *Body, s float64) geom.Vec {
	for i := range p.Strokes {
		k := &p.Strokes[i]
		end := k.S + k.hi - k.lo
		if s <= end || i+1 == len(p.Strokes) {
			q, _ := b.At(k.place(s))
			return q
		}
		if next := &p.Strokes[i+1]; s < next.S {
			q, _ := b.At(k.place(end))
			r, _ := b.At(next.place(next.S))
			return q.Lerp(r, (s-end)/(next.S-end))
		}
	}
	return geom.Vec{}
}

// Sight is one look at a place.
type Sight struct {
	S      float64 // mm of the path
	Weight float64 // the weights of a place's sights sum to 1
}

// mostSights bounds how many strokes can see one place.
const mostSights = 4

// sights returns the strokes that see a place; the place must lie in what the path sees.
func (p *Path) sights(at Place) (out [mostSights]Sight, n int) {
	z := alongStroke(at)
	sum, nearest, away := 0.0, -1, math.Inf(1)
	for i := range p.Strokes {
		k := &p.Strokes[i]
		d := k.U - at.U
		if at.Sheet != Wall {
			if k.Roof != at.Sheet {
				continue
			}
			d = k.X - at.U
		}
		if d = math.Abs(d); d < away {
			nearest, away = i, d
		}
		if q := 1 - float64(d*d)/(fieldReach*fieldReach); q > 0 && n < mostSights {
			w := float64(q * q)
			out[n] = Sight{k.sOf(z), w}
			sum += w
			n++
		}
	}
	if n == 0 && nearest >= 0 {
		return [mostSights]Sight{{p.Strokes[nearest].sOf(z), 1}}, 1
	}
	for i := range n {
		out[i].Weight /= sum
	}
	return out, n
}

// roofSpan returns from where to where along X the path sees a roof sheet; false when it does not.
func (p *Path) roofSpan(sheet Sheet) (lo, hi float64, ok bool) {
	const run = sideRun + 2*cornerArc
	begin := halfFront
	if sheet == RoofRight {
		begin = Round - halfFront - run
	}
	for turn := -1.0; turn <= 1; turn++ {
		a, b := max(p.From, begin+float64(turn*Round)), min(p.To, begin+run+float64(turn*Round))
		if b <= a {
			continue
		}
		q, _, _ := outline(a)
		r, _, _ := outline(b)
		x, y := min(q.X, r.X), max(q.X, r.X)
		if !ok {
			lo, hi, ok = x, y, true
		} else {
			lo, hi = min(lo, x), max(hi, y)
		}
	}
	has := false
	for i := range p.Strokes {
		has = has || p.Strokes[i].Roof == sheet
	}
	return lo, hi, ok && has
}
