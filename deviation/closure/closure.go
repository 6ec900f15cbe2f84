package closure

import (
	"context"
	"fmt"
	"math"
	"slices"

	"shutline/deviation/align"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
)

// What is too small to be where a pass comes back over another.
const (
	// LeastArea in mm², of either skin: a scanner's field of view is 10 times that.
	LeastArea = 2500.0
	// LeastWidth in mm, of the narrower direction: seal flanges and hem returns that show in a gap are mostly below 15.
	LeastWidth = 20.0
	// PatchSide in mm, of the patches that the step is given in.
	PatchSide = 50.0
	// Reach in mm: how far apart two skins are looked for at first. A good scanner comes back some 10 mm off.
	Reach = 30.0
)

// Options of Find; the zero value works.
type Options struct {
	Travelled float64    // mm, the length of the scanner's path; 0: not known
	Noise     float64    // mm, one standard deviation; 0: estimated by align
	Reach     float64    // mm, 0: [Reach]
	Normals   []geom.Vec // of the mesh's vertices, where they are known already
	Threads   int
	// ResultsFromMesh carries what is found into the frame that results are given in; nil: the mesh's own. What is found and
	// what is held never depends on it.
	ResultsFromMesh *geom.Rigid
}

func (o *Options) resultsFromMesh() geom.Rigid {
	if o.ResultsFromMesh == nil {
		return geom.Identity()
	}
	return *o.ResultsFromMesh
}

// Closure is one place where the surface lies over itself.
type Closure struct {
	Centre geom.Vec // of the end's patch, brought onto the start
	Area   float64  // mm², of the start's skin that lies under the end's
	Length float64  // mm, and
	Width  float64  // of the patch

	// The step over the patch: mean, root mean square, and the patch where it is greatest.
	Step    verdict.Value
	StepRMS float64
	Patches []Patch

	// The motion, see the package's comment. Shift is how far the patch's centre is displaced by those
	// motions that are held, from the end onto the start; Displacement is its size with U.
	StartFromEnd geom.Rigid
	Shift        geom.Vec
	ShiftU       geom.Vec      // U of what is held of each component
	Displacement verdict.Value // mm
	Turn         geom.Vec      // radians, rotation vector of what is held
	Turned       verdict.Value // radians, its size
	Free         []align.FreeMotion
	Left         float64 // mm, RMS that the motion leaves
	Misfit       bool    // the best motion found leaves so much that it is none, and there is no displacement; nor is there one where no motion is held
	Rigid        bool    // the motion leaves no more than noise explains
	Shape        float64 // mm, RMS by which the skins differ in shape where it does not; else 0
	PerMetre     float64 // mm of displacement for each metre of travel; 0 where the path's length is not known

	Start, End []uint32 // faces of either skin
}

// Patch is the step over one place.
type Patch struct {
	At   geom.Vec      // on the start's skin
	N    geom.Vec      // its normal
	Step verdict.Value // mm, positive: the end stands proud
	Area float64       // mm²
}

// Result of Find.
type Result struct {
	Closures  []Closure // the largest area first
	Travelled float64   // mm; 0: not known
	Looked    int       // faces looked from
	PathWhy   string    // why the path that was stated does not count; "" where it does
	Reach     float64   // mm

	farthest float64
}

// PathTooShort says that the path's length cannot be right.
type PathTooShort struct{ Travelled, Part float64 } // mm

func (e *PathTooShort) Error() string {
	return fmt.Sprintf("the scanner's path is said to be %.4g m long, but the scanned part alone is %.4g m long: the path goes at least once along it; give the whole way the scanner travelled, in mm, or leave it out",
		e.Travelled/1000, e.Part/1000)
}

// CheckTravelled returns a *PathTooShort for a path, in mm, that is shorter than the part.
func CheckTravelled(m *mesh.Mesh, travelled float64) error {
	size := m.Bounds().Size()
	part := max(size.X, size.Y, size.Z)
	if travelled > 0 && travelled < part {
		return &PathTooShort{travelled, part}
	}
	return nil
}

// Find looks for places where the mesh, in mm, lies over itself. tree is that of its faces, nil where there
// is none yet. A path shorter than the part is refused with a *PathTooShort and nothing is
// computed; other errors are ctx's. A mesh without faces has no closures.
func Find(ctx context.Context, m *mesh.Mesh, tree *bvh.Tree, o Options, progress mesh.Progress) (*Result, error) {
	if err := CheckTravelled(m, o.Travelled); err != nil {
		return nil, err
	}
	if o.Reach <= 0 {
		o.Reach = Reach
	}
	r := &Result{Travelled: o.Travelled, Reach: o.Reach}
	if len(m.Faces) == 0 {
		return r, ctx.Err()
	}
	var err error
	if tree == nil {
		if tree, err = bvh.Build(ctx, m, o.Threads, progress.Part(0, 0.2)); err != nil {
			return nil, err
		}
	}
	l := &looker{mesh: m, tree: tree, normals: o.Normals, threads: o.Threads}
	if len(l.normals) != len(m.Vertices) {
		if l.normals, err = m.VertexNormalsWithin(ctx); err != nil {
			return nil, err
		}
	}
	for from := 0.2; ; {
		l.reach = r.Reach
		to := from + float64(0.8*(1-from))
		if err := l.find(ctx, r, &o, progress.Part(from, to)); err != nil {
			return nil, err
		}
		from = to
		switch {
		case r.Reach < widest && r.farthest >= atReach*r.Reach:
			// Skins that part as far as was looked go on beyond.
			r.Reach = min(wider*r.Reach, widest)
			continue
		case r.Reach < widest && len(r.Closures) == 0 && o.Travelled > 0:
			// Who states the path may have come back far off. Other things lie that far behind a part, too, but smaller ones.
			r.Reach = widest
			continue
		case r.farAway():
			r.Closures = slices.DeleteFunc(r.Closures, func(c Closure) bool { return c.Area < farArea || c.Width < farWidth })
		}
		break
	}
	progress.Report(1)
	return r, ctx.Err()
}

// widest in mm: how far apart skins that already are far apart are followed; a poor scanner comes back 300 mm off.
const widest, wider, atReach = 400.0, 4.0, 0.8

// farArea in mm² and farWidth in mm: what skins far apart, with none nearer, must have to be believed: a scanner's field of view.
const farArea, farWidth = 50_000.0, 100.0

// farAway reports whether all that was found lies farther apart than a scanner that is worth the name comes back.
func (r *Result) farAway() bool {
	for i := range r.Closures {
		if r.Closures[i].StepRMS < Reach {
			return false
		}
	}
	return true
}

// find looks for closures and measures them.
func (l *looker) find(ctx context.Context, r *Result, o *Options, progress mesh.Progress) error {
	faces, err := l.doubled(ctx, progress.Part(0, 0.4))
	if err != nil {
		return err
	}
	r.Looked, r.farthest, r.Closures = l.looked, 0, nil
	pairs := l.pairs(faces)
	for i, p := range pairs {
		n := float64(len(pairs))
		c, err := l.measure(ctx, p, o, progress.Part(0.4+0.6*float64(i)/n, 0.4+0.6*float64(i+1)/n))
		if err != nil {
			return err
		}
		for _, d := range p.start {
			r.farthest = max(r.farthest, math.Abs(d.step))
		}
		if c != nil {
			c.carry(o.resultsFromMesh())
			r.Closures = append(r.Closures, *c)
		}
	}
	return nil
}

// Greatest returns the closure whose end is farthest from its start, nil where there is none.
func (r *Result) Greatest() *Closure {
	var best *Closure
	size := func(c *Closure) float64 {
		if c.Displacement.OK {
			return c.Displacement.V
		}
		return math.Abs(c.Step.V)
	}
	for i := range r.Closures {
		if best == nil || size(&r.Closures[i]) > size(best) {
			best = &r.Closures[i]
		}
	}
	return best
}
