package align

import (
	"context"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// datumReach in mm is how far along its direction a datum looks for the scan,
	// to either side: a part placed by best fit that is farther off anywhere is no
	// trial fit but another part.
	datumReach = 25.0

	// datumDrift in mm is how far a placement may move at a datum before the scan
	// around the datum is gathered anew.
	datumDrift = 20.0

	// datumCapture in mm is what is gathered around a datum.
	datumCapture = datumReach + patchMost + datumDrift

	gatherRun = 1 << 16 // vertices or faces of one piece of work
)

// datumSheet is the part of a scan near a datum, in scan coordinates.
type datumSheet struct {
	points  []geom.Vec
	normals []geom.Vec // unit, zero where unknown; nil where nobody knows which side is outside
	faces   [][3]int32 // into points; none for a cloud
}

// gather returns the scan around each of the places, which are in scan
// coordinates, in the order of the scan's vertices and faces.
func (c *cloud) gather(ctx context.Context, places []geom.Vec, threads int) ([]datumSheet, error) {
	m := c.mesh
	near := make([]uint8, len(m.Vertices)) // bit k: within the capture of place k
	err := parallel.Chunks(ctx, len(near), gatherRun, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			for k, p := range places {
				if m.Vertices[i].Sub(p).Norm2() < datumCapture*datumCapture {
					near[i] |= 1 << k
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	runs := (len(m.Faces) + gatherRun - 1) / gatherRun
	found := make([][]uint32, runs)
	err = parallel.Chunks(ctx, len(m.Faces), gatherRun, threads, nil, func(_, run, lo, hi int) {
		for f := lo; f < hi; f++ {
			if t := m.Faces[f]; near[t[0]]|near[t[1]]|near[t[2]] != 0 {
				found[run] = append(found[run], uint32(f))
			}
		}
	})
	if err != nil {
		return nil, err
	}
	out := make([]datumSheet, len(places))
	for k := range out {
		s, index := &out[k], map[uint32]int32{}
		at := func(v uint32) int32 {
			i, ok := index[v]
			if !ok {
				i = int32(len(s.points))
				index[v] = i
				s.points = append(s.points, m.Vertices[v])
				if c.signed {
					s.normals = append(s.normals, c.normals[v])
				}
			}
			return i
		}
		if len(m.Faces) == 0 {
			for v, bits := range near {
				if bits&(1<<k) != 0 && m.Vertices[v].IsFinite() {
					at(uint32(v))
				}
			}
			continue
		}
		for _, run := range found {
			for _, f := range run {
				if t := m.Faces[f]; (near[t[0]]|near[t[1]]|near[t[2]])&(1<<k) != 0 {
					s.faces = append(s.faces, [3]int32{at(t[0]), at(t[1]), at(t[2])})
				}
			}
		}
	}
	return out, nil
}

// meet returns where the line through o along the unit direction u meets the
// sheet nearest to o, within datumReach, on a face that looks outward within 60
// degrees; of a cloud, the point nearest to the line, 10 mm beside it at most. face is -1 for a cloud's.
func (s *datumSheet) meet(o, u, outward geom.Vec) (at geom.Vec, face int, ok bool) {
	best, face := math.Inf(1), -1
	for f, t := range s.faces {
		a, b, c := s.points[t[0]], s.points[t[1]], s.points[t[2]]
		n := b.Sub(a).Cross(c.Sub(a))
		if !(n.Dot(outward) >= cosPair*n.Norm()) {
			continue
		}
		along, hit := lineMeets(o, u, a, b, c)
		if hit && math.Abs(along) <= datumReach && math.Abs(along) < best {
			best, at, face, ok = math.Abs(along), o.AddScaled(along, u), f, true
		}
	}
	if len(s.faces) > 0 {
		return at, face, ok
	}
	for i, p := range s.points {
		if s.normals != nil && s.normals[i].Dot(outward) < cosPair {
			continue
		}
		along := p.Sub(o).Dot(u)
		beside := root(p.Sub(o).Norm2() - float64(along*along))
		if beside > patchMost/2 || math.Abs(along) > datumReach {
			continue
		}
		// Beside counts more than along: on a slope the nearest point to the line is wanted, of two skins the nearer one.
		if d := math.Abs(along) + 2*beside; d < best {
			best, at, ok = d, o.AddScaled(along, u), true
		}
	}
	return at, -1, ok
}

// lineMeets returns where, along u from o, a line passes through a triangle, its
// sides counted in.
//
// Based on: Möller & Trumbore, "Fast, minimum storage ray/triangle intersection" (1997).
func lineMeets(o, u, a, b, c geom.Vec) (along float64, ok bool) {
	e1, e2 := b.Sub(a), c.Sub(a)
	p := u.Cross(e2)
	det := e1.Dot(p)
	if det == 0 {
		return 0, false
	}
	t := o.Sub(a)
	v := t.Dot(p) / det
	if v < 0 || v > 1 {
		return 0, false
	}
	q := t.Cross(e1)
	w := u.Dot(q) / det
	if w < 0 || v+w > 1 {
		return 0, false
	}
	return e2.Dot(q) / det, true
}

// around returns the points within radius of at that look as the surface does
// there and, where the sheet has faces, hang together with the given one inside that radius.
func (s *datumSheet) around(at geom.Vec, face int, outward geom.Vec, radius float64) []int32 {
	r2, least := float64(radius*radius), cosPair
	if face >= 0 { // the surface's own direction
		t := s.faces[face]
		if n := s.normals[t[0]].Add(s.normals[t[1]]).Add(s.normals[t[2]]).Unit(); n.Dot(outward) >= cosPair {
			outward, least = n, patchBend
		}
	}
	inside := make([]bool, len(s.points))
	for i, p := range s.points {
		inside[i] = p.Sub(at).Norm2() <= r2 && (s.normals == nil || s.normals[i].Dot(outward) >= least)
	}
	var out []int32
	if face < 0 {
		for i, in := range inside {
			if in {
				out = append(out, int32(i))
			}
		}
		return out
	}
	joined := make([]bool, len(s.points))
	for _, v := range s.faces[face] {
		joined[v] = true
	}
	for grown := true; grown; {
		grown = false
		for _, t := range s.faces {
			if joined[t[0]] == joined[t[1]] && joined[t[1]] == joined[t[2]] {
				continue
			}
			for _, v := range t {
				if inside[v] && !joined[v] {
					joined[v], grown = true, true
				}
			}
		}
	}
	for i := range joined {
		if joined[i] && inside[i] {
			out = append(out, int32(i))
		}
	}
	return out
}

// nearest returns how far the scan's point nearest to a place is that looks
// outward within 60 degrees, +Inf for none.
func (c *cloud) nearest(place, outward geom.Vec) float64 {
	best := math.Inf(1)
	for i, p := range c.mesh.Vertices {
		if c.area[i] > 0 && (!c.signed || c.normals[i].Dot(outward) >= cosPair) {
			best = min(best, p.Sub(place).Norm2())
		}
	}
	return math.Sqrt(best)
}
