package main

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// placePart is a part that scans are placed on.
type placePart struct {
	name      string
	reference func(ctx context.Context, triangles int) (*mesh.Mesh, error)
	// scan returns the part as sampled by a scanner, in the reference's frame, without noise.
	scan     func(ctx context.Context, triangles int, seed uint64) (*mesh.Mesh, error)
	mirrored bool // the scans are of the other hand
}

// placeParts returns the parts by name.
func placeParts() []placePart {
	made := func(make func(bodywork.Sampling) *mesh.Mesh) (func(context.Context, int) (*mesh.Mesh, error), func(context.Context, int, uint64) (*mesh.Mesh, error)) {
		return func(_ context.Context, n int) (*mesh.Mesh, error) { return make(bodywork.Sampling{Triangles: n}), nil },
			func(_ context.Context, n int, seed uint64) (*mesh.Mesh, error) {
				return make(bodywork.Sampling{Triangles: n, Jitter: true, Seed: seed}), nil
			}
	}
	van := func(perfect, whole bool) placePart {
		return placePart{
			reference: func(ctx context.Context, n int) (*mesh.Mesh, error) {
				job, err := bodywork.Van(ctx, bodywork.Options{Size: 2 * n, Seed: 1, Still: true}, nil)
				if err != nil {
					return nil, err
				}
				return job.Reference, nil
			},
			scan: func(ctx context.Context, n int, seed uint64) (*mesh.Mesh, error) {
				job, err := bodywork.Van(ctx, bodywork.Options{Size: n, Seed: seed, Noise: -1, Perfect: perfect, Whole: whole, Still: true}, nil)
				if err != nil {
					return nil, err
				}
				return job.Scan, nil
			},
		}
	}
	// A crop of the van with the wing that does not fit may show little else, and
	// then has no true place; so the usual part is the van as drawn.
	v, d, w := van(true, false), van(false, false), van(true, true)
	v.name, d.name, w.name = "van", "van-damaged", "van-whole"
	b, s := placePart{name: "bracket"}, placePart{name: "smooth"}
	b.reference, b.scan = made(bodywork.Bracket)
	s.reference, s.scan = made(bodywork.SmoothSide)
	bent := s
	bent.name = "smooth-bent"
	bent.scan = func(ctx context.Context, n int, seed uint64) (*mesh.Mesh, error) {
		m, err := s.scan(ctx, n, seed)
		for i, p := range m.Vertices {
			a, _ := geom.Sincos(p.X / 310)
			_, c := geom.Sincos(p.Z / 240)
			d, _ := geom.Sincos(p.X / 900)
			m.Vertices[i].Y += 1.2*a*c + 0.8*d
		}
		return m, err
	}
	parts := []placePart{v, b, s, d, w, bent}
	for _, p := range []placePart{v, b, s} {
		parts = append(parts, p.otherHand())
	}
	return parts
}

// otherHand returns the part with scans of its mirror image, which have no true place.
func (p placePart) otherHand() placePart {
	scan := p.scan
	p.name, p.mirrored = p.name+"-mirrored", true
	p.scan = func(ctx context.Context, n int, seed uint64) (*mesh.Mesh, error) {
		m, err := scan(ctx, n, seed)
		if err != nil {
			return nil, err
		}
		return m.Mirrored(0), nil
	}
	return p
}

// noiseKind is how a scan's noise hangs together.
type noiseKind struct {
	name   string
	length float64 // mm, 0: independent
}

// scanCase is a scan as it would come from a scanner.
type scanCase struct {
	part     placePart
	points   int
	coverage float64 // share of the area
	clutter  float64 // share of the points
	noise    float64 // mm
	kind     noiseKind
}

// make returns the scan in a random pose and that pose, scan from reference.
func (c scanCase) make(ctx context.Context, ref geom.Box, seed uint64) (*mesh.Mesh, geom.Rigid, error) {
	rng := rand.New(rand.NewPCG(seed, 0x9e37))
	m, err := c.part.scan(ctx, int(2*float64(c.points)*(1-c.clutter)/c.coverage), seed)
	if err != nil {
		return nil, geom.Rigid{}, err
	}
	m = cropped(m, c.coverage, rng)
	if c.clutter > 0 {
		m = bodywork.Together(m, clutterFor(m, ref, c.clutter, rng))
	}
	if c.kind.length > 0 {
		m = bodywork.WithSmoothNoise(m, c.noise, c.kind.length, seed)
	} else {
		m = bodywork.WithNoise(m, c.noise, seed)
	}
	pose := anyPose(rng)
	return m.Moved(pose), pose, nil
}

// anyPose is an even choice among all turns, and a shift of metres.
func anyPose(rng *rand.Rand) geom.Rigid {
	var q [4]float64
	n := 0.0
	for i := range q {
		q[i] = rng.NormFloat64()
		n += q[i] * q[i]
	}
	axis := geom.Vec{X: q[1], Y: q[2], Z: q[3]}
	g := geom.Rotation(axis, 2*math.Atan2(axis.Norm(), q[0]))
	g.T = geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(1000)
	return g
}

// cropped keeps a share of the area: by turns what lies nearest to a random
// point of the part, and what lies farthest to one side.
func cropped(m *mesh.Mesh, share float64, rng *rand.Rand) *mesh.Mesh {
	if share >= 1 {
		return m
	}
	centre := m.Vertices[rng.IntN(len(m.Vertices))]
	dir := geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Unit()
	disc := rng.IntN(2) == 0
	at := make([]float64, len(m.Faces))
	order := make([]int32, len(m.Faces))
	total := 0.0
	for f := range m.Faces {
		a, b, c := m.Corners(uint32(f))
		mid := a.Add(b).Add(c).Scale(1.0 / 3)
		if at[f] = mid.Dot(dir); disc {
			at[f] = mid.Dist(centre)
		}
		order[f] = int32(f)
		total += m.AreaNormal(uint32(f)).Norm()
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(at[a], at[b]) })
	kept, limit := 0.0, 0.0
	for _, f := range order {
		kept, limit = kept+m.AreaNormal(uint32(f)).Norm(), at[f]
		if kept >= share*total {
			break
		}
	}
	return filtered(m, func(f int) bool { return at[f] <= limit })
}

// filtered keeps the faces that keep names.
func filtered(m *mesh.Mesh, keep func(f int) bool) *mesh.Mesh {
	out := &mesh.Mesh{}
	index := make([]uint32, len(m.Vertices))
	for f, t := range m.Faces {
		if !keep(f) {
			continue
		}
		for k, v := range t {
			if index[v] == 0 {
				out.Vertices = append(out.Vertices, m.Vertices[v])
				index[v] = uint32(len(out.Vertices))
			}
			t[k] = index[v] - 1
		}
		out.Faces = append(out.Faces, t)
	}
	return out
}

// clutterFor returns foreign things beside a scan, so that they make up the
// share of all points: a floor under it, a wall behind it and a post.
func clutterFor(m *mesh.Mesh, ref geom.Box, share float64, rng *rand.Rand) *mesh.Mesh {
	box := m.Bounds()
	size, n := box.Size(), float64(len(m.Vertices))*share/(1-share)
	step := math.Sqrt(2 * m.Area() / float64(len(m.Faces)))
	wanted := n * step * step // mm²
	d := ref.Diagonal()
	postX := box.Lo.X + size.X*(0.2+0.6*rng.Float64())
	post := bodywork.CylinderPatch(0.02*d, math.Pi-1e-3, max(0.3*size.Z, 0.1*d), step)
	for i, p := range post.Vertices {
		// Upright, in front of or behind the part, from the floor upward.
		post.Vertices[i] = geom.Vec{X: p.Z + postX, Y: p.X + box.Lo.Y - 0.08*d, Z: box.Lo.Z - 0.1*d + p.Y}
	}
	if post.Area() > 0.3*wanted {
		post = &mesh.Mesh{}
	}
	left := wanted - post.Area()
	floor := left * (0.5 + 0.4*rng.Float64())
	length := max(size.X*(0.4+0.8*rng.Float64()), 0.2*d)
	fl := bodywork.Plane(length, floor/length, step)
	tilt := geom.Rotation(geom.Vec{Z: 1}, 0.3*rng.NormFloat64())
	low := geom.Vec{X: box.Center().X - length/2, Y: box.Center().Y - floor/length*rng.Float64(), Z: box.Lo.Z - d*(0.01+0.1*rng.Float64())}
	for i, p := range fl.Vertices {
		fl.Vertices[i] = tilt.ApplyDir(p).Add(low)
	}
	wl := bodywork.Plane(length, (left-floor)/length, step)
	for i, p := range wl.Vertices {
		wl.Vertices[i] = geom.Vec{X: low.X + p.X, Y: box.Lo.Y - 0.15*d, Z: low.Z + p.Y}
	}
	return bodywork.Together(post, fl, wl)
}

func (c scanCase) String() string {
	return fmt.Sprintf("%s %.0f %%, clutter %.0f %%", c.part.name, 100*c.coverage, 100*c.clutter)
}
