package deviation

import (
	"context"
	"errors"
	"fmt"
	"math"

	"shutline/mesh"
	"shutline/mesh/bvh"
	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// State says whether a scan point has a deviation, or why not.
type State uint8

// The states; the first that applies, in this order after Measured.
const (
	Measured State = iota
	BeyondReach
	FacingAway
	OffEdge
	stateCount
)

// String returns the word used in files.
func (s State) String() string {
	return [...]string{"measured", "beyond-reach", "facing-away", "off-edge"}[s]
}

// The limits of definitions.md.
const (
	// facingCos is the cosine of 60 degrees, the widest angle between the normals of a pair.
	facingCos = 0.5
	// touching is the distance in mm below which a point lies on the reference in any state of its border.
	touching = 1e-6
	// offEdgeFloor and offEdgeShare: the part of p - q square to the normal that shows the
	// scan to run past the part, in mm and as a share of |p - q|.
	offEdgeFloor = 0.05
	offEdgeShare = 0.1
)

// pointRun is the number of scan points per parallel chunk.
const pointRun = 4096

// ErrReach says that the reach is not a positive number.
var ErrReach = errors.New("the reach must be a positive number of millimetres")

// Settings of a surface comparison; Reach in mm must be positive.
type Settings struct {
	Reach   float64
	Normals []geom.Vec // of the scan's vertices, where they are known already; nil: [mesh.Mesh.VertexNormals]
	Threads int
	Doubts  bool     // fill in Field.Budget
	Placing *Placing // of the scan, for the budgets; nil: taken at its word

	// Measured is told the field by [Measure] as soon as its deviations and states are known, which are at rest from then on;
	// nothing else of it is. nil: nobody asks.
	Measured func(*Field)
}

// Field is the deviation of every scan vertex, in the order of the mesh.
type Field struct {
	Deviation []float64 // mm; 0 where the state is not Measured
	State     []State
	Covered   float64  // share of the reference's area that has a scan face with a like normal within the reach
	Notes     []string // what a reader must know, such as "no normals: facing not tested"

	Budget []Budget  // where [Settings.Doubts] asked for them; of measured points only
	Noise  float64   // mm, as given to [Field.Expand]
	U      []float64 // mm, k = 2; [NoU] where a deviation has none, 0 where there is no deviation; nil before [Field.Expand]

	free []string // what the placement may do, by free motion
}

// Measure compares a scan that has been carried into the reference's frame.
// The error is ErrReach, or ctx's.
func Measure(ctx context.Context, placed *mesh.Mesh, ref *surface.Surface, s Settings, progress mesh.Progress) (*Field, error) {
	if !(s.Reach > 0) || math.IsInf(s.Reach, 0) {
		return nil, fmt.Errorf("deviation: reach %v: %w", s.Reach, ErrReach)
	}
	normals := s.Normals
	if normals == nil {
		var err error
		if normals, err = placed.VertexNormalsWithin(ctx); err != nil {
			return nil, err
		}
	}
	f, err := MeasurePoints(ctx, placed.Vertices, normals, ref, s, progress.Part(0.05, 0.6))
	if err != nil {
		return nil, err
	}
	if s.Measured != nil {
		s.Measured(f)
	}
	f.noteNormals(placed, normals)
	f.Covered, err = covered(ctx, placed, ref.Mesh, s, progress.Part(0.6, 1))
	if err != nil {
		return nil, err
	}
	return f, nil
}

// MeasurePoints returns the deviation and state of points with their unit normals
// (zero: every face is considered), without coverage and notes. Scattered points
// are asked about in an order in which neighbours follow one another, for speed
// alone. The error is ctx's.
func MeasurePoints(ctx context.Context, points, normals []geom.Vec, ref *surface.Surface, s Settings, progress mesh.Progress) (*Field, error) {
	f := &Field{Deviation: pages.Make[float64](len(points)), State: make([]State, len(points))}
	var doubt *doubts
	if s.Doubts {
		doubt = newDoubts(s.Placing, ref, s.Threads)
		f.Budget = pages.Make[Budget](len(points))
		f.free = wordsOf(s.Placing)
	}
	type scratch struct {
		near            *surface.Finder
		points, normals []geom.Vec
	}
	own := make([]scratch, parallel.Threads(s.Threads))
	order := bvh.Order(points)
	err := parallel.Chunks(ctx, len(points), pointRun, s.Threads, progress, func(worker, _, lo, hi int) {
		w := &own[worker]
		if w.near == nil {
			w.near = ref.NewFinder()
		}
		w.points = bvh.Gather(points, order, lo, hi, w.points[:0])
		w.normals = bvh.Gather(normals, order, lo, hi, w.normals[:0])
		for k := range w.points {
			i := lo + k
			if order != nil {
				i = int(order[i])
			}
			var hit surface.Hit
			hit, f.Deviation[i], f.State[i] = measurePoint(w.near, w.points[k], w.normals[k], s.Reach)
			if doubt != nil && f.State[i] == Measured {
				f.Budget[i] = doubt.of(w.points[k], &hit)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return f, nil
}

// measurePoint returns the deviation of one point and its closest point, when
// measured; without a normal every face is considered.
func measurePoint(near *surface.Finder, p, normal geom.Vec, reach float64) (hit surface.Hit, deviation float64, state State) {
	var ok bool
	if normal == (geom.Vec{}) {
		hit, ok = near.Closest(p, reach)
	} else if hit, ok = near.ClosestFacing(p, normal, facingCos, reach); !ok && near.Any(p, reach) {
		return hit, 0, FacingAway
	}
	if !ok {
		return hit, 0, BeyondReach
	}
	d := p.Sub(hit.Point)
	along := d.Dot(hit.Normal)
	if hit.Border && hit.Distance >= touching {
		aside := d.AddScaled(-along, hit.Normal).Norm()
		if aside > offEdgeFloor && aside > offEdgeShare*hit.Distance {
			return hit, 0, OffEdge
		}
	}
	if along < 0 {
		return hit, -hit.Distance, Measured
	}
	return hit, hit.Distance, Measured
}

func (f *Field) noteNormals(placed *mesh.Mesh, normals []geom.Vec) {
	missing := 0
	for _, n := range normals {
		if n == (geom.Vec{}) {
			missing++
		}
	}
	switch {
	case missing == 0:
	case missing == len(normals):
		f.Notes = append(f.Notes, "the scan has neither faces nor normals: whether points face the reference was not tested")
	default:
		f.Notes = append(f.Notes, fmt.Sprintf("%d of %d scan points have no normal: whether they face the reference was not tested", missing, len(normals)))
	}
	if len(placed.Faces) == 0 {
		f.Notes = append(f.Notes, "the scan has no faces: how much of the reference is covered was judged by its points")
	}
}
