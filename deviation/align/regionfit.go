package align

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// ErrRegions is the sentinel of regions that determine no placement.
var ErrRegions = errors.New("the regions determine no placement")

// Region is a ball in the reference's frame, mm: the reference inside it takes part.
type Region struct {
	Centre geom.Vec
	Radius float64
}

// RegionFit is how a best fit on regions came about.
type RegionFit struct {
	Used     []RegionUsed
	Rounds   int
	LastStep float64 // mm, greatest over the reference's box
}

// RegionUsed is a region with what lies in it.
type RegionUsed struct {
	Region
	Points int // scan points whose nearest place on the reference lies in it
}

const (
	regionRounds = 10
	// regionSettled in mm, over the reference's box: points at a region's rim that
	// come and go move the fit by less, and U by nothing.
	regionSettled = 0.005
)

// Regions places the scan by a best fit on parts of the reference: on the scan
// points whose nearest like-facing place on the reference lies in one of the
// regions. It starts from the best fit on the whole part, whose errors it returns,
// and chooses the points anew until a round moves no point of the reference's box
// by more than 0.005 mm.
//
// ErrRegions, with the figure, tells of a region without reference or without
// scan, and of regions that do not hold all six motions; each of these is named.
func (p *Placer) Regions(ctx context.Context, regions []Region, progress mesh.Progress) (Placement, error) {
	f := p.f
	for k, r := range regions {
		if hit, ok := f.ref.surface.NewFinder().Closest(r.Centre, math.Inf(1)); !ok || hit.Distance > r.Radius {
			return Placement{}, fmt.Errorf("align: region %d: the reference is %.4g mm away from its centre, farther than its radius of %.4g mm; "+
				"regions are in the reference's frame as it is used (mirrored, where it is): %w", k+1, hit.Distance, r.Radius, ErrRegions)
		}
	}
	start, err := p.BestFit(ctx, progress.Part(0, 0.7))
	if err != nil {
		if ctx.Err() != nil {
			return Placement{}, err
		}
		return Placement{}, fmt.Errorf("align: a best fit on regions starts from one on the whole part, and there is none: %w", err)
	}
	g, detail := start.ReferenceFromScan, &RegionFit{LastStep: math.Inf(1)}
	var r rest
	for detail.Rounds < regionRounds && detail.LastStep > regionSettled {
		weight, used, err := f.inRegions(ctx, g, regions)
		if err != nil {
			return Placement{}, err
		}
		detail.Used = used
		points := f.cloud.points(newWeights(weight).draw(finalPoints, seedFinal))
		if len(points) < leastPoints {
			return Placement{}, fmt.Errorf("align: only %d scan points lie in the regions, at least %d are needed; make them larger: %w", len(points), leastPoints, ErrRegions)
		}
		r, err = f.matcher.settle(ctx, g, points, exactLast, nil)
		if err != nil {
			return Placement{}, err
		}
		detail.LastStep = geom.MaxDisplacement(r.g, g, f.placedBox(g))
		detail.Rounds++
		g = r.g
		progress.Report(0.7 + 0.3*float64(detail.Rounds)/regionRounds)
	}
	out := f.describe("best-fit", &r)
	if len(out.FreeMotions) > 0 || !out.RMSKnown {
		return Placement{}, notHeldBy(regions, &out)
	}
	out.Notes = append(out.weakWords(f.ref.box), out.Notes...)
	out.Regions = detail
	out.Ambiguous = start.Ambiguous
	if start.Ambiguous {
		out.Notes = append(out.Notes, "The best fit on the whole part that the regions were started from is ambiguous: a second pose fits nearly as well.")
	}
	progress.Report(1)
	return out, ctx.Err()
}

// inRegions returns the sampling weights of the scan points that are paired with a
// place in a region, 0 for the others, and how many there are in each region.
func (f *fit) inRegions(ctx context.Context, g geom.Rigid, regions []Region) (weight []float64, used []RegionUsed, err error) {
	vertices := f.cloud.mesh.Vertices
	weight = make([]float64, len(vertices))
	counts := make([][]int, len(f.matcher.finders)) // by worker and region, the one that comes first in the list
	for worker := range counts {
		counts[worker] = make([]int, len(regions))
	}
	err = parallel.Chunks(ctx, len(vertices), 512, len(f.matcher.finders), nil, func(worker, _, lo, hi int) {
		for i := lo; i < hi; i++ {
			if f.leverage[i] <= 0 {
				continue
			}
			at := g.Apply(vertices[i])
			if within(regions, at, describeReach) < 0 {
				continue
			}
			pt := f.cloud.points([]int32{int32(i)})[0]
			p := f.matcher.pairOne(f.matcher.finders[worker], g, &pt, describeReach)
			if p.state != paired {
				continue
			}
			if k := within(regions, p.at.AddScaled(-p.r, p.n), 0); k >= 0 {
				weight[i] = f.leverage[i]
				counts[worker][k]++
			}
		}
	})
	if err != nil {
		return nil, nil, err
	}
	for k, r := range regions {
		used = append(used, RegionUsed{Region: r})
		for _, count := range counts {
			used[k].Points += count[k]
		}
	}
	for k, u := range used {
		if u.Points > 0 || overlapsEarlier(regions, k) {
			continue
		}
		nearest := math.Inf(1)
		for i, v := range vertices {
			if f.leverage[i] > 0 {
				nearest = min(nearest, g.Apply(v).Dist(u.Centre))
			}
		}
		return nil, nil, fmt.Errorf("align: region %d: no scan point lies on the reference inside it; the nearest scan point is %.4g mm from its centre, its radius is %.4g mm. "+
			"Scan there, make it larger, or take it out: %w", k+1, nearest, u.Radius, ErrRegions)
	}
	return weight, used, nil
}

// within returns the first region that holds a point or has it within a margin, mm; -1 for none.
func within(regions []Region, at geom.Vec, margin float64) int {
	for k, r := range regions {
		if d := r.Radius + margin; at.Sub(r.Centre).Norm2() <= float64(d*d) {
			return k
		}
	}
	return -1
}

// overlapsEarlier reports whether a region overlaps one before it, whose points then are not its own.
func overlapsEarlier(regions []Region, k int) bool {
	for _, r := range regions[:k] {
		if r.Centre.Dist(regions[k].Centre) < r.Radius+regions[k].Radius {
			return true
		}
	}
	return false
}

// notHeldBy names the motions that regions leave.
func notHeldBy(regions []Region, p *Placement) error {
	if !p.RMSKnown {
		return fmt.Errorf("align: fewer than %d scan points follow the reference in the regions; choose parts that are as drawn: %w", leastPoints, ErrRegions)
	}
	var named []string
	for _, m := range p.FreeMotions {
		named = append(named, m.Words)
	}
	return fmt.Errorf("align: the regions hold only %d of the 6 motions. Not held: %s. Add a region with an edge, an opening or a surface that faces another way, or make one of the %d larger: %w",
		6-len(p.FreeMotions), strings.Join(named, "; "), len(regions), ErrRegions)
}
