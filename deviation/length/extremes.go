package length

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// The farthest point of a noisy scan lies too far: of n points on a flat the highest stands
// out by some √(2 ln n) of the noise. The place is therefore fitted: a quadratic through the points around it, whose
// summit counts. Where no face looks along the axis the body ends at an edge,
// and its end lies up to one spacing beyond the last point.

const (
	// companions are the points that must lie around a farthest one, within crowd spacings: a speck is not the body.
	companions = 10
	crowd      = 6.0
	// mostSpecks are passed over before the body counts as not found.
	mostSpecks = 200
	// summit is the radius, in spacings, of what is fitted, and leastSummit in mm.
	summit      = 8.0
	leastSummit = 8.0
	// looking along the axis: within 45 degrees.
	looking = likePatch
	climbs  = 12
)

// extreme returns the farthest place of the scan along a unit axis, its position on it in mm and a standard uncertainty. use
// leaves points out that are not the body's; nil: all count.
func extreme(ctx context.Context, m *mesh.Mesh, normals []geom.Vec, use func(i int) bool, axis geom.Vec) (f *Fit, u float64, why string, err error) {
	spacing := spacingOf(m)
	left := map[int]bool{}
	for range mostSpecks {
		if err := ctx.Err(); err != nil {
			return nil, 0, "", err
		}
		top, at := -1, math.Inf(-1)
		for i, p := range m.Vertices {
			if h := p.Dot(axis); h > at && !left[i] && (use == nil || use(i)) {
				top, at = i, h
			}
		}
		if top < 0 {
			break
		}
		var crowded []int
		r2 := float64(crowd * spacing * crowd * spacing)
		for i, p := range m.Vertices {
			if p.Sub(m.Vertices[top]).Norm2() <= r2 && (use == nil || use(i)) {
				crowded = append(crowded, i)
			}
		}
		if len(crowded) <= companions {
			for _, i := range crowded {
				left[i] = true
			}
			continue
		}
		f, u = summitAt(m, normals, use, axis, m.Vertices[top], spacing)
		return f, u, "", nil
	}
	return nil, 0, fmt.Sprintf("No place with more than %d points around it lies farthest along the axis.", companions), nil
}

func summitAt(m *mesh.Mesh, normals []geom.Vec, use func(i int) bool, axis, top geom.Vec, spacing float64) (*Fit, float64) {
	radius := max(summit*spacing, leastSummit)
	f := &Fit{Kind: Farthest, At: top, Dir: axis}
	a, b := across(axis)
	// Points that look along the axis around the top.
	facing := func(at geom.Vec) []geom.Vec {
		var out []geom.Vec
		for i, p := range m.Vertices {
			d := p.Sub(at)
			if d.Norm2() > 4*radius*radius || use != nil && !use(i) {
				continue
			}
			x, y := d.Dot(a), d.Dot(b)
			if float64(x*x)+float64(y*y) <= float64(radius*radius) && math.Abs(d.Dot(axis)) <= radius && (normals == nil || normals[i].Dot(axis) >= looking) {
				out = append(out, p)
			}
		}
		return out
	}
	for range climbs {
		points := facing(f.At)
		s, q, ok := quadric(points, f.At, axis, a, b, radius)
		if !ok {
			break
		}
		f.take(&s)
		u := math.Sqrt(float64(s.sigma2 * s.inverse[0][0]))
		x, y, inside := q.summit(2 * u)
		move := geom.Vec{}.AddScaled(float64(x*radius), a).AddScaled(float64(y*radius), b)
		if inside && hypot(x, y)*radius < spacing/4 {
			f.At = f.At.Add(move).AddScaled(q.at(x, y), axis)
			return f, u
		}
		// A slope that ends at an edge: the fit's height at the highest of its own points, and up to a spacing more.
		best, rise := math.Inf(-1), 0.0
		var highest geom.Vec
		for _, p := range points {
			d := p.Sub(f.At)
			px, py := d.Dot(a)/radius, d.Dot(b)/radius
			if h := q.at(px, py); h > best {
				best, highest = h, geom.Vec{}.AddScaled(d.Dot(a), a).AddScaled(d.Dot(b), b)
				rise = hypot(q[1]+float64(2*q[3]*px)+float64(q[4]*py), q[2]+float64(2*q[5]*py)+float64(q[4]*px)) * spacing / radius
			}
		}
		if !inside && highest.Sub(move).Norm() < radius/2 && highest.Norm() < spacing {
			f.At = f.At.Add(highest).AddScaled(best+float64(rise/2), axis)
			return f, hypot(2*u, rise/2/math.Sqrt(3))
		}
		if !inside && highest.Norm() < move.Norm() {
			move = highest // there are no points where the quadratic would rise
		}
		f.At = f.At.Add(move).AddScaled(q.at(move.Dot(a)/radius, move.Dot(b)/radius), axis)
	}
	// An edge: the last point, and half a spacing more, known by half a spacing either way; the noise acts square to the sheet.
	f.RMS, f.Form = 0, 0
	f.At, f.Points = top.AddScaled(spacing/2, axis), 1
	return f, spacing / 2 / math.Sqrt(3)
}

func hypot(a, b float64) float64 { return math.Sqrt(float64(a*a) + float64(b*b)) }

// height is a quadratic over a disc, in units of its radius.
type height [6]float64

func (q *height) at(x, y float64) float64 {
	return q[0] + float64(q[1]*x) + float64(q[2]*y) + float64(q[3]*x*x) + float64(q[4]*x*y) + float64(q[5]*y*y)
}

// summit returns where the quadratic is highest on the disc; inside is false on its rim. The
// rim counts as no higher than the middle within flat mm.
func (q *height) summit(flat float64) (x, y float64, inside bool) {
	det := float64(4*q[3]*q[5]) - float64(q[4]*q[4])
	if q[3] < 0 && det > 0 {
		x = (float64(q[4]*q[2]) - float64(2*q[5]*q[1])) / det
		y = (float64(q[4]*q[1]) - float64(2*q[3]*q[2])) / det
		if hypot(x, y) <= 0.9 {
			return x, y, true
		}
	}
	best := math.Inf(-1)
	const turns = 72
	for k := range turns {
		s, c := geom.Sincos(2 * math.Pi * float64(k) / turns)
		if h := q.at(c, s); h > best {
			best, x, y = h, c, s
		}
	}
	// A flat that looks along the axis has no summit: its middle is as high as its rim but for noise.
	if best-q.at(0, 0) <= flat {
		return 0, 0, true
	}
	return 0.5 * x, 0.5 * y, false
}

func quadric(points []geom.Vec, at, axis, a, b geom.Vec, radius float64) (solved, height, bool) {
	var q height
	p := problem{points: points, params: 6, summit: true}
	p.residual = func(v geom.Vec, row []float64) float64 {
		d := v.Sub(at)
		x, y := d.Dot(a)/radius, d.Dot(b)/radius
		for k, t := range [6]float64{1, x, y, float64(x * x), float64(x * y), float64(y * y)} {
			row[k] = -t
		}
		return d.Dot(axis) - q.at(x, y)
	}
	p.move = func(step []float64) {
		for k := range q {
			q[k] += step[k]
		}
	}
	s := p.solve()
	return s, q, s.ok
}
