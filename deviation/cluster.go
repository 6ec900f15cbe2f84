package deviation

import (
	"cmp"
	"context"
	"slices"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// ClusterState says how sure it is that a cluster lies outside the tolerance.
type ClusterState uint8

// The states of clusters, from the surest on.
const (
	BeyondByU     ClusterState = iota // a connected part of it is beyond the tolerance by at least U
	BeyondWithinU                     // it is beyond the tolerance by less than U
	BeyondNoU                         // beyond the tolerance, and its deviations have no uncertainty
)

// String returns the word used in files.
func (s ClusterState) String() string {
	return [...]string{"beyond-by-U", "beyond-within-U", "beyond-without-U"}[s]
}

// verdict returns what the state means for a part that must be in tolerance everywhere.
func (s ClusterState) verdict() verdict.Verdict {
	if s == BeyondByU {
		return verdict.DoesNotConform
	}
	return verdict.Undecided
}

// Cluster is a connected region of scan points on the same side beyond the tolerance.
type Cluster struct {
	State   ClusterState
	Verdict verdict.Verdict // what the state means for a part that must be in tolerance everywhere
	Points  int             // beyond the tolerance
	Core    int             // points of the largest connected part that is beyond by U
	Area    float64         // mm², of those points, each a third of its faces'
	Mean    float64         // mm, deviation, weighted by area
	Excess  float64         // mm³, area times the distance beyond the limit
	Peak    int             // the point farthest out, the first of equal ones
	// Value is the deviation at Peak with its U; HasU is false where it has none.
	Value  verdict.Value
	HasU   bool
	Centre geom.Vec    // mm, mean of the points weighted by area
	Size   [2]float64  // mm, greatest extents along the two principal directions, the second at least the area over the first
	Axes   [2]geom.Vec // those directions, unit
}

// Clusters are the regions beyond the tolerance, the worst first: those that are
// beyond by U, then by excess. Specks, of fewer points than are a region, are only counted.
type Clusters struct {
	List       []Cluster
	Specks     int
	SpecksArea float64 // mm²
}

const (
	// leastRegion is the fewest points that make a region: a face.
	leastRegion = 3
	// leastCore is how many connected points beyond the tolerance by U prove a
	// region to be out: of points that lie exactly on the limit 2.3 % are lifted
	// that far by noise, so that eight of them stand together once in some 800
	// scans of a million such points (16,689 shapes of eight on a triangular grid, 0.023⁸).
	leastCore = 8
	// bridgeShare of the tolerance's width is the most that a point may lie short
	// of the limit and still join two parts of a region that noise has torn apart.
	bridgeShare = 0.05
)

// The classes of points: none, near enough to a limit to join what is beyond it, beyond
// it, beyond it by U; on the upper side, negative on the lower one.
const (
	inTolerance = iota
	joining
	beyond
	beyondByU
)

// FindClusters returns the regions of a scan outside a tolerance in mm. Points
// are connected by the scan's faces: a scan without faces has no regions.
// areas are the scan's vertex areas in mm². The error is ctx's.
func FindClusters(ctx context.Context, placed *mesh.Mesh, areas []float64, f *Field, t verdict.Tolerance, threads int) (Clusters, error) {
	class := make([]int8, len(f.State))
	bridge := float64(bridgeShare * (t.Hi - t.Lo))
	err := parallel.Chunks(ctx, len(class), pointRun, threads, nil, func(_, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if f.State[i] == Measured {
				class[i] = classOf(f, i, t, bridge)
			}
		}
	})
	if err != nil {
		return Clusters{}, err
	}
	out, err := findRegions(ctx, placed, areas, class, f.Deviation, func(int) verdict.Tolerance { return t })
	if err != nil {
		return Clusters{}, err
	}
	for k := range out.List {
		c := &out.List[k]
		c.Value, c.HasU = f.Value(c.Peak)
		switch {
		case c.Core >= min(leastCore, c.Points):
			c.State = BeyondByU
		case c.HasU:
			c.State = BeyondWithinU
		default:
			c.State = BeyondNoU
		}
		c.Verdict = c.State.verdict()
	}
	out.sort()
	return out, nil
}

func (c *Clusters) sort() {
	slices.SortStableFunc(c.List, func(a, b Cluster) int {
		return cmp.Or(cmp.Compare(a.State, b.State), cmp.Compare(b.Excess, a.Excess), cmp.Compare(a.Peak, b.Peak))
	})
}

func classOf(f *Field, i int, t verdict.Tolerance, bridge float64) int8 {
	d := f.Deviation[i]
	off, side := d-t.Hi, int8(1)
	if t.Lo-d > off {
		off, side = t.Lo-d, -1
	}
	u, hasU := 0.0, f.U != nil && f.U[i] != NoU
	if hasU {
		u = f.U[i]
	}
	switch {
	case off > 0 && off >= u && hasU:
		return side * beyondByU
	case off > 0:
		return side * beyond
	case off > -min(u, bridge):
		return side * joining
	}
	return inTolerance
}
