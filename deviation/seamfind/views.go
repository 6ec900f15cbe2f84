package seamfind

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	// pixel is the distance of places looked at, mm: three of them in the narrowest
	// gap between hems of 1 mm, which is 2 mm wide 1 mm below the skins.
	pixel = 0.8
	// mostPixels bounds a picture's memory to 60 MB; larger bodies get coarser pixels.
	mostPixels = 12_000_000
	// A direction is left out when less of the body's area than this looks its way
	// more than any other: its neighbours, 45° apart at most, see that little as well.
	leastShare = 0.002
)

// view is a direction to look from: right and up span the picture, out points to the viewer.
type view struct{ right, up, out geom.Vec }

// views returns the 26 directions to a cube's faces, edges and corners: every
// skin faces one of them to within 28°.
func views() []view {
	var list []view
	for x := -1.0; x <= 1; x++ {
		for y := -1.0; y <= 1; y++ {
			for z := -1.0; z <= 1; z++ {
				if x == 0 && y == 0 && z == 0 {
					continue
				}
				out := geom.Vec{X: x, Y: y, Z: z}.Unit()
				up := geom.Vec{Z: 1}
				if x == 0 && y == 0 {
					up = geom.Vec{Y: 1}
				}
				right := up.Cross(out).Unit()
				list = append(list, view{right, out.Cross(right), out})
			}
		}
	}
	return list
}

// facesPerCheck are looked at between two looks at whether to stop.
const facesPerCheck = 1 << 16

// facing returns those views that enough of the mesh looks at.
func facing(ctx context.Context, m *mesh.Mesh, normals []geom.Vec) []view {
	all := views()
	area := make([]float64, len(all))
	total := 0.0
	for f := range m.Faces {
		if f%facesPerCheck == 0 && ctx.Err() != nil {
			return nil // who asked sees why
		}
		t := m.Faces[f]
		n := normals[t[0]].Add(normals[t[1]]).Add(normals[t[2]])
		a := m.AreaNormal(uint32(f)).Norm()
		best, at := math.Inf(-1), 0
		for k := range all {
			if d := all[k].out.Dot(n); d > best {
				best, at = d, k
			}
		}
		area[at] += a
		total += a
	}
	var list []view
	for k, v := range all {
		if area[k] > leastShare*total {
			list = append(list, v)
		}
	}
	return list
}

// What is seen at a pixel.
const (
	nothing uint8 = iota
	skin          // a face that looks at the viewer
	inside        // a face that looks away
)

// picture holds the height, along the view's out, of what is seen first at each pixel.
type picture struct {
	view
	w, h   int
	x0, y0 float64 // of the first pixel's middle, along right and up
	size   float64 // mm between pixels
	height []float32
	kind   []uint8
}

// checkEvery is how many faces are drawn, and rowsEvery how many rows are looked
// through, between two looks at a context: some milliseconds.
const (
	checkEvery = 1 << 15
	rowsEvery  = 64
)

// render draws the mesh; what it draws is not whole once ctx is done.
func render(ctx context.Context, m *mesh.Mesh, v view, size float64) *picture {
	flat := make([]geom.Vec, len(m.Vertices))
	box := geom.EmptyBox()
	for i, p := range m.Vertices {
		flat[i] = geom.Vec{X: p.Dot(v.right), Y: p.Dot(v.up), Z: p.Dot(v.out)}
		box = box.Extend(flat[i])
	}
	s := box.Size()
	for float64((s.X/size+3)*(s.Y/size+3)) > mostPixels {
		size *= 1.1
	}
	p := &picture{view: v, w: int(s.X/size) + 2, h: int(s.Y/size) + 2, x0: box.Lo.X, y0: box.Lo.Y, size: size}
	p.height, p.kind = make([]float32, p.w*p.h), make([]uint8, p.w*p.h)
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			break
		}
		p.draw(flat[t[0]], flat[t[1]], flat[t[2]])
	}
	return p
}

// draw puts a triangle into the picture, row by row.
func (p *picture) draw(a, b, c geom.Vec) {
	// In pixels from here on.
	for _, q := range []*geom.Vec{&a, &b, &c} {
		q.X, q.Y = (q.X-p.x0)/p.size, (q.Y-p.y0)/p.size
	}
	ux, uy, vx, vy := b.X-a.X, b.Y-a.Y, c.X-a.X, c.Y-a.Y
	det := float64(ux*vy) - float64(uy*vx)
	if det == 0 {
		return
	}
	kind := skin
	if det < 0 {
		kind = inside
	}
	// Height = a.Z + gx (x - a.X) + gy (y - a.Y).
	du, dv := b.Z-a.Z, c.Z-a.Z
	gx, gy := (float64(du*vy)-float64(dv*uy))/det, (float64(dv*ux)-float64(du*vx))/det
	lo, hi := min(a.Z, b.Z, c.Z), max(a.Z, b.Z, c.Z)
	first, last := max(0, int(math.Ceil(min(a.Y, b.Y, c.Y)))), min(p.h-1, int(math.Floor(max(a.Y, b.Y, c.Y))))
	for row := first; row <= last; row++ {
		y := float64(row)
		from, to := math.Inf(1), math.Inf(-1)
		for _, e := range [3][2]geom.Vec{{a, b}, {b, c}, {c, a}} {
			s, t := e[0], e[1]
			if (s.Y > y) == (t.Y > y) && s.Y != y && t.Y != y || s.Y == t.Y {
				continue
			}
			x := s.X + float64((t.X-s.X)*((y-s.Y)/(t.Y-s.Y)))
			from, to = min(from, x), max(to, x)
		}
		for x := max(0, int(math.Ceil(from))); x <= min(p.w-1, int(math.Floor(to))); x++ {
			z := a.Z + float64(gx*(float64(x)-a.X)) + float64(gy*(y-a.Y))
			h := float32(min(hi, max(lo, z))) // a triangle seen edge-on has no bounds of its own
			k := row*p.w + x
			if p.kind[k] == nothing || h > p.height[k] || h == p.height[k] && kind == skin {
				p.height[k], p.kind[k] = h, kind
			}
		}
	}
}

// point returns the place in space at a column, a row and a height.
func (p *picture) point(x, y, height float64) geom.Vec {
	return geom.Vec{}.AddScaled(p.x0+float64(x*p.size), p.right).AddScaled(p.y0+float64(y*p.size), p.up).AddScaled(height, p.out)
}
