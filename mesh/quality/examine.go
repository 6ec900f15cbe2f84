package quality

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
	"shutline/mesh/morton"
)

// Examination is all that is known of a mesh by itself. Lengths are in the mesh's unit.
type Examination struct {
	Health     mesh.Report
	HasNoise   bool
	Noise      float64 // one standard deviation, see [Noise]
	Doubled    []Reading
	Spacing    float64 // between neighbouring points: the median edge or, without faces, about that
	HasNormals bool    // a point cloud's
	Step       float64 // in which coordinates are stored, where that is single precision; else 0
}

// Reading is what was found of doubled skins for one unit that the mesh may be in.
type Reading struct {
	Unit meshio.Unit
	Skins
}

// doubledFault is the share of the area under a second skin from which on it is a fault:
// webs across gaps and folds at borders come to less.
const doubledFault = 0.01

// Found reports whether so much of the area lies under a second skin that passes do not match.
func (r *Reading) Found() bool { return r.Share >= doubledFault }

// Examine looks at a mesh whose unit is one of those given; tree is that of its faces, nil where there is none
// yet. The error is ctx's.
func Examine(ctx context.Context, m *mesh.Mesh, tree *bvh.Tree, units []meshio.Unit, threads int, progress mesh.Progress) (*Examination, error) {
	e := &Examination{}
	var err error
	if e.Health, err = mesh.Health(ctx, m); err != nil {
		return nil, err
	}
	e.Step = stepOf(m.Vertices)
	progress.Report(0.5)
	if len(m.Faces) == 0 {
		e.HasNormals = slices.ContainsFunc(m.Normals, func(n geom.Vec) bool { return n != (geom.Vec{}) })
		e.Spacing = spacing(m.Vertices)
		return e, ctx.Err()
	}
	e.Spacing = e.Health.MedianEdge
	normals, err := m.VertexNormalsWithin(ctx)
	if err != nil {
		return nil, err
	}
	if e.Noise, e.HasNoise, err = Noise(ctx, m, normals); err != nil {
		return nil, err
	}
	if tree == nil {
		if tree, err = bvh.Build(ctx, m, threads, progress.Part(0.5, 0.7)); err != nil {
			return nil, err
		}
	}
	for _, u := range units {
		skins, err := Doubled(ctx, m, normals, u.MM(), e.Noise, tree, threads, nil)
		if err != nil {
			return nil, err
		}
		e.Doubled = append(e.Doubled, Reading{u, skins})
	}
	progress.Report(1)
	return e, nil
}

// stepOf returns the step between neighbouring numbers at the largest coordinate where all coordinates, in
// one of the units files are in, are numbers of single precision.
func stepOf(points []geom.Vec) float64 {
	const samples = 1000
	for _, u := range meshio.Units() {
		single, most := len(points) > 0, 0.0
		for i := 0; i < len(points) && single; i += len(points)/samples + 1 {
			for k := range 3 {
				x := points[i].At(k) / u.MM()
				// Turning into mm and back may round twice.
				single = single && math.Abs(float64(float32(x))-x) <= math.Abs(x)/(1<<50)
				most = max(most, math.Abs(x))
			}
		}
		if single {
			return float64(float64(math.Nextafter32(float32(most), math.MaxFloat32)-float32(most)) * u.MM())
		}
	}
	return 0
}

// spacing returns about the median distance of points to their nearest neighbours, 0 for fewer than two
// points: the nearest of those that follow and go before on a space-filling curve.
func spacing(points []geom.Vec) float64 {
	const (
		samples = 2000
		beside  = 24 // places on the curve; more change the median by under a hundredth on scans
	)
	if len(points) < 2 {
		return 0
	}
	curve := morton.New(geom.BoxOf(points))
	order := make([]morton.Entry, len(points))
	for i, p := range points {
		order[i] = morton.Entry{Key: curve.Key(p), Index: uint32(i)}
	}
	order = morton.Sort(order, 1)
	var nearest []float64
	step := max(1, len(points)/samples)
	for i := 0; i < len(order); i += step {
		best := math.Inf(1)
		for k := max(0, i-beside); k <= min(len(order)-1, i+beside); k++ {
			if k != i {
				best = min(best, points[order[i].Index].Dist(points[order[k].Index]))
			}
		}
		nearest = append(nearest, best)
	}
	slices.Sort(nearest)
	return nearest[len(nearest)/2]
}

// Faults says in one sentence each what is wrong with the mesh and what it means for measuring.
func (e *Examination) Faults() []string {
	out := append(e.Health.Faults(), e.doubled()...)
	if e.Step > coarseStep*e.Spacing && e.Spacing > 0 {
		out = append(out, fmt.Sprintf("the coordinates are so far from zero that they are stored in steps of %.2g, %.2g of the points' distance from one another: the file's single precision has lost the rest; export it nearer to zero, or in double precision",
			e.Step, e.Step/e.Spacing))
	}
	return out
}

// coarseStep is the share of the spacing that a step of the coordinates may be: 0.01 mm on a scan of 1 mm, a third of
// a usual scanner's noise.
const coarseStep = 0.01

// Grave says in one sentence each what makes deviations wrong.
func (e *Examination) Grave() []string { return append(e.Health.Grave(), e.doubled()...) }

func (e *Examination) doubled() []string {
	var out []string
	for i := range e.Doubled {
		r := &e.Doubled[i]
		if !r.Found() {
			continue
		}
		unit, condition := string(r.Unit), ""
		if len(e.Doubled) > 1 {
			condition = "if its unit is " + unit + ", "
		}
		out = append(out, fmt.Sprintf(
			"%s%.0f %% of the area has another skin facing the same way beside it, %.2g %s apart at the median, for instance at (%.4g, %.4g, %.4g) in the file's frame: passes that do not match seem to have been joined; deviations and edges jump from skin to skin there; join the passes again or cut one away, unless the scan comes back over its own start there, which then tells how far it has drifted",
			condition, 100*r.Share, r.Gap, unit, r.At.X, r.At.Y, r.At.Z))
	}
	return out
}

// shapeNoise is the share of the spacing from which on what neighbouring points do not share is more likely
// the part's shape, met too seldom, than a scanner's noise. Common practice has none; a scan with a tenth of its spacing
// in noise already looks like gravel.
const shapeNoise = 0.1

// NoiseIsShape reports whether the noise is more likely the part's own shape.
func (e *Examination) NoiseIsShape() bool { return e.HasNoise && e.Noise > shapeNoise*e.Spacing }

// Use is what a mesh may serve as.
type Use struct {
	As  string // "reference", "scan for deviations", "scan for seams"
	Why string // why it cannot, or what to watch for; "" where nothing stands against it
	OK  bool
}

// usualRadius is the radius in mm of a hem as they are mostly made (0.7 mm sheet folded over: 1 to 1.5).
const usualRadius = 1.5

// Uses says what the mesh can be used as; unit is the length of its unit in mm, 0 where that is not known.
func (e *Examination) Uses(unit float64) []Use {
	reference := Use{As: "reference", OK: e.Health.Faces > 0}
	deviations := Use{As: "scan for deviations", OK: true}
	seams := Use{As: "scan for gaps and flushes", OK: e.Health.Faces > 0}
	var sides []string
	if e.Health.FlippedEdges > 0 {
		sides = append(sides, "some faces are turned over")
	}
	if e.Health.Closed && e.Health.VolumeMM3 < 0 {
		sides = append(sides, "it is inside out")
	}
	if len(sides) > 0 {
		reference.OK, reference.Why = false, strings.Join(sides, ", ")
		deviations.OK, deviations.Why = false, reference.Why
	}
	switch spacing, fine, least := e.Spacing*unit, e.Health.FineEdge*unit, e.Health.ShortestEdge*unit; {
	case e.Health.Faces == 0:
		reference.Why, seams.Why = "it has no faces", "it has no faces"
		if !e.HasNormals {
			deviations.Why = "it has no normals, so skins behind one another are not told apart"
		}
	case unit == 0:
		seams.Why = "whether its points are close enough depends on the unit"
	case least > usualRadius:
		seams.OK, seams.Why = false, fmt.Sprintf("no two points are closer than %.3g mm, and a hem of %.2g mm radius needs more than that", least, usualRadius)
	case spacing > usualRadius && fine <= usualRadius:
		seams.Why = fmt.Sprintf("its points are %.2g mm apart at the median and under %.2g mm where they lie closest: how close they lie on the hems is what counts, and stations with fewer than one a radius there (mostly %.2g mm) are refused", spacing, fine, usualRadius)
	case spacing > usualRadius:
		seams.Why = fmt.Sprintf("its points are %.2g mm apart at the median: stations with fewer than one a radius on a hem (mostly %.2g mm) are refused", spacing, usualRadius)
	}
	for i := range e.Doubled {
		if e.Doubled[i].Found() && len(e.Doubled) == 1 {
			deviations.OK, deviations.Why = false, "two skins lie over one another"
			if seams.OK {
				seams.OK, seams.Why = false, deviations.Why
			}
		}
	}
	return []Use{reference, deviations, seams}
}
