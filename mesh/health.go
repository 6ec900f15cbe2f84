package mesh

import (
	"cmp"
	"context"
	"math"
	"slices"

	"shutline/mesh/geom"
)

// Report is what Health found. Lengths are mm, areas mm².
type Report struct {
	Vertices, Faces int
	Box             geom.Box
	Area            float64
	Components      int     // groups of faces that hang together across edges
	Pieces          []Piece // of them, the largest area first
	Edges           int
	MedianEdge      float64 // 0 without faces
	FineEdge        float64 // a tenth of the edges is shorter: the spacing of the points where they lie closest
	ShortestEdge    float64
	LongestEdge     float64

	BorderEdges  int
	BorderLoops  []Loop // longest first
	BorderLength float64

	BranchingEdges  int // edges of more than two faces (non-manifold)
	PinchedVertices int // vertices where groups of faces touch in a point only (non-manifold)
	DuplicateFaces  int // faces on the same three corners as an earlier one, wound either way
	FlippedEdges    int // edges of two faces that wind against one another
	LooseVertices   int // vertices no face uses; all of them in a point cloud
	Closed          bool
	VolumeMM3       float64 // mm³; 0 unless Closed; negative when inside and outside are swapped
}

// Piece is a group of faces that hang together across edges.
type Piece struct {
	Faces int
	Area  float64 // mm²
	Box   geom.Box
}

// Health examines m in linear time: about a second for two million faces on one
// core. Faces that repeat others are counted, and left out of everything but the number
// of faces and the area: borders, edges and sides are those of the surface without them. It returns the
// context's error, within 50 ms, when ctx is done.
func Health(ctx context.Context, m *Mesh) (Report, error) {
	r, err := examine(ctx, m)
	if err != nil || r.DuplicateFaces == 0 {
		return r, err
	}
	once, err := withoutDuplicates(ctx, m)
	if err != nil {
		return r, err
	}
	bare, err := examine(ctx, once)
	bare.Faces, bare.Area, bare.DuplicateFaces = r.Faces, r.Area, r.DuplicateFaces
	return bare, err
}

// withoutDuplicates returns the mesh with the first of the faces on the same three corners only.
func withoutDuplicates(ctx context.Context, m *Mesh) (*Mesh, error) {
	met := make(map[[3]uint32]struct{}, len(m.Faces))
	out := &Mesh{Vertices: m.Vertices}
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		slices.Sort(t[:])
		if _, again := met[t]; !again {
			met[t] = struct{}{}
			out.Faces = append(out.Faces, m.Faces[f])
		}
	}
	return out, nil
}

func examine(ctx context.Context, m *Mesh) (Report, error) {
	r := Report{Vertices: len(m.Vertices), Faces: len(m.Faces), Box: m.Bounds()}
	if len(m.Faces) == 0 {
		r.LooseVertices = len(m.Vertices)
		return r, ctx.Err()
	}
	e, err := NewEdges(ctx, m)
	if err != nil {
		return r, err
	}
	if r.BorderLoops, err = e.BorderLoops(ctx, m); err != nil {
		return r, err
	}
	for _, l := range r.BorderLoops {
		r.BorderEdges += l.Edges
		r.BorderLength += l.Length
	}
	for _, step := range []func(context.Context, *Mesh, *Edges) error{r.measureEdges, r.countGroups, r.measureFaces} {
		if err := step(ctx, m, e); err != nil {
			return r, err
		}
	}
	return r, nil
}

// measureEdges looks at every edge once.
func (r *Report) measureEdges(ctx context.Context, m *Mesh, t *Edges) error {
	lengths := make([]float64, len(t.Ends))
	for i, ends := range t.Ends {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		lengths[i] = m.Vertices[ends[0]].Dist(m.Vertices[ends[1]])
		sides := t.Sides(uint32(i))
		switch {
		case len(sides) > 2:
			r.BranchingEdges++
		case len(sides) == 2 && sides[0].Forward() == sides[1].Forward():
			r.FlippedEdges++
		}
		if len(sides) > 1 {
			n, err := repeated(ctx, m, ends, sides)
			if err != nil {
				return err
			}
			r.DuplicateFaces += n
		}
	}
	n := len(lengths)
	r.Edges, r.ShortestEdge, r.LongestEdge = n, math.Inf(1), 0
	for at := range slices.Chunk(lengths, checkEvery) {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		r.ShortestEdge, r.LongestEdge = min(r.ShortestEdge, slices.Min(at)), max(r.LongestEdge, slices.Max(at))
	}
	low, err := nth(ctx, lengths, (n-1)/2)
	if err != nil {
		return err
	}
	high, err := nth(ctx, lengths, n/2)
	if err != nil {
		return err
	}
	r.MedianEdge = (low + high) / 2
	r.FineEdge, err = nth(ctx, lengths, n/10)
	return err
}

// repeated counts faces at an edge that repeat an earlier one's corners. Only
// the edge between a face's two lowest vertices counts it.
func repeated(ctx context.Context, m *Mesh, ends [2]uint32, sides []Side) (int, error) {
	var few [8]uint32
	apexes := few[:0]
	for _, s := range sides {
		f := m.Faces[s.Face()]
		if apex := f[0] ^ f[1] ^ f[2] ^ ends[0] ^ ends[1]; apex > ends[1] {
			apexes = append(apexes, apex)
		}
	}
	if err := sortStable(ctx, apexes, cmp.Compare[uint32]); err != nil {
		return 0, err
	}
	n := 0
	for i := 1; i < len(apexes); i++ {
		if apexes[i] == apexes[i-1] {
			n++
		}
	}
	return n, nil
}

// nth returns the k-th smallest of values that are not negative: their bits sort as they do.
func nth(ctx context.Context, values []float64, k int) (float64, error) {
	const shift = 64 - 20
	counts := make([]uint32, 1<<20)
	for i, v := range values {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return 0, ctx.Err()
		}
		counts[math.Float64bits(v)>>shift]++
	}
	bucket := uint64(0)
	for ; k >= int(counts[bucket]); bucket++ {
		k -= int(counts[bucket])
	}
	same := make([]float64, 0, counts[bucket])
	for i, v := range values {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return 0, ctx.Err()
		}
		if math.Float64bits(v)>>shift == bucket {
			same = append(same, v)
		}
	}
	if err := sortStable(ctx, same, cmp.Compare[float64]); err != nil {
		return 0, err
	}
	return same[k], nil
}

// countGroups counts components and pinched vertices by joining, across every
// edge, its faces and their corners.
func (r *Report) countGroups(ctx context.Context, m *Mesh, t *Edges) error {
	faces, corners := NewSets(len(m.Faces)), NewSets(3*len(m.Faces))
	for i, ends := range t.Ends {
		if i%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		sides := t.Sides(uint32(i))
		a := sides[0].Face()
		for k, s := range sides[1:] {
			if k%checkEvery == checkEvery-1 && ctx.Err() != nil {
				return ctx.Err()
			}
			b := s.Face()
			faces.Join(a, b)
			for _, v := range ends {
				corners.Join(cornerAt(m, a, v), cornerAt(m, b, v))
			}
		}
	}
	if err := r.gatherPieces(ctx, m, faces); err != nil {
		return err
	}
	fans := make([]uint8, len(m.Vertices))
	for f, t := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		for k, v := range t {
			if c := uint32(3*f + k); corners[c] == c && fans[v] < 2 {
				fans[v]++
			}
		}
	}
	for _, n := range fans {
		switch n {
		case 0:
			r.LooseVertices++
		case 2:
			r.PinchedVertices++
		}
	}
	return nil
}

// gatherPieces sums up the groups that were joined.
func (r *Report) gatherPieces(ctx context.Context, m *Mesh, groups Sets) error {
	number := make([]uint32, len(groups)) // of the piece whose root a face is
	for f := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		root := groups.Root(uint32(f)) // the smallest of its group, so it is met first
		if root == uint32(f) {
			number[f] = uint32(len(r.Pieces))
			r.Pieces = append(r.Pieces, Piece{Box: geom.EmptyBox()})
		}
		p := &r.Pieces[number[root]]
		a, b, c := m.Corners(uint32(f))
		p.Faces++
		p.Area += float64(m.AreaNormal(uint32(f)).Norm() / 2)
		p.Box = p.Box.Extend(a).Extend(b).Extend(c)
	}
	r.Components = len(r.Pieces)
	return sortStable(ctx, r.Pieces, func(a, b Piece) int { return cmp.Compare(b.Area, a.Area) })
}

func cornerAt(m *Mesh, f, v uint32) uint32 {
	t := m.Faces[f]
	switch v {
	case t[0]:
		return 3 * f
	case t[1]:
		return 3*f + 1
	}
	return 3*f + 2
}

// measureFaces adds up area and volume. The sum runs in the order of the faces.
func (r *Report) measureFaces(ctx context.Context, m *Mesh, _ *Edges) error {
	r.Closed = r.BorderEdges == 0 && r.BranchingEdges == 0 && r.FlippedEdges == 0
	o := r.Box.Center() // near the faces, so that little is lost in the sum
	twice, six := 0.0, 0.0
	for f := range m.Faces {
		if f%checkEvery == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		n := m.AreaNormal(uint32(f))
		twice += n.Norm()
		six += n.Dot(m.Vertices[m.Faces[f][0]].Sub(o))
	}
	r.Area = twice / 2
	if r.Closed {
		r.VolumeMM3 = six / 6
	}
	return nil
}
