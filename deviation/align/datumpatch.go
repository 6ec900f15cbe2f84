package align

import (
	"math"

	"shutline/mesh/geom"
)

const (
	// patchLeast and patchMost in mm bound the patch of scan around a datum: a
	// target mark's size, and what a quadratic surface still follows on bodywork
	// (at radius 20 mm the cubic part of a skin with a curvature that changes from
	// 1/2000 to 1/1000 per 100 mm is 0.007 mm).
	patchLeast = 5.0
	patchMost  = 20.0
	patchGrow  = 1.25

	// patchBend is the cosine of 25 degrees: a patch ends where the surface has bent
	// so far. Around a rollover a quadratic surface is then off by r/240 at its ends,
	// 0.006 mm for the usual radius of 1.5 mm.
	patchBend = 0.9063077870366499

	// patchWanted points give a quadratic surface of six terms four times as many;
	// with fewer than patchQuadratic a plane is fitted, with fewer than patchFewest nothing.
	patchWanted    = 24
	patchQuadratic = 12
	patchFewest    = 6

	patchRounds = 8 // of weights; they settle within four
)

// patch is the scan's surface around a datum, as points in scan coordinates.
type patch struct {
	points []geom.Vec
	radius float64 // mm
}

// patchAt chooses the patch around the place where a datum meets a sheet.
func (s *datumSheet) patchAt(at geom.Vec, face int, outward geom.Vec) patch {
	for r := patchLeast; ; r = min(r*patchGrow, patchMost) {
		chosen := s.around(at, face, outward, r)
		if len(chosen) >= patchWanted || r >= patchMost {
			p := patch{radius: r}
			for _, i := range chosen {
				p.points = append(p.points, s.points[i])
			}
			return p
		}
	}
}

// patchFit is a patch's surface over the plane square to a datum's direction.
type patchFit struct {
	height    float64 // mm, of the surface over the datum's point along the direction
	scatter   float64 // mm, standard deviation of the points about the surface
	freedom   float64 // degrees of freedom of it
	influence []float64
	residual  []float64
	weight    []float64
	hat       func(i, k int) float64 // of the residuals
	at        [][2]float64           // mm, place of the points beside the datum's line
}

// over is what a patch is fitted over: the datum, with how far above its point the
// reference is along its direction, and the reference's normal there.
type over struct {
	Datum
	height float64
	normal geom.Vec
}

// heights returns where the patch's points, placed by g, stand over the reference
// along the datum's direction, as places beside its line and heights over what the
// reference has there. ok is false where fewer than half of them have a place on it.
func (m *matcher) heights(p *patch, g geom.Rigid, o *over) (at [][2]float64, h []float64, ok bool) {
	e1, e2 := beside(o.Normal)
	n := g.Inverse().ApplyDir(o.normal)
	for _, q := range p.points {
		pt := point{q, n}
		placed := m.pairOne(m.finders[0], g, &pt, datumReach)
		slant := placed.n.Dot(o.Normal)
		if placed.state != paired || math.Abs(slant) < cosSlant {
			continue
		}
		d := placed.at.Sub(o.Point)
		at = append(at, [2]float64{d.Dot(e1), d.Dot(e2)})
		h = append(h, o.height+placed.r/slant)
	}
	return at, h, 2*len(h) > len(p.points) && len(h) >= patchFewest
}

// bareHeights returns where the points stand over the plane through the datum's
// point square to its direction.
func bareHeights(p *patch, g geom.Rigid, o *over) (at [][2]float64, h []float64) {
	e1, e2 := beside(o.Normal)
	for _, q := range p.points {
		d := g.Apply(q).Sub(o.Point)
		at = append(at, [2]float64{d.Dot(e1), d.Dot(e2)})
		h = append(h, d.Dot(o.Normal))
	}
	return at, h
}

// fitPatch fits the patch, placed by g, over the datum: the reference's shape, where
// it is to be had, and a quadratic surface on it, so that neither a character line nor
// a dent under the datum bends the fit. ok is false when the points do not determine it.
func (m *matcher) fitPatch(p *patch, g geom.Rigid, o *over) (f patchFit, ok bool) {
	at, h, ok := m.heights(p, g, o)
	if !ok {
		at, h = bareHeights(p, g, o)
	}
	return fitHeights(at, h, p.radius)
}

// misfit returns by how much the height over the datum changes when the reference's
// shape is not used: what a coarse reference, or a shape that no quadratic surface
// follows, may put the height wrong by.
func (m *matcher) misfit(p *patch, g geom.Rigid, o *over, f *patchFit) float64 {
	at, h := bareHeights(p, g, o)
	bare, ok := fitHeights(at, h, p.radius)
	if !ok {
		return 0
	}
	return bare.height - f.height
}

// fitHeights fits a quadratic surface to heights over places, a plane where they are few, with Tukey's
// weights at 4.685 times the scatter, so that a weld spatter or a step beside the datum has no pull.
func fitHeights(at [][2]float64, h []float64, radius float64) (f patchFit, ok bool) {
	f.at = at
	n := len(h)
	terms := 6
	if n < patchQuadratic {
		terms = 3
	}
	if n < patchFewest {
		return f, false
	}
	rows := make([]vec6, n)
	for i, q := range f.at {
		u, v := q[0]/radius, q[1]/radius
		rows[i] = vec6{1, u, v, float64(u * u), float64(u * v), float64(v * v)}
		for k := terms; k < 6; k++ {
			rows[i][k] = 0
		}
	}
	f.weight, f.residual = make([]float64, n), make([]float64, n)
	for i := range f.weight {
		f.weight[i] = 1
	}
	var x vec6
	var inverse sym6
	for range patchRounds {
		if x, inverse, ok = solveTerms(rows, h, f.weight, terms); !ok {
			return f, false
		}
		size := make([]float64, n)
		for i := range rows {
			f.residual[i] = h[i] - dot6(&rows[i], &x)
			size[i] = math.Abs(f.residual[i])
		}
		const madToSigma = 1.4826
		scale := max(tukeyTuning*madToSigma*quantile(size, 0.5), scaleFloor*tukeyTuning)
		for i := range f.weight {
			f.weight[i] = tukeyWeight(f.residual[i], scale)
		}
	}
	if x, inverse, ok = solveTerms(rows, h, f.weight, terms); !ok {
		return f, false
	}
	sum, squares, total := 0.0, 0.0, 0.0
	for i := range rows {
		f.residual[i] = h[i] - dot6(&rows[i], &x)
		squares += float64(f.weight[i] * f.residual[i] * f.residual[i])
		sum += f.weight[i]
		if f.weight[i] > 0 {
			total++
		}
	}
	// The weights of a sample without outliers average 0.9 or so; a point that counts half is half a degree of freedom.
	f.freedom = sum - float64(terms)
	if !(f.freedom >= 1) {
		return f, false
	}
	f.scatter = math.Sqrt(squares / f.freedom * (total / sum))
	f.height = x[0]
	f.influence = make([]float64, n)
	first := vec6(inverse[0])
	for i := range rows {
		f.influence[i] = float64(f.weight[i] * dot6(&first, &rows[i]))
	}
	f.hat = func(i, k int) float64 {
		s := 0.0
		for r := range terms {
			row := vec6(inverse[r])
			s += float64(rows[i][r] * dot6(&row, &rows[k]))
		}
		return s
	}
	return f, true
}

// beside returns two unit directions square to d and to one another.
func beside(d geom.Vec) (e1, e2 geom.Vec) {
	axis := geom.Vec{X: 1}
	if math.Abs(d.X) > math.Abs(d.Y) {
		axis = geom.Vec{Y: 1}
	}
	e1 = d.Cross(axis).Unit()
	return e1, d.Cross(e1)
}

// solveTerms returns the weighted least squares of h over the first terms of the
// rows, and the inverse of its matrix.
func solveTerms(rows []vec6, h, weight []float64, terms int) (x vec6, inverse sym6, ok bool) {
	var a sym6
	var b vec6
	for i := range rows {
		a.addOuter(weight[i], &rows[i])
		for k := range terms {
			b[k] += float64(weight[i] * rows[i][k] * h[i])
		}
	}
	a.mirror()
	for k := terms; k < 6; k++ {
		a[k][k] = 1
	}
	var full [6]vec6
	for k := range 6 {
		full[k] = vec6(a[k])
	}
	inv, ok := invert6(full)
	if !ok {
		return x, inverse, false
	}
	for k := range 6 {
		inverse[k] = [6]float64(inv[k])
	}
	// On a line or in a point the terms cannot be told apart and the inverse explodes:
	// the height over the datum would be known no better than the noise times this.
	const mostGain = 100
	if !(inverse[0][0] >= 0 && inverse[0][0] < mostGain) {
		return x, inverse, false
	}
	for k := range terms {
		x[k] = dot6(&inv[k], &b)
	}
	return x, inverse, true
}

// patchSigmas returns the standard uncertainty of each patch's height, in mm.
//
// The scatter of a patch is its own or that of all patches, whichever is greater.
// Noise of neighbouring points may be alike: its correlation is read from
// the residuals of all patches over the distance of two points, with what the fit
// itself puts in taken out, up to where it is no longer told from nothing. What a
// stated noise is greater than the scatter is noise so smooth that
// the fit follows it: it is added whole, since no fit averages it out. The misfits count as
// bounds (a third of their squares).
func patchSigmas(fits []patchFit, radii, misfits []float64, stated float64) []float64 {
	squares, freedom := 0.0, 0.0
	for i := range fits {
		squares += float64(fits[i].scatter * fits[i].scatter * fits[i].freedom)
		freedom += fits[i].freedom
	}
	pooled := squares / freedom
	alike := correlation(fits, radii)
	smooth := float64(stated*stated) - float64(pooled*(1+2*math.Sqrt(2/freedom)))
	if smooth > 0 {
		smooth = float64(stated*stated) - pooled
	}
	out := make([]float64, len(fits))
	for k := range fits {
		f, step := &fits[k], spacingOf(len(fits[k].at), radii[k])
		sum := 0.0
		for i := range f.influence {
			for j := range f.influence {
				rho := 1.0
				if i != j {
					rho = alike.at(apart2(f.at[i], f.at[j]) / step)
				}
				sum += float64(f.influence[i] * f.influence[j] * rho)
			}
		}
		s2 := max(float64(f.scatter*f.scatter), pooled)
		out[k] = math.Sqrt(float64(s2*max(sum, 0)) + max(smooth, 0) + float64(misfits[k]*misfits[k])/3)
	}
	return out
}

// spacingOf returns the mean spacing of n points in a disc.
func spacingOf(n int, radius float64) float64 { return radius * math.Sqrt(math.Pi/float64(n)) }

func apart2(a, b [2]float64) float64 {
	return math.Sqrt(float64((a[0]-b[0])*(a[0]-b[0])) + float64((a[1]-b[1])*(a[1]-b[1])))
}

// likeness is a correlation over the distance in spacings, by bins of one, the
// first from a half to one and a half.
type likeness [5]float64

func (l *likeness) at(distance float64) float64 {
	k := int(distance + 0.5)
	if k > len(l) {
		return 0
	}
	return l[max(k, 1)-1]
}

// correlation reads the residuals' correlation over distance.
func correlation(fits []patchFit, radii []float64) likeness {
	var sum, count likeness
	for k := range fits {
		f, step := &fits[k], spacingOf(len(fits[k].at), radii[k])
		s2 := float64(f.scatter * f.scatter)
		if s2 == 0 {
			continue
		}
		for i := range f.residual {
			for j := range i {
				if f.weight[i] == 0 || f.weight[j] == 0 {
					continue
				}
				b := max(int(apart2(f.at[i], f.at[j])/step+0.5), 1) - 1
				if b >= len(sum) {
					continue
				}
				// Residuals of independent noise have the covariance −s² h_ij.
				sum[b] += f.residual[i]*f.residual[j]/s2 + f.hat(i, j)
				count[b]++
			}
		}
	}
	var out likeness
	for b := range out {
		if count[b] == 0 {
			break
		}
		rho := sum[b] / count[b]
		if rho < 2/math.Sqrt(count[b]) {
			break // two standard deviations of what independent noise leaves
		}
		out[b] = min(rho, 1)
	}
	return out
}
