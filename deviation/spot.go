package deviation

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// SpotState says whether a named place has a deviation, or why not.
type SpotState uint8

// The states of spots; the first that applies, in this order after SpotMeasured.
const (
	SpotMeasured  SpotState = iota
	OffReference            // the reference is further away than the reach
	NoScan                  // too few measured scan points around it
	PlacementFree           // the placement may move along the normal there
)

// String returns the word used in files.
func (s SpotState) String() string {
	return [...]string{"measured", "off-reference", "no-scan", "placement-free"}[s]
}

// Found reports whether there is a point of the reference near the place.
func (s SpotState) Found() bool { return s != OffReference }

// Spot is the deviation at a place on the reference, from all scan points around it.
type Spot struct {
	State  SpotState
	Value  verdict.Value // mm; U is expanded, k = 2
	Foot   geom.Vec      // on the reference, nearest to the place that was named; zero when OffReference
	Points int           // that the value was fitted to
	Why    string        // when there is no value
	// Shape is, in mm, by how much the points differ about what was fitted to them where that is no noise and makes U
	// most of what it is, as an edge or a step within the radius does; else 0.
	Shape float64
}

const (
	// leastPlane and leastQuadratic are the fewest points that a plane and a
	// quadratic are fitted to: three more than they have terms, so that a scatter is left.
	leastPlane, leastQuadratic = 6, 9
	// misfit is how many standard deviations of its own a scatter must exceed the noise by
	// to be the part's shape, which the fit does not follow, and not noise.
	misfit = 3.0
	// mostlyShape: of a variance that is this many times that of the noise alone, so that U is three times as large,
	// the shape is named as the reason.
	mostlyShape = 9.0
	// quadraticTerms: 1, u, v, u², uv, v².
	quadraticTerms = 6
	// nearby, in mean spacings, is how near two points count as neighbours for how their noise hangs together.
	nearby = 1.5
)

// MeasureSpot returns the deviation at the place of the reference that is nearest
// to at: that of the quadratic fitted to the deviations of the measured points whose
// distance from the normal there is within radius (mm); a plane where there
// are fewer than nine points or none on one side, as at the part's edge.
//
// U combines the fit's variance, with the larger of the field's noise and the
// scatter about the fit and stretched where neighbours' noise hangs together; what of
// the scatter is too large for noise, as over a step, which no mean of
// points lessens; the placement and the chord error as [Field.Expand] does. The field must have budgets.
func MeasureSpot(f *Field, placed *mesh.Mesh, normals []geom.Vec, ref *surface.Surface, s Settings, at geom.Vec, radius float64) Spot {
	hit, ok := ref.NewFinder().Closest(at, s.Reach)
	if !ok {
		return Spot{State: OffReference, Why: offReference(ref, at, s.Reach)}
	}
	out := Spot{Foot: hit.Point}
	_, n, smooth := ref.Skin(s.Threads).At(hit.Face, hit.Point)
	if !smooth {
		n = hit.Normal
	}
	p := patch{radius: radius}
	for i, v := range placed.Vertices {
		d := v.Sub(hit.Point)
		along := d.Dot(n)
		if f.State[i] != Measured || math.Abs(along) > s.Reach || d.AddScaled(-along, n).Norm2() > float64(radius*radius) {
			continue
		}
		if normals != nil && normals[i] != (geom.Vec{}) && normals[i].Dot(n) < facingCos {
			continue // another skin
		}
		p.points = append(p.points, patchPoint{d, 0, 0, f.Deviation[i]})
		p.chord += math.Abs(float64(f.Budget[i].Chord))
		if b := f.Budget[i]; b.Placement < 0 {
			out.State, out.Why = PlacementFree, "the placement may "+f.WhyFree(i)
		} else {
			p.placement = max(p.placement, float64(b.Placement))
		}
	}
	out.Points = len(p.points)
	if out.Points < leastPlane {
		out.State, out.Why = NoScan, fmt.Sprintf("the scan has %d of the %d measured points that are needed within %.3g mm of it: scan it, or give it a larger radius", out.Points, leastPlane, radius)
		return out
	}
	if out.State == PlacementFree {
		return out
	}
	value, variance, shape, ok := p.fit(n, f.Noise)
	if !ok {
		out.State, out.Why = NoScan, fmt.Sprintf("the scan's points within %.3g mm of it lie on one line or to one side: scan around it, or give it a larger radius", radius)
		return out
	}
	if variance < float64(p.placement*p.placement) {
		shape = 0 // the placement makes more of U
	}
	b := Budget{Placement: float32(p.placement), Chord: float32(p.chord / float64(out.Points))}
	out.Value, out.Shape = verdict.Value{V: value, U: b.Expanded(math.Sqrt(variance)), OK: true}, shape
	return out
}

// offReference says where the reference is instead, so that a slip of a digit or an axis shows.
func offReference(ref *surface.Surface, at geom.Vec, reach float64) string {
	said := fmt.Sprintf("the reference lies further from it than the reach of %g mm", reach)
	near, ok := ref.NewFinder().Closest(at, math.Inf(1))
	if !ok {
		return said
	}
	return fmt.Sprintf("%s: its nearest point is %.1f mm away, at x %.1f, y %.1f, z %.1f mm", said, near.Distance, near.Point.X, near.Point.Y, near.Point.Z)
}

// patch is what a spot's value is fitted to.
type patch struct {
	radius           float64
	points           []patchPoint
	placement, chord float64 // mm: the largest, the sum
}

type patchPoint struct {
	d    geom.Vec // from the foot
	u, v float64  // tangential, in radii
	x    float64  // mm, deviation
}

// fit returns the value at the foot, its variance in mm² and Spot.Shape. It fails where the
// points do not surround or reach the foot well enough to tell.
func (p *patch) fit(n geom.Vec, noise float64) (value, variance, shape float64, ok bool) {
	eu, ev := square(n)
	var side [4]bool
	for i := range p.points {
		q := &p.points[i]
		q.u, q.v = q.d.Dot(eu)/p.radius, q.d.Dot(ev)/p.radius
		k := 0
		if q.u > 0 {
			k++
		}
		if q.v > 0 {
			k += 2
		}
		side[k] = true
	}
	terms := 3
	if len(p.points) >= leastQuadratic && side == [4]bool{true, true, true, true} {
		terms = quadraticTerms
	}
	var normal [quadraticTerms][quadraticTerms]float64
	var right [quadraticTerms]float64
	for i := range p.points {
		t := p.points[i].terms()
		for r := range terms {
			right[r] += float64(t[r] * p.points[i].x)
			for c := range terms {
				normal[r][c] += float64(t[r] * t[c])
			}
		}
	}
	inverse, ok := inverted(normal, terms)
	if !ok {
		return 0, 0, 0, false
	}
	var c [quadraticTerms]float64
	for r := range terms {
		for k := range terms {
			c[r] += float64(inverse[r][k] * right[k])
		}
	}
	rest := make([]float64, len(p.points))
	sum := 0.0
	for i := range p.points {
		t := p.points[i].terms()
		rest[i] = p.points[i].x
		for k := range terms {
			rest[i] -= float64(t[k] * c[k])
		}
		sum += float64(rest[i] * rest[i])
	}
	if inverse[0][0] > 1 {
		return 0, 0, 0, false // the foot is so far outside the points that their noise grows on the way
	}
	scatter := 0.0
	if dof := len(p.points) - terms; dof > 0 {
		scatter = sum / float64(dof)
	}
	own := float64(noise * noise)
	one := max(scatter, own)
	// However the noise hangs together, the mean of many points is no worse than one of them.
	variance = float64(one * min(float64(inverse[0][0]*p.alike(rest, scatter)), 1))
	if dof := float64(len(p.points) - terms); own > 0 && scatter > float64(own*(1+float64(misfit*math.Sqrt(2/dof)))) {
		byNoise := float64(own * min(float64(inverse[0][0]*p.alike(rest, scatter)), 1))
		if variance += scatter - own; variance > mostlyShape*byNoise {
			shape = slices.Max(rest) - slices.Min(rest)
		}
	}
	return c[0], variance, shape, true
}

func (q *patchPoint) terms() [quadraticTerms]float64 {
	return [...]float64{1, q.u, q.v, float64(q.u * q.u), float64(q.u * q.v), float64(q.v * q.v)}
}

// alike returns by how much the variance of a mean of the points exceeds that of
// as many independent ones: 1 + 2πL²δ for δ points per area whose noise is
// correlated as exp(-distance/L), with L from the correlation of neighbours
// where that is beyond twice its own uncertainty.
func (p *patch) alike(rest []float64, variance float64) float64 {
	if !(variance > 0) {
		return 1
	}
	density := float64(len(rest)) / math.Pi // per square radius
	near := nearby / math.Sqrt(density)
	order := make([]int, len(rest))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(p.points[a].u, p.points[b].u), cmp.Compare(a, b)) })
	pairs, product, distance := 0, 0.0, 0.0
	for k, i := range order {
		for _, j := range order[k+1:] {
			du := p.points[j].u - p.points[i].u
			if du > near {
				break
			}
			dv := p.points[j].v - p.points[i].v
			if h := math.Sqrt(float64(du*du) + float64(dv*dv)); h > 0 && h <= near {
				pairs++
				product += float64(rest[i] * rest[j])
				distance += h
			}
		}
	}
	if pairs == 0 {
		return 1
	}
	rho := min(product/float64(pairs)/variance, 0.99)
	if rho <= 2/math.Sqrt(float64(pairs)) {
		return 1
	}
	length := -distance / float64(pairs) / ln(rho)
	return 1 + float64(2*math.Pi*density*float64(length*length))
}

// ln is the natural logarithm of x in (0, 1], the same on every processor: five
// square roots bring x near 1, where 2 artanh((x-1)/(x+1)) takes a few terms.
func ln(x float64) float64 {
	const roots = 5
	for range roots {
		x = math.Sqrt(x)
	}
	z := (x - 1) / (x + 1)
	sum, power := 0.0, z
	for k := 1; k < 40; k += 2 {
		sum += power / float64(k)
		power *= float64(z * z)
	}
	return float64(2<<roots) * sum
}

// inverted returns the inverse of the leading part of a symmetric positive matrix
// (Gauss-Jordan with the largest diagonal first); false where it has none to the
// precision of its entries.
func inverted(a [quadraticTerms][quadraticTerms]float64, n int) (out [quadraticTerms][quadraticTerms]float64, ok bool) {
	// Terms are of the order of the number of points; what is left of a pivot
	// beside that is rounding where the points do not tell the term.
	least := float64(1e-9 * a[0][0])
	for i := range n {
		out[i][i] = 1
	}
	for k := range n {
		at := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[at][k]) {
				at = i
			}
		}
		a[k], a[at] = a[at], a[k]
		out[k], out[at] = out[at], out[k]
		if !(math.Abs(a[k][k]) > least) {
			return out, false
		}
		pivot := a[k][k]
		for c := range n {
			a[k][c] /= pivot
			out[k][c] /= pivot
		}
		for r := range n {
			if r == k {
				continue
			}
			factor := a[r][k]
			for c := range n {
				a[r][c] -= float64(factor * a[k][c])
				out[r][c] -= float64(factor * out[k][c])
			}
		}
	}
	return out, true
}
