package closure

import (
	"context"
	"math"

	"shutline/deviation/align"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// leastReach in mm, of the search for pairs, so that a step near zero does not narrow it to nothing.
const leastReach = 1.0

// A motion that leaves more than misfit of the step, and more than leastMisfit in mm, which a coarse scan of a curved
// part may leave, has not laid the skins on one another.
const misfit, leastMisfit = 0.25, 0.3

// leastShare of the weight of pairs of two scans of one place: normal noise leaves 0.9 (Tukey's weights at 4.685 sigma).
const leastShare = 0.75

// measure measures an overlap; nil where it turns out to be none.
func (l *looker) measure(ctx context.Context, s skins, o *Options, progress mesh.Progress) (*Closure, error) {
	c := &Closure{Area: l.area(s.start)}
	_, c.Length, c.Width = l.extent(s.start)
	list := make([]reading, len(s.start))
	farthest := 0.0
	for i, d := range s.start {
		at, n := l.facing(d.face)
		list[i] = reading{at, n, d.step, l.mesh.AreaNormal(d.face).Norm() / 2}
		farthest = max(farthest, math.Abs(d.step))
		c.Start = append(c.Start, d.face)
		c.Centre = c.Centre.AddScaled(list[i].area/c.Area, at)
	}
	for _, d := range s.end {
		c.End = append(c.End, d.face)
	}
	f := fieldOf(list)
	c.Patches = f.patches
	c.Step, c.StepRMS = f.mean()
	if !c.Step.OK {
		return nil, ctx.Err()
	}
	progress.Report(0.1)
	edge := l.edge(c.Start)
	start := quieted(l.grown(c.Start, c.End, farthest, edge), edge)
	end := quieted(part(l.mesh, c.End), l.edge(c.End))
	on, err := surface.New(ctx, start, o.Threads, nil)
	if err != nil {
		return nil, err
	}
	progress.Report(0.3)
	box := end.Bounds()
	fit := &fit{
		on: on, end: end, normals: end.VertexNormals(), finders: make([]*surface.Finder, parallel.Threads(o.Threads)),
		g: geom.Identity(), centre: box.Center(), lever: box.Diagonal() / 2, reach: farthest,
	}
	if passesFor(edge) == 0 {
		fit.curved = on.Skin(o.Threads)
	}
	ok, err := fit.settle(ctx, progress.Part(0.3, 0.9))
	if err != nil {
		return nil, err
	}
	if !ok {
		c.Misfit = true
		return c, ctx.Err()
	}
	k := fit.judge()
	if limit := max(leastMisfit, misfit*c.StepRMS); k.rms > limit || c.unlike(fit.g) > limit || k.share < leastShare {
		c.Left, c.Misfit = k.rms, true
		return c, ctx.Err()
	}
	after, err := leftBy(ctx, end, on, fit.g, o.Threads)
	if err != nil {
		return nil, err
	}
	left := fieldOf(after)
	c.Shape, c.Rigid = 0, true
	if rms, more := left.beyondNoise(k.n); more {
		c.Shape, c.Rigid = rms, false
		k.shaped(left.usual(), c.Area)
	}
	c.held(fit, &k, edge, o.resultsFromMesh())
	if c.Displacement.OK && o.Travelled > 0 {
		c.PerMetre = c.Displacement.V / (o.Travelled / 1000)
	}
	progress.Report(1)
	return c, ctx.Err()
}

// unlike returns by how much, RMS in mm, the step that a motion would take away differs from the one that was met.
func (c *Closure) unlike(startFromEnd geom.Rigid) float64 {
	endFromStart := startFromEnd.Inverse()
	sum, total := 0.0, 0.0
	for i := range c.Patches {
		if p := &c.Patches[i]; p.Step.OK {
			d := endFromStart.Apply(p.At).Sub(p.At).Dot(p.N) - p.Step.V
			sum += float64(p.Area * float64(d*d))
			total += p.Area
		}
	}
	return root(sum / total)
}

// usualRadius in mm, of the shapes that hold two skins against each other; facets that are so long cut across edge²/(8 R) of it.
const usualRadius = 50.0

// held takes what is held of the motion; edge is the mean length of the facets' edges, mm. Places and directions are the mesh's, which
// carry turns later; what is told by axes, the components' U and the motions that are free, is told by those of the results' frame.
func (c *Closure) held(f *fit, k *known, edge float64, resultsFromMesh geom.Rigid) {
	c.StartFromEnd, c.Left, c.Centre = f.g, k.rms, k.centre
	turned := geom.Turned6(&resultsFromMesh.R)
	free := make([][6]float64, len(k.free))
	for i := range k.free {
		free[i] = turned.Times(&k.free[i])
	}
	if len(free) > 0 {
		c.Free = align.NameFree(free, resultsFromMesh.Apply(k.centre), f.lever, k.loosest)
	}
	if k.n == 0 {
		return
	}
	// The motion about the centre, without what is not held.
	shift := k.centre.Sub(f.g.Inverse().Apply(k.centre))
	turn := rotationVector(f.g).Scale(f.lever)
	x := vec6{shift.X, shift.Y, shift.Z, turn.X, turn.Y, turn.Z}
	var held vec6
	for i := range k.n {
		a := k.held[i].Dot(&x)
		for j := range 6 {
			held[j] += float64(a * k.held[i][j])
		}
	}
	c.Shift = geom.Vec{X: held[0], Y: held[1], Z: held[2]}
	c.Turn = geom.Vec{X: held[3], Y: held[4], Z: held[5]}.Scale(1 / f.lever)
	// What facets cut across is no noise and does not average out: it is added.
	facets := edge * edge / (8 * usualRadius)
	shown := k.covariance.Carried(&turned)
	for i, u := range []*float64{&c.ShiftU.X, &c.ShiftU.Y, &c.ShiftU.Z} {
		*u = 2*root(shown[i][i]) + facets
	}
	c.Displacement = sized(&k.covariance, c.Shift, 0, 1)
	c.Displacement.U += facets
	if turnsOf(c.Free) < 3 { // else what is left of the turn is what a shift brings with it
		c.Turned = sized(&k.covariance, c.Turn, 3, 1/f.lever)
	}
}

// turnsOf counts the free motions that are turns.
func turnsOf(free []align.FreeMotion) (n int) {
	for i := range free {
		if free[i].Turn != (geom.Vec{}) {
			n++
		}
	}
	return n
}

// carry carries a closure's places and directions into the results' frame.
func (c *Closure) carry(resultsFromMesh geom.Rigid) {
	c.Centre = resultsFromMesh.Apply(c.Centre)
	c.Shift, c.Turn = resultsFromMesh.ApplyDir(c.Shift), resultsFromMesh.ApplyDir(c.Turn)
	c.StartFromEnd = resultsFromMesh.After(c.StartFromEnd).After(resultsFromMesh.Inverse())
	for i := range c.Patches {
		p := &c.Patches[i]
		p.At, p.N = resultsFromMesh.Apply(p.At), resultsFromMesh.ApplyDir(p.N)
	}
}

// rotationVector returns axis times angle of a turn.
func rotationVector(g geom.Rigid) geom.Vec {
	skew := geom.Vec{X: g.R[2][1] - g.R[1][2], Y: g.R[0][2] - g.R[2][0], Z: g.R[1][0] - g.R[0][1]}
	return skew.Unit().Scale(g.Angle())
}

// sized returns the length of a vector with its U: along itself, or, where it is not longer than that, all ways together,
// as a length below its uncertainty points anywhere. unit turns the covariance's into the vector's.
func sized(covariance *mat6, v geom.Vec, from int, unit float64) verdict.Value {
	way := v.Unit()
	along, all := 0.0, 0.0
	for i := range 3 {
		for j := range 3 {
			along += float64(way.At(i) * covariance[from+i][from+j] * way.At(j))
		}
		all += covariance[from+i][from+i]
	}
	u := 2 * unit * root(along)
	if most := 2 * unit * root(all); v.Norm() < most {
		u = most
	}
	return verdict.Value{V: v.Norm(), U: u, OK: true}
}

// leftBy returns what the motion leaves between the end's points and the start's surface.
func leftBy(ctx context.Context, end *mesh.Mesh, on *surface.Surface, startFromEnd geom.Rigid, threads int) ([]reading, error) {
	normals, areas := end.VertexNormals(), end.VertexAreas()
	n := len(end.Vertices)
	chunks := make([][]reading, (n+lookRun-1)/lookRun)
	finders := make([]*surface.Finder, parallel.Threads(threads))
	err := parallel.Chunks(ctx, n, lookRun, threads, nil, func(worker, chunk, lo, hi int) {
		if finders[worker] == nil {
			finders[worker] = on.NewFinder()
		}
		for i := lo; i < hi; i++ {
			p, facing := startFromEnd.Apply(end.Vertices[i]), startFromEnd.ApplyDir(normals[i])
			h, ok := finders[worker].ClosestFacing(p, facing, alike, PatchSide)
			if !ok || h.Border || h.Normal == (geom.Vec{}) {
				continue
			}
			chunks[chunk] = append(chunks[chunk], reading{p, facing, p.Sub(h.Point).Dot(h.Normal), areas[i]})
		}
	})
	var out []reading
	for _, c := range chunks {
		out = append(out, c...)
	}
	return out, err
}

// grown returns the start's skin with what hangs together with it as far as the end may have to move, without the end's.
func (l *looker) grown(start, end []uint32, reach, edge float64) *mesh.Mesh {
	taken := make(map[uint32]bool, len(start)+len(end))
	for _, f := range end {
		taken[f] = true
	}
	faces := make([]uint32, 0, 2*len(start))
	onSkin := map[uint32]bool{} // vertices
	add := func(f uint32) {
		taken[f] = true
		faces = append(faces, f)
		for _, v := range l.mesh.Faces[f] {
			onSkin[v] = true
		}
	}
	box := geom.EmptyBox()
	for _, f := range start {
		add(f)
		a, b, c := l.mesh.Corners(f)
		box = box.Extend(a).Extend(b).Extend(c)
	}
	margin := max(2*reach, 3*edge)
	box = box.Grow(margin)
	var near []uint32
	l.tree.FacesIn(box, func(f uint32) {
		if !taken[f] {
			near = append(near, f)
		}
	})
	// Ring by ring, so that only what hangs together with the skin is taken.
	for range int(math.Ceil(margin/edge)) + 1 {
		var ring, rest []uint32
		for _, f := range near {
			t := l.mesh.Faces[f]
			if onSkin[t[0]] || onSkin[t[1]] || onSkin[t[2]] {
				ring = append(ring, f)
			} else {
				rest = append(rest, f)
			}
		}
		if len(ring) == 0 {
			break
		}
		for _, f := range ring {
			add(f)
		}
		near = rest
	}
	return part(l.mesh, faces)
}

// edge returns the mean length of the edges of faces.
func (l *looker) edge(faces []uint32) float64 {
	sum := 0.0
	for _, f := range faces {
		a, b, c := l.mesh.Corners(f)
		sum += a.Dist(b) + b.Dist(c) + c.Dist(a)
	}
	return sum / float64(3*len(faces))
}

// part returns some faces of a mesh as a mesh of their own.
func part(m *mesh.Mesh, faces []uint32) *mesh.Mesh {
	out := &mesh.Mesh{Faces: make([][3]uint32, len(faces))}
	index := make(map[uint32]uint32, len(faces)/2+3)
	for i, f := range faces {
		for k, v := range m.Faces[f] {
			w, ok := index[v]
			if !ok {
				w = uint32(len(out.Vertices))
				index[v] = w
				out.Vertices = append(out.Vertices, m.Vertices[v])
			}
			out.Faces[i][k] = w
		}
	}
	return out
}
