package gapflush

import (
	"math"

	"shutline/mesh/geom"
)

// A bead of paint, a scratch or an edge that is not round has the same form all along a seam. A roll that is fitted takes part of it for
// another radius or another shoulder, alike at every station, and the more stations there are the less their scatter says of it. What
// the fit leaves of it, in the mean over the stations, tells of it all the same: the form is taken for a random function of the
// place along the edge (a Gaussian process with a smooth covariance; Rasmussen and Williams 2006, chapter 2, the roll being the
// part without a prior, 2.7), how large it is and how far it is alike by the likelihood of what is left. What the fit makes of
// such functions, given what is left of them, is what the roll is out by.
const (
	// surely is how many times as likely, as a logarithm, what is left is with a form of its own as without.
	surely = 2.5
	// likelyToo is how much less likely a form may be, as a logarithm, and be that.
	likelyToo = 4.0
	// roundLeast is the standard uncertainty, mm, of the mean at one place for what else is not modelled.
	roundLeast = 0.003
	leastBins  = 4
	leastForm  = 0.004 // mm
	formSteps  = 8     // each twice the one before
	freeOfForm = 1.0   // mm, a standard uncertainty that leaves the roll to the points
)

// formLengths are over what lengths, mm, a form may be alike, at one standard deviation of its covariance: of a thin scratch
// and of a bead.
var formLengths = [...]float64{0.2, 0.3, 0.45, 0.65}

// formLength scales those lengths for rolls that hold less of them, or are much larger.
func formLength(r float64) float64 {
	const small, large = 1.0, 2.5 // mm
	switch {
	case r < small:
		return r / small
	case r > large:
		return r / large
	}
	return 1
}

// formMean is what the stations of a seam share of formSeen.
type formMean struct {
	at, res, u []float64    // mm: places along the edge, mean distances there and their standard uncertainties
	bent       []float64    // mm, what the uncertainty of the face's curvature makes of those
	slopes     [][2]float64 // of the distances with s and r; 0 before the roll counts
	r, given   float64
}

// shareForm finds the form that a seam's edges share and gives every station the uncertainty that follows from it.
func (j *job) shareForm(raws []raw) {
	for k := A; k <= B; k++ {
		var seen []*formSeen
		for i := range raws {
			if raws[i].forms[k] != nil && raws[i].state == Measured {
				seen = append(seen, raws[i].forms[k])
			}
		}
		m, ok := meanForm(seen)
		if !ok {
			continue
		}
		by, ok := m.moves()
		if !ok {
			continue
		}
		// Of a smoothed scan it is said already that its edges are rounded off, and that the uncertainty holds that.
		if u := nose(by); u > notedForm && !seen[0].smoothed {
			j.note("Side %s's edge is not quite round, in the same way all along the seam, as under a bead of paint or in a scratch: the uncertainty of the gap holds %.2f mm for that.", sideName[k], 2*u)
		}
		for i := range raws {
			if e := &raws[i].side[k].edge; e.found && e.kind == Round {
				raws[i].side[k].shape = by
			}
		}
	}
}

// notedForm is the standard uncertainty of the nose, mm, from which on it is said that a form gives it.
const notedForm = 0.02

// nose is by how much two independent causes move s + r together.
func nose(by [2][2]float64) float64 {
	a, b := by[0][0]+by[0][1], by[1][0]+by[1][1]
	return math.Sqrt(float64(a*a) + float64(b*b))
}

// meanForm is the mean over stations that have no points in common; ok is false where they are few.
func meanForm(seen []*formSeen) (m formMean, ok bool) {
	if len(seen) < few {
		return m, false
	}
	middle := func(pick func(*formSeen) float64) float64 {
		v := make([]float64, len(seen))
		for i := range seen {
			v[i] = pick(seen[i])
		}
		return median(v)
	}
	m.r, m.given = middle(func(v *formSeen) float64 { return v.r }), middle(func(v *formSeen) float64 { return v.given })
	noise := max(middle(func(v *formSeen) float64 { return v.noise }), leastNoise)
	shared, uc := middle(func(v *formSeen) float64 { return v.shared }), middle(func(v *formSeen) float64 { return v.uc })
	arm := middle(func(v *formSeen) float64 { return v.arm })
	dh0, dm := middle(func(v *formSeen) float64 { return v.bent[0] }), middle(func(v *formSeen) float64 { return v.bent[1] })
	for b := range formBins {
		n, sum, have := 0.0, 0.0, 0
		for _, v := range seen {
			if s := &v.bins[b]; s.n > 0 {
				n += s.n
				sum += float64(s.n * s.mean)
				have++
			}
		}
		if have < few || 2*have < len(seen) {
			continue
		}
		mean, between := sum/n, 0.0
		for _, v := range seen {
			s := &v.bins[b]
			between += float64(s.n * (s.mean - mean) * (s.mean - mean))
		}
		at := binAt(b, m.r)
		variance := max(float64(noise*noise*shared), between/float64(have-1)) / n
		var slopes [2]float64
		d := arm + at
		bent := -dh0 - float64(dm*d) + float64(d*d/2)
		if b > beforeBins {
			phi := at / m.r
			sin, cos := geom.Sincos(phi)
			slopes = [2]float64{-sin, cos - 1}
			bent = 0
		}
		m.at, m.res, m.u = append(m.at, at), append(m.res, mean), append(m.u, math.Sqrt(variance+roundLeast*roundLeast))
		m.slopes, m.bent = append(m.slopes, slopes), append(m.bent, float64(uc*bent))
	}
	on := 0
	for _, s := range m.slopes {
		if s != [2]float64{} {
			on++
		}
	}
	return m, on >= leastBins
}

// gain is what the fit of s and r makes of the distances, with what was known of the radius.
func (m *formMean) gain() (g [2][]float64, ok bool) {
	a, b, c := 0.0, 0.0, 1/float64(m.given*m.given)
	for i, s := range m.slopes {
		w := 1 / float64(m.u[i]*m.u[i])
		a += float64(w * s[0] * s[0])
		b += float64(w * s[0] * s[1])
		c += float64(w * s[1] * s[1])
	}
	det := float64(a*c) - float64(b*b)
	if !(det > 0) {
		return g, false
	}
	for i, s := range m.slopes {
		w := 1 / float64(m.u[i]*m.u[i])
		g[0] = append(g[0], -w*(float64(c*s[0])-float64(b*s[1]))/det)
		g[1] = append(g[1], -w*(float64(a*s[1])-float64(b*s[0]))/det)
	}
	return g, true
}

// moments are second moments of what s and r are out by: of s, of both, of r.
type moments [3]float64

// ofNose is that of s + r, where a roll has its nose.
func (m *moments) ofNose() float64 { return m[0] + float64(2*m[1]) + m[2] }

// asCauses returns the moments as two independent causes.
func (m *moments) asCauses() (by [2][2]float64) {
	s := math.Sqrt(max(m[0], 0))
	if s > 0 {
		by[0] = [2]float64{s, m[1] / s}
	}
	by[1][1] = math.Sqrt(max(m[2]-float64(by[0][1]*by[0][1]), 0))
	return by
}

// formReading is how likely what is left is with a form of one size and length, as a logarithm, and what s and r are out by then.
type formReading struct {
	likely float64
	out    moments
}

// moves returns by how much the form moves s and r, as two independent causes; ok is false where what is left shows none.
func (m *formMean) moves() (by [2][2]float64, ok bool) {
	g, ok := m.gain()
	if !ok {
		return by, false
	}
	n := len(m.at)
	c, x := newPositive(n), make([]float64, n)
	m.spread(c, nil, 0)
	none, left, ok := m.likely(c, x)
	if !ok || left <= float64(n-2) {
		return by, false // chance leaves as much
	}
	best := none
	var all []formReading
	for _, length := range formLengths {
		alike := m.alike(length * formLength(m.r))
		size := leastForm
		for range formSteps {
			if o, ok := m.read(c, alike, &g, size, x); ok {
				all = append(all, o)
				best = max(best, o.likely)
			}
			size *= 2
		}
	}
	if best-none < surely {
		return by, false
	}
	// As large as may be: over what length the form is alike is told badly by what is left of it.
	var out moments
	for i := range all {
		if o := &all[i]; o.likely >= best-likelyToo && o.out.ofNose() > out.ofNose() {
			out = o.out
		}
	}
	return out.asCauses(), true
}

// spread sets c to the covariance of the mean distances, s and r being left to them, with a form of a size besides.
func (m *formMean) spread(c *positive, alike [][]float64, size float64) {
	for i := range m.at {
		for k := range i + 1 {
			v := float64(m.bent[i]*m.bent[k]) + float64(freeOfForm*freeOfForm*(float64(m.slopes[i][0]*m.slopes[k][0])+float64(m.slopes[i][1]*m.slopes[k][1])))
			if i == k {
				v += float64(m.u[i] * m.u[i])
			}
			if alike != nil {
				v += float64(size * size * alike[i][k])
			}
			c.a[i][k] = v
		}
	}
}

// alike is the covariance of a form of size 1 over a length, mm.
func (m *formMean) alike(length float64) [][]float64 {
	a := make([][]float64, len(m.at))
	for i := range a {
		a[i] = make([]float64, len(a))
		for k := range i + 1 {
			d := (m.at[i] - m.at[k]) / length
			a[i][k] = geom.Exp(-float64(d*d) / 2)
			a[k][i] = a[i][k]
		}
	}
	return a
}

// likely factors c and returns the logarithm of how likely the mean distances are with it, less what is the same for all, and the sum of
// their squares in its units; x is their solution.
func (m *formMean) likely(c *positive, x []float64) (l, left float64, ok bool) {
	det, ok := c.factor()
	if !ok {
		return 0, 0, false
	}
	c.solve(m.res, x)
	left = inner(m.res, x)
	return -(det + left) / 2, left, true
}

// read returns what a form of one size says, of which the fit makes g; x is room.
func (m *formMean) read(c *positive, alike [][]float64, g *[2][]float64, size float64, x []float64) (o formReading, ok bool) {
	m.spread(c, alike, size)
	if o.likely, _, ok = m.likely(c, x); !ok {
		return o, false
	}
	v := size * size
	var to, told [2][]float64
	var mean [2]float64
	for i := range to {
		to[i], told[i] = make([]float64, len(x)), make([]float64, len(x))
		for k := range to[i] {
			to[i][k] = float64(v * inner(alike[k], g[i]))
		}
		mean[i] = inner(to[i], x)
		c.solve(to[i], told[i])
	}
	of := func(i, k int) float64 {
		return float64(mean[i]*mean[k]) + inner(g[i], to[k]) - inner(to[i], told[k])
	}
	o.out = moments{of(0, 0), of(0, 1), of(1, 1)}
	return o, true
}
