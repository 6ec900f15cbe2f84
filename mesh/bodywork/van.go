package bodywork

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/geom"
)

// Limits and defaults of Options.
const (
	DefaultSize  = 300_000
	MinSize      = 20_000
	MaxSize      = 10_000_000
	DefaultNoise = 0.03 // mm, one standard deviation
)

// ErrSize says that the wanted number of triangles is out of range.
var ErrSize = errors.New("bodywork: size out of range")

// Options say what job to make. The zero value is the demo job: a replacement
// wing that does not quite fit, seen by a scanner with the usual faults.
type Options struct {
	Size    int     // triangles of the scan, MinSize to MaxSize; 0: DefaultSize. The reference has about half
	Seed    uint64  // of noise, sampling and pose
	Noise   float64 // mm along the normal, one standard deviation; 0: DefaultNoise; negative: none
	Perfect bool    // the wing is as drawn
	Whole   bool    // the scanner saw everything round to past the noses: no holes, short hems, foreign things or webs
	Still   bool    // the scan lies in the reference's frame
	Threads int     // 0: all processors
}

// SeamSpec is a shut line of the job.
type SeamSpec struct {
	Name   string
	Path   []geom.Vec // mm, reference frame, upward along the middle of the gap, rounded to PathStep
	Master int        // 0 side A, 1 side B: the panel that stays
	Radius [2]float64 // mm, of the hems of side A and B
	Gap    float64    // mm, as drawn
	edges  [2]int
}

// PathStep is what seam paths are rounded to, so that a file can hold them exactly as used.
const PathStep = 0.01

// Job is a made-up inspection job and its truth.
type Job struct {
	Options           Options
	Reference         *mesh.Mesh // reference frame; coordinates are exact in single precision
	Scan              *mesh.Mesh // scan frame; exact in single precision, in order of first appearance in the faces
	Origins           []Origin   // of the scan's vertices
	ReferenceFromScan geom.Rigid
	Seams             []SeamSpec
	Lengths           []LengthSpec // none when Options.Whole
	Defects           []string     // in words

	nominal, scanned *side
	view             view
	stripStep        float64 // mm between samples along the shut lines
}

// Van makes the job. It stops early with ctx's error.
func Van(ctx context.Context, o Options, progress mesh.Progress) (*Job, error) {
	if o.Size == 0 {
		o.Size = DefaultSize
	}
	if o.Size < MinSize || o.Size > MaxSize {
		return nil, fmt.Errorf("%w: %d triangles, wanted %d to %d", ErrSize, o.Size, MinSize, MaxSize)
	}
	switch {
	case o.Noise == 0:
		o.Noise = DefaultNoise
	case o.Noise < 0:
		o.Noise = 0
	}
	j := &Job{Options: o, nominal: newSide(wingFault{}), view: demoView(o.Whole)}
	fault := wingFault{}
	if !o.Perfect {
		// tan is taken in newSide; 0.4 degrees.
		fault = wingFault{twist: 0.4 * math.Pi / 180, longer: 1.2, dent: 2.5}
	}
	j.scanned = newSide(fault)
	j.Defects = defects(o)
	j.ReferenceFromScan = geom.Identity()
	if !o.Still {
		j.ReferenceFromScan = pose(o.Seed)
	}
	j.Seams, j.Lengths = j.nominal.seams(), lengths(o)
	var err error
	if j.Reference, err = j.nominal.reference(ctx, o, progress.Part(0, 0.3)); err != nil {
		return nil, err
	}
	if err = j.scan(ctx, progress.Part(0.3, 1)); err != nil {
		return nil, err
	}
	return j, nil
}

// rollChord is the chord error of the reference's rollovers, mm.
const rollChord = 0.005

// referenceGrid returns how the drawing is tessellated at a spacing of far mm on its faces.
func referenceGrid(far, chord float64) grid {
	return grid{
		far: far, chord: chord, hemStep: 2.4, across: min(far, 3),
		// Along the shut lines rows stand closer than on the faces, at about 2 mm by default.
		strip: min(far, max(1.2, far/4)),
		// An arc of radius r in steps of a has the chord error r(1-cos(a/2)), about r a²/8.
		rollStep: math.Sqrt(8 * chord / hemRadius),
	}
}

// reference tessellates the drawing the way CAD systems do.
func (v *side) reference(ctx context.Context, o Options, progress mesh.Progress) (*mesh.Mesh, error) {
	wanted := float64(o.Size) / 2
	var g grid
	// Small references cannot afford the fine chord: it doubles until they can.
	for chord := rollChord; ; chord *= 2 {
		g = v.fit(wanted, func(far float64) grid { return referenceGrid(far, chord) })
		if v.triangles(g) < 1.05*wanted || chord > 0.1 {
			break
		}
	}
	t := v.layOut(g)
	vertices := make([]geom.Vec, t.count)
	err := t.vertices(ctx, o.Threads, progress, func(c *column, index, row int) {
		p, _ := v.sample(c, c.u, c.rows[row])
		vertices[index] = asFloat32(p)
	})
	if err != nil {
		return nil, err
	}
	m := &mesh.Mesh{}
	m.Vertices, _, m.Faces = compact(vertices, make([]Origin, t.count), nil, t.faces())
	return m, ctx.Err()
}

// pose returns where the scan lies: any turn, and up to half a metre away (referenceFromScan).
func pose(seed uint64) geom.Rigid {
	s := keyed(seed, 'p')
	var q [4]float64
	// A point of the unit ball in four dimensions gives an unbiased turn (Marsaglia 1972).
	for {
		n := 0.0
		for i := range q {
			q[i] = s.uniform()
			n += float64(q[i] * q[i])
		}
		if n > 0.01 && n <= 1 {
			n = math.Sqrt(n)
			for i := range q {
				q[i] /= n
			}
			break
		}
	}
	w, x, y, z := q[0], q[1], q[2], q[3]
	two := func(a, b float64) float64 { return float64(2 * a * b) }
	r := geom.Mat3{
		{1 - two(y, y) - two(z, z), two(x, y) - two(w, z), two(x, z) + two(w, y)},
		{two(x, y) + two(w, z), 1 - two(x, x) - two(z, z), two(y, z) - two(w, x)},
		{two(x, z) - two(w, y), two(y, z) + two(w, x), 1 - two(x, x) - two(y, y)},
	}
	return geom.Rigid{R: r, T: geom.Vec{X: 500 * s.uniform(), Y: 500 * s.uniform(), Z: 500 * s.uniform()}}.Orthonormal()
}
