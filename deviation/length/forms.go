package length

import (
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// likePatch: the points of a plane's patch face within 45 degrees of its middle.
	likePatch = 0.7071067811865476
	// radial: the normals of a sphere's or cylinder's points lie within 45 degrees of the radius.
	radial = likePatch
	// bandOf the radius: how far from where it is said to be a form's points may lie, and once it was found.
	firstBand, lastBand = 0.4, 0.15
	// radiusOff is the most that a radius may differ from what was said, as a share of it.
	radiusOff = 0.2
	// wallDepth: a wall must be seen to this share of its radius deep for its axis to be taken from it.
	wallDepth = 0.7
	// wallFacing: the normals of a wall lie within 20 degrees of the radius about its axis.
	wallFacing = 0.94
	// sheetLike: normals around a hole agree this well in a sheet.
	sheetLike = 0.85
)

// gather returns the vertices for which keep holds and their spacing, mm.
func gather(m *mesh.Mesh, normals []geom.Vec, keep func(p, n geom.Vec) bool) (points []geom.Vec, facing []geom.Vec) {
	for i, p := range m.Vertices {
		n := geom.Vec{}
		if normals != nil {
			n = normals[i]
		}
		if keep(p, n) {
			points, facing = append(points, p), append(facing, n)
		}
	}
	return points, facing
}

func tooFew(e End, n int) string {
	if n == 0 {
		return fmt.Sprintf("No point of the scan lies on the %s; %d are needed: check where it is and its radius, in mm.", e.Kind, leastPoints)
	}
	return fmt.Sprintf("Only %d points of the scan lie on the %s; %d are needed: check where it is and its radius, in mm.", n, e.Kind, leastPoints)
}

func fitPlane(m *mesh.Mesh, normals []geom.Vec, e End) (*Fit, string) {
	middle, _ := nearest(m.Vertices, e.At)
	way := geom.Vec{}
	if normals != nil {
		way = normals[middle]
	}
	r2 := float64(e.Radius * e.Radius)
	points, _ := gather(m, normals, func(p, n geom.Vec) bool {
		return p.Sub(e.At).Norm2() <= r2 && (n == (geom.Vec{}) || way == (geom.Vec{}) || n.Dot(way) >= likePatch)
	})
	if len(points) < leastPoints {
		return nil, tooFew(e, len(points))
	}
	f := &Fit{Kind: Plane, Dir: way}
	var c geom.Vec
	for _, p := range points {
		c = c.Add(p)
	}
	f.At = c.Scale(1 / float64(len(points)))
	if f.Dir == (geom.Vec{}) {
		f.Dir = smallest(points, f.At)
	}
	q := problem{points: points, params: 3}
	var u, v geom.Vec
	q.residual = func(p geom.Vec, row []float64) float64 {
		u, v = across(f.Dir)
		d := p.Sub(f.At)
		row[0], row[1], row[2] = -1, -d.Dot(u), -d.Dot(v)
		return d.Dot(f.Dir)
	}
	q.move = func(x []float64) {
		u, v = across(f.Dir)
		f.At = f.At.AddScaled(x[0], f.Dir)
		f.Dir = f.Dir.AddScaled(-x[1], u).AddScaled(-x[2], v).Unit()
	}
	s := q.solve()
	if !s.ok {
		return nil, tooFew(e, len(points))
	}
	f.take(&s)
	u, v = across(f.Dir)
	outer(&f.covariance, float64(s.sigma2*s.inverse[0][0]), f.Dir, f.Dir)
	dirs := [2]geom.Vec{u, v}
	for i := range 2 {
		for k := range 2 {
			outer(&f.tilt, float64(s.sigma2*s.inverse[1+i][1+k]), dirs[i], dirs[k])
		}
	}
	return f, ""
}

func (f *Fit) take(s *solved) { f.RMS, f.Form, f.Points = s.rms, s.form, s.used }

// smallest returns the direction in which points scatter least about c.
func smallest(points []geom.Vec, c geom.Vec) geom.Vec {
	var s [3][3]float64
	for _, p := range points {
		d := p.Sub(c)
		outer(&s, 1, d, d)
	}
	return leastAxis(s)
}

// leastAxis returns the direction of the least eigenvalue of a symmetric matrix: inverse iteration on
// the matrix with a little added.
func leastAxis(s [3][3]float64) geom.Vec {
	trace := s[0][0] + s[1][1] + s[2][2]
	a := make([][]float64, 3)
	for i := range a {
		a[i] = []float64{s[i][0], s[i][1], s[i][2]}
		a[i][i] += float64(1e-9 * trace)
	}
	inv, ok := inverted(a)
	if !ok {
		return geom.Vec{Z: 1}
	}
	d := geom.Vec{X: 0.53, Y: 0.61, Z: 0.59}
	for range 100 {
		d = geom.Vec{
			X: float64(inv[0][0]*d.X) + float64(inv[0][1]*d.Y) + float64(inv[0][2]*d.Z),
			Y: float64(inv[1][0]*d.X) + float64(inv[1][1]*d.Y) + float64(inv[1][2]*d.Z),
			Z: float64(inv[2][0]*d.X) + float64(inv[2][1]*d.Y) + float64(inv[2][2]*d.Z),
		}.Unit()
	}
	return d
}

func fitSphere(m *mesh.Mesh, normals []geom.Vec, e End) (*Fit, string) {
	f := &Fit{Kind: Sphere, At: e.At, Radius: e.Radius}
	var s solved
	count := 0
	for _, band := range [...]float64{firstBand, lastBand, lastBand} {
		at, radius := f.At, f.Radius
		points, _ := gather(m, normals, func(p, n geom.Vec) bool {
			d := p.Sub(at)
			r := d.Norm()
			return math.Abs(r-radius) <= band*radius && (n == (geom.Vec{}) || math.Abs(n.Dot(d)) >= radial*r)
		})
		count = len(points)
		q := problem{points: points, params: 4}
		q.residual = func(p geom.Vec, row []float64) float64 {
			d := p.Sub(f.At)
			r := d.Norm()
			way := d.Unit()
			row[0], row[1], row[2], row[3] = -way.X, -way.Y, -way.Z, -1
			return r - f.Radius
		}
		q.move = func(x []float64) {
			f.At = f.At.Add(geom.Vec{X: x[0], Y: x[1], Z: x[2]})
			f.Radius += x[3]
		}
		if s = q.solve(); !s.ok {
			return nil, tooFew(e, count)
		}
		if why := f.wrongRadius(e); why != "" {
			return nil, why
		}
	}
	f.take(&s)
	for i := range 3 {
		for k := range 3 {
			f.covariance[i][k] = float64(s.sigma2 * s.inverse[i][k])
		}
	}
	f.RadiusU = 2 * math.Sqrt(float64(s.sigma2*s.inverse[3][3]))
	return f, ""
}

// wrongRadius says that what was found is not what was named.
func (f *Fit) wrongRadius(e End) string {
	if off := math.Abs(f.Radius - e.Radius); !(off <= radiusOff*e.Radius) || f.At.Dist(e.At) > e.Radius+Reach {
		return fmt.Sprintf("The %s found there has a radius of %.2f mm where %.2f was named.", e.Kind, f.Radius, e.Radius)
	}
	return ""
}

func fitCylinder(m *mesh.Mesh, normals []geom.Vec, e End) (*Fit, string) {
	f := &Fit{Kind: Cylinder, At: e.At, Radius: e.Radius, Dir: e.Axis.Unit()}
	known := f.Dir != (geom.Vec{})
	if !known {
		if normals == nil {
			return nil, "The scan has no faces to take the cylinder's axis from; name its axis."
		}
		f.Dir = axisAround(m, normals, e)
	}
	var s solved
	for _, band := range [...]float64{firstBand, lastBand, lastBand} {
		at, axis, radius := f.At, f.Dir, f.Radius
		points, _ := gather(m, normals, func(p, n geom.Vec) bool {
			d := p.Sub(at)
			along := d.Dot(axis)
			d = d.AddScaled(-along, axis)
			r := d.Norm()
			return math.Abs(along) <= 3*radius && math.Abs(r-radius) <= band*radius && (n == (geom.Vec{}) || math.Abs(n.Dot(d)) >= radial*r)
		})
		if len(points) < leastPoints {
			return nil, tooFew(e, len(points))
		}
		lo, hi, mean := math.Inf(1), math.Inf(-1), 0.0
		for _, p := range points {
			t := p.Sub(f.At).Dot(f.Dir)
			lo, hi, mean = min(lo, t), max(hi, t), mean+t/float64(len(points))
		}
		f.At = f.At.AddScaled(mean, f.Dir)
		tilts := !known && hi-lo >= wallDepth*radius
		q := problem{points: points, params: 3}
		if tilts {
			q.params = 5
		}
		q.residual = func(p geom.Vec, row []float64) float64 {
			u, v := across(f.Dir)
			d := p.Sub(f.At)
			t := d.Dot(f.Dir)
			d = d.AddScaled(-t, f.Dir)
			way := d.Unit()
			row[0], row[1], row[2] = -way.Dot(u), -way.Dot(v), -1
			if tilts {
				row[3], row[4] = float64(t*row[0]), float64(t*row[1])
			}
			return d.Norm() - f.Radius
		}
		q.move = func(x []float64) {
			u, v := across(f.Dir)
			f.At = f.At.AddScaled(x[0], u).AddScaled(x[1], v)
			f.Radius += x[2]
			if tilts {
				f.Dir = f.Dir.AddScaled(x[3], u).AddScaled(x[4], v).Unit()
			}
		}
		if s = q.solve(); !s.ok {
			return nil, tooFew(e, len(points))
		}
		if why := f.wrongRadius(e); why != "" {
			return nil, why
		}
	}
	f.take(&s)
	u, v := across(f.Dir)
	dirs := [2]geom.Vec{u, v}
	for i := range 2 {
		for k := range 2 {
			outer(&f.covariance, float64(s.sigma2*s.inverse[i][k]), dirs[i], dirs[k])
		}
	}
	f.RadiusU = 2 * math.Sqrt(float64(s.sigma2*s.inverse[2][2]))
	return f, ""
}

// axisAround returns the axis of a cylinder from what lies around it: the normal of the sheet that a hole is in, else the direction
// that the wall's normals are square to. Where wall and sheet mix, as at a deep hole's, their normals are square to nothing: then it is the one
// of the main directions of all of them that most points lie about as about a cylinder's axis.
func axisAround(m *mesh.Mesh, normals []geom.Vec, e End) geom.Vec {
	var mean geom.Vec
	var s, turned [3][3]float64
	n := 0.0
	for i, p := range m.Vertices {
		d := p.Dist(e.At)
		if d > 2.5*e.Radius {
			continue
		}
		if d > 1.25*e.Radius {
			mean = mean.Add(normals[i])
			n++
		}
		if d < 1.5*e.Radius {
			outer(&s, 1, normals[i], normals[i])
		}
	}
	if n >= leastPoints && mean.Norm() >= sheetLike*n {
		return mean.Unit()
	}
	least := leastAxis(s)
	trace := s[0][0] + s[1][1] + s[2][2]
	for i := range 3 {
		for k := range 3 {
			turned[i][k] = -s[i][k]
		}
		turned[i][i] += trace
	}
	most := leastAxis(turned)
	best, count := least, pointsAbout(m, normals, e, least)
	for _, axis := range [...]geom.Vec{most, most.Cross(least).Unit(), mean.Unit()} {
		if axis == (geom.Vec{}) {
			continue
		}
		if c := pointsAbout(m, normals, e, axis); c > count {
			best, count = axis, c
		}
	}
	return best
}

// pointsAbout counts the points that lie as a cylinder's do about the axis through e.
func pointsAbout(m *mesh.Mesh, normals []geom.Vec, e End, axis geom.Vec) int {
	count := 0
	for i, p := range m.Vertices {
		d := p.Sub(e.At)
		along := d.Dot(axis)
		d = d.AddScaled(-along, axis)
		if r := d.Norm(); math.Abs(along) <= 3*e.Radius && math.Abs(r-e.Radius) <= firstBand*e.Radius && math.Abs(normals[i].Dot(d)) >= wallFacing*r {
			count++
		}
	}
	return count
}

// spacingOf is how far apart points of a scan lie, mm: the root of the area that each of them
// stands for in the whole scan, or for a scan without faces a millimetre, as is usual.
func spacingOf(m *mesh.Mesh) float64 {
	if len(m.Faces) == 0 {
		return 1
	}
	area := 0.0
	step := len(m.Faces)/4096 + 1
	n := 0
	for f := 0; f < len(m.Faces); f += step {
		area += m.AreaNormal(uint32(f)).Norm()
		n++
	}
	// Two faces to a vertex, and normals twice as long as the area.
	return math.Sqrt(max(area/float64(n), 1e-6))
}
