package bodywork

import (
	"context"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Tangential scatter of scan samples, as a share of the spacing. They stay on
// the true surface, and columns and rows keep their order.
const (
	jitter     = 0.2  // at 0.3 a noisy triangle in a few thousand folds over
	rollJitter = 0.25 // around a rollover, so that arcs are sampled between the columns too
)

// mostRollStep keeps six columns on a rollover, so that short stretches of it hold more than a point or two.
const mostRollStep = math.Pi / 6

// scanGrid returns how the scan samples the side.
func scanGrid(v *side, wanted float64) grid {
	family := func(far, strip float64) grid {
		return grid{far: far, strip: strip, across: strip, rollStep: min(strip/hemRadius, mostRollStep), hemStep: strip, inset: 2}
	}
	const fine, coarsest = 1.2, 8.0
	g := v.fit(wanted, func(far float64) grid { return family(far, min(far, fine)) })
	if g.far > coarsest {
		// Too few triangles for the fine strip: everything gets coarser in proportion.
		g = v.fit(wanted, func(far float64) grid { return family(far, far*fine/coarsest) })
	}
	return g
}

// scan samples the side as a scanner does.
func (j *Job) scan(ctx context.Context, progress mesh.Progress) error {
	v, o := j.scanned, j.Options
	wanted := float64(o.Size)
	t := v.layOut(scanGrid(v, wanted))
	for range 2 {
		// Unseen places cost triangles, foreign things add some: ask for as many more.
		share, foreign := j.seenShare(t), 0.0
		if !o.Whole {
			foreign = foreignTriangles(t.grid)
		}
		wanted = (float64(o.Size) - foreign) / share
		t = v.layOut(scanGrid(v, wanted))
	}
	j.stripStep = t.grid.strip
	n := t.count
	raw := &rawScan{
		vertices: make([]geom.Vec, n, n+n/16), origins: make([]Origin, n, n+n/16), unseen: make([]bool, n, n+n/16),
		noise: o.Noise, seed: o.Seed, step: t.grid.far,
	}
	err := t.vertices(ctx, o.Threads, progress.Part(0, 0.6), func(c *column, index, row int) {
		raw.vertices[index], raw.origins[index], raw.unseen[index] = j.sampleScan(c, index, row)
	})
	if err != nil {
		return err
	}
	raw.faces = t.faces()
	if !o.Whole {
		j.addForeign(raw, t)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	scanFromReference := j.ReferenceFromScan.Inverse()
	for i, p := range raw.vertices {
		raw.vertices[i] = asFloat32(scanFromReference.Apply(p))
	}
	progress.Report(0.8)
	m := &mesh.Mesh{}
	m.Vertices, j.Origins, m.Faces = compact(raw.vertices, raw.origins, raw.unseen, raw.faces)
	separate(m)
	j.Scan = m
	progress.Report(1)
	return ctx.Err()
}

// seenShare estimates which share of the triangles the scanner sees, from every 16th row.
func (j *Job) seenShare(t *tessellation) float64 {
	seen, all := 0, 0
	for p := range panelCount {
		for i := range t.columns[p] {
			c := &t.columns[p][i]
			for row := i % 16; row < len(c.rows); row += 16 {
				q, _ := t.side.sample(c, c.u, c.rows[row])
				all++
				if j.view.sees(Origin{Panel: int8(c.panel), Edge: int8(c.edge), Part: c.part, Arc: float32(c.u)}, q) {
					seen++
				}
			}
		}
	}
	return float64(seen) / float64(all)
}

// sampleScan returns one noisy sample of a column.
func (j *Job) sampleScan(c *column, index, row int) (p geom.Vec, o Origin, unseen bool) {
	random := keyed(j.Options.Seed, 's', uint64(index))
	u, z := c.u, c.rows[row]
	across, along := random.uniform(), random.uniform()
	inner := !(c.part == Face && (c.edge >= 0 && c.u == 0 || c.edge < 0 && panelEdges[c.panel][0] < 0 && c.u < float64(c.du/2) || c.edge < 0 && c.u > 1-float64(c.du/2)))
	if c.part == Roll {
		u += float64(rollJitter * c.du * across)
	} else if inner {
		u += float64(jitter * c.du * across)
	}
	if row > 0 && row+1 < len(c.rows) {
		z += float64(jitter * (c.rows[row+1] - c.rows[row]) * along)
	}
	switch c.part {
	case Roll:
		u = min(u, math.Pi)
	case Return:
		u = min(max(u, 0), hemReturn)
	}
	p, n := j.scanned.sample(c, u, z)
	o = Origin{Panel: int8(c.panel), Edge: int8(c.edge), Part: c.part}
	if c.edge >= 0 {
		o.Arc = float32(u)
	}
	unseen = !j.view.sees(o, p)
	return p.AddScaled(j.Options.Noise*random.normal(), n), o, unseen
}

// separate moves vertices that coincide by one step of single precision, so
// that a reader that joins equal corners keeps them apart.
func separate(m *mesh.Mesh) {
	size := 1
	for size < 2*len(m.Vertices) {
		size *= 2
	}
	table := make([]uint32, size)
	for i := range m.Vertices {
		for {
			p := &m.Vertices[i]
			*p = geom.Vec{X: p.X + 0, Y: p.Y + 0, Z: p.Z + 0} // -0 becomes +0
			s := keyed(math.Float64bits(p.X), math.Float64bits(p.Y), math.Float64bits(p.Z))
			slot := s.next() & uint64(size-1)
			for table[slot] != 0 && m.Vertices[table[slot]-1] != *p {
				slot = (slot + 1) & uint64(size-1)
			}
			if table[slot] == 0 {
				table[slot] = uint32(i + 1)
				break
			}
			p.X = float64(math.Nextafter32(float32(p.X), math.MaxFloat32))
		}
	}
}
