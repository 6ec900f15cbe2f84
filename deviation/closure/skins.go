package closure

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

const (
	// alike is the cosine of 30 degrees, the widest angle between two scans of one place.
	alike = 0.8660254037844386
	// fewLooks are spread over the mesh to learn in which cells to look from every face.
	fewLooks = 60_000
	// cellSide in mm, of those cells: with few looks a van has one every 20 mm.
	cellSide = 50.0
	// leastFaces of a skin, and leastLink of the faces of the smaller of two that meet the other.
	leastFaces = 30
	leastLink  = 0.2
	// stretch in mm: longer overlaps are measured in parts of about that, within which a scanner's drift is much the same.
	stretch = 1200.0
	lookRun = 2048
)

// looker looks along normals.
type looker struct {
	mesh    *mesh.Mesh
	tree    *bvh.Tree
	normals []geom.Vec
	reach   float64
	threads int
	looked  int
}

// doubled is a face with another skin over or under it.
type doubled struct {
	face, other uint32
	step        float64 // mm, of the other along the face's normal
}

// facing returns a face's middle and the mean of its corners' normals.
func (l *looker) facing(f uint32) (p, n geom.Vec) {
	a, b, c := l.mesh.Corners(f)
	t := l.mesh.Faces[f]
	return a.Add(b).Add(c).Scale(1.0 / 3), l.normals[t[0]].Add(l.normals[t[1]]).Add(l.normals[t[2]]).Unit()
}

// look returns the nearer skin over or under a face that faces as it does, with nothing between.
func (l *looker) look(f uint32) (doubled, bool) {
	p, n := l.facing(f)
	best := doubled{face: f}
	found := false
	if n == (geom.Vec{}) {
		return best, false
	}
	for _, way := range [2]float64{1, -1} {
		d, other, ok := l.beyond(f, p, n.Scale(way))
		if !ok || l.mesh.AreaNormal(other).Unit().Dot(n) < alike {
			continue
		}
		if !found || d < math.Abs(best.step) {
			best.other, best.step, found = other, float64(way*d), true
		}
	}
	return best, found
}

// beyond returns the first face met from a point of face f that has no corner in common with it.
func (l *looker) beyond(f uint32, p, dir geom.Vec) (float64, uint32, bool) {
	const (
		most = 4
		on   = 1e-7 // mm past what was met, above the rounding of a ray's length
	)
	gone := 0.0
	for range most {
		d, other, ok := l.tree.Ray(p.AddScaled(gone, dir), dir, l.reach-gone)
		if !ok {
			return 0, 0, false
		}
		if gone += d; !l.touch(f, other) {
			return gone, other, true
		}
		gone += on
	}
	return 0, 0, false
}

// touch reports whether two faces are the same or have a corner in common.
func (l *looker) touch(f, g uint32) bool {
	for _, v := range l.mesh.Faces[f] {
		for _, w := range l.mesh.Faces[g] {
			if v == w {
				return true
			}
		}
	}
	return false
}

// cellOf returns which cube of the given side a point lies in.
func cellOf(p geom.Vec, side float64) [3]int32 {
	p = p.Scale(1 / side)
	return [3]int32{int32(math.Floor(p.X)), int32(math.Floor(p.Y)), int32(math.Floor(p.Z))}
}

// doubled returns the faces that lie under or over another skin, in order.
func (l *looker) doubled(ctx context.Context, progress mesh.Progress) ([]doubled, error) {
	n := len(l.mesh.Faces)
	step := (n + fewLooks - 1) / fewLooks
	var some []uint32
	for f := 0; f < n; f += step {
		some = append(some, uint32(f))
	}
	found, err := l.lookFrom(ctx, some, progress.Part(0, 0.5))
	if err != nil || step == 1 || len(found) == 0 {
		return found, err
	}
	near := map[[3]int32]bool{}
	for _, d := range found {
		p, _ := l.facing(d.face)
		c := cellOf(p, cellSide)
		for x := c[0] - 1; x <= c[0]+1; x++ {
			for y := c[1] - 1; y <= c[1]+1; y++ {
				for z := c[2] - 1; z <= c[2]+1; z++ {
					near[[3]int32{x, y, z}] = true
				}
			}
		}
	}
	some = some[:0]
	for f := range l.mesh.Faces {
		if near[cellOf(l.mesh.Vertices[l.mesh.Faces[f][0]], cellSide)] {
			some = append(some, uint32(f))
		}
	}
	return l.lookFrom(ctx, some, progress.Part(0.5, 1))
}

// lookFrom looks from the given faces.
func (l *looker) lookFrom(ctx context.Context, faces []uint32, progress mesh.Progress) ([]doubled, error) {
	l.looked = max(l.looked, len(faces))
	chunks := make([][]doubled, (len(faces)+lookRun-1)/lookRun)
	err := parallel.Chunks(ctx, len(faces), lookRun, l.threads, progress, func(_, chunk, lo, hi int) {
		for _, f := range faces[lo:hi] {
			if d, ok := l.look(f); ok {
				chunks[chunk] = append(chunks[chunk], d)
			}
		}
	})
	return slices.Concat(chunks...), err
}

// skins are the two sides of one overlap, faces in order.
type skins struct {
	start, end []doubled
}

// pairs sorts doubled faces into pairs of skins.
func (l *looker) pairs(faces []doubled) []skins {
	piece, count := l.pieces(faces)
	at := make(map[uint32]int, len(faces))
	for i, d := range faces {
		at[d.face] = piece[i]
	}
	type link struct{ a, b int }
	links := map[link]int{}
	size := make([]int, count)
	for i, d := range faces {
		size[piece[i]]++
		if b, ok := at[d.other]; ok && b != piece[i] {
			links[link{min(piece[i], b), max(piece[i], b)}]++
		}
	}
	beside := make([][]int, count)
	var strong []link
	for k, n := range links {
		if small := min(size[k.a], size[k.b]); small >= leastFaces && float64(n) >= leastLink*float64(small) {
			strong = append(strong, k)
		}
	}
	slices.SortFunc(strong, func(x, y link) int { return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b)) })
	for _, k := range strong {
		beside[k.a], beside[k.b] = append(beside[k.a], k.b), append(beside[k.b], k.a)
	}
	// Pieces that lie over one another are of different sides: a colouring with two
	// colours. Where three skins lie over one another it has a fault somewhere, and those two pieces are not compared.
	const none = -1
	group, side := make([]int, count), make([]int, count)
	for i := range group {
		group[i] = none
	}
	groups := 0
	for first := range count {
		if group[first] != none || len(beside[first]) == 0 {
			continue
		}
		group[first] = groups
		for queue := []int{first}; len(queue) > 0; queue = queue[1:] {
			for _, next := range beside[queue[0]] {
				if group[next] == none {
					group[next], side[next] = groups, 1-side[queue[0]]
					queue = append(queue, next)
				}
			}
		}
		groups++
	}
	out := make([]skins, groups)
	for i, d := range faces {
		g := group[piece[i]]
		if g == none {
			continue
		}
		b, ok := at[d.other]
		if !ok || group[b] != g || side[b] == side[piece[i]] {
			continue
		}
		if side[piece[i]] == 0 {
			out[g].start = append(out[g].start, d)
		} else {
			out[g].end = append(out[g].end, d)
		}
	}
	var kept []skins
	for _, s := range out {
		if len(s.start) > 0 && len(s.end) > 0 && s.end[0].face < s.start[0].face {
			s.start, s.end = s.end, s.start
		}
		for _, part := range l.parts(s) {
			if l.large(part.start) && l.large(part.end) {
				kept = append(kept, part)
			}
		}
	}
	slices.SortStableFunc(kept, func(a, b skins) int { return cmp.Compare(l.area(b.start), l.area(a.start)) })
	return kept
}

// pieces numbers the doubled faces by connected piece, in order of first appearance.
func (l *looker) pieces(faces []doubled) (piece []int, count int) {
	parent := map[uint32]uint32{}
	root := func(v uint32) uint32 {
		for {
			p, ok := parent[v]
			if !ok || p == v {
				return v
			}
			if g, ok := parent[p]; ok && g != p {
				parent[v] = g
			}
			v = p
		}
	}
	for _, d := range faces {
		t := l.mesh.Faces[d.face]
		a := root(t[0])
		for _, v := range t[1:] {
			b := root(v)
			if a != b {
				a, b = min(a, b), max(a, b)
				parent[b] = a
			}
		}
	}
	number := map[uint32]int{}
	piece = make([]int, len(faces))
	for i, d := range faces {
		r := root(l.mesh.Faces[d.face][0])
		n, ok := number[r]
		if !ok {
			n = len(number)
			number[r] = n
		}
		piece[i] = n
	}
	return piece, len(number)
}

func (l *looker) area(faces []doubled) float64 {
	sum := 0.0
	for _, d := range faces {
		sum += l.mesh.AreaNormal(d.face).Norm()
	}
	return sum / 2
}

// large reports whether a skin is large and wide enough to count.
func (l *looker) large(faces []doubled) bool {
	if len(faces) < leastFaces || l.area(faces) < LeastArea {
		return false
	}
	_, _, width := l.extent(faces)
	return width >= LeastWidth
}

// extent returns the direction in which faces spread most, their length along it and their width: the sides of the
// rectangle with the same second moments.
func (l *looker) extent(faces []doubled) (long geom.Vec, length, width float64) {
	var middle geom.Vec
	total := 0.0
	for _, d := range faces {
		p, _ := l.facing(d.face)
		w := l.mesh.AreaNormal(d.face).Norm()
		middle, total = middle.AddScaled(w, p), total+w
	}
	if total == 0 {
		return geom.Vec{}, 0, 0
	}
	middle = middle.Scale(1 / total)
	var m geom.Mat3
	for _, d := range faces {
		p, _ := l.facing(d.face)
		w := l.mesh.AreaNormal(d.face).Norm() / total
		q := p.Sub(middle)
		for i := range 3 {
			for j := range 3 {
				m[i][j] += float64(w * q.At(i) * q.At(j))
			}
		}
	}
	values, axes := geom.Eigen3(m)
	// A rectangle's variance along a side is the side squared over 12.
	return axes[2], math.Sqrt(12 * max(values[2], 0)), math.Sqrt(12 * max(values[1], 0))
}

// parts cuts a long overlap into stretches.
func (l *looker) parts(s skins) []skins {
	long, length, _ := l.extent(s.start)
	n := int(math.Floor(length/stretch + 0.5))
	if n < 2 {
		return []skins{s}
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	along := func(d doubled) float64 {
		p, _ := l.facing(d.face)
		return p.Dot(long)
	}
	for _, d := range s.start {
		x := along(d)
		lo, hi = min(lo, x), max(hi, x)
	}
	out := make([]skins, n)
	which := func(d doubled) int {
		return min(max(int((along(d)-lo)/(hi-lo)*float64(n)), 0), n-1)
	}
	for _, d := range s.start {
		k := which(d)
		out[k].start = append(out[k].start, d)
	}
	for _, d := range s.end {
		k := which(d)
		out[k].end = append(out[k].end, d)
	}
	return out
}
