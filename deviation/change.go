package deviation

import (
	"context"
	"math"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// Decision says whether a difference is one.
type Decision uint8

// The decisions about a difference with its U beside the least that matters.
const (
	NotCompared Decision = iota // one of the two has no number
	NotChanged                  // surely less than matters
	Undecidable                 // neither: U is too large to tell
	Changed                     // surely not 0
)

// String returns the word used in files, "" where nothing was compared.
func (d Decision) String() string { return [...]string{"", "not changed", "undecided", "changed"}[d] }

// DecideChange decides a difference: changed when it is larger than its U,
// not changed when even with its U it is at most limit, the least difference that
// matters; else undecided.
func DecideChange(difference verdict.Value, limit float64) Decision {
	size := math.Abs(difference.V)
	switch {
	case !difference.OK:
		return NotCompared
	case size > difference.U:
		return Changed
	case size+difference.U <= limit:
		return NotChanged
	}
	return Undecidable
}

const (
	// astray is the sine of 30 degrees, the most by which what a scan has nearest to a sample may lie aside of the normal there.
	astray = 0.5
	// owner: a scan's point belongs to another place of the reference when it lies nearer to that than by
	// this share of its distance from the sample; from ownFloor mm on, under which no
	// two places of a part are that far apart.
	owner    = 0.5
	ownFloor = 0.5
)

func isAstray(s, normal geom.Vec, hit *surface.Hit) bool {
	d := s.Sub(hit.Point)
	aside := d.AddScaled(-d.Dot(normal), normal).Norm()
	return aside > offEdgeFloor && aside > astray*hit.Distance
}

// isOthers reports whether what a scan has nearest to a sample is the scan of
// another place of the reference, such as the hem across a gap.
func isOthers(back *surface.Finder, hit *surface.Hit, reach float64) bool {
	own, ok := back.ClosestFacing(hit.Point, hit.Normal, facingCos, reach)
	return ok && own.Distance < owner*hit.Distance
}

// Scanned is one of two scans of a part: its surface, placed in the reference's
// frame, and what is known of its errors. Noise is one standard deviation of a point, mm.
type Scanned struct {
	Surface *surface.Surface
	Noise   float64
	Placing *Placing // nil: taken at its word
	Spacing float64  // mm, of its points
}

// Change is the difference of two scans at samples of their reference.
type Change struct {
	Deviation  [2][]float64 // mm, of either scan at every sample; 0 where its state is not Measured
	State      [2][]State
	Difference []float64  // mm, second less first; 0 where one has no deviation
	U          []float64  // mm, k = 2; NoU where one placement may move along the normal, 0 without a difference
	Decision   []Decision // Undecidable without a U
	Limit      float64    // mm, the least difference that matters
	Regions    Clusters   // where the scans differ by more than U, connected along the reference; all BeyondByU
	Share      [4]float64 // of the reference's area, by Decision
	Mean, RMS  float64    // mm, of the difference, weighted by area; 0 where nothing was compared
}

// MeasureChange compares two scans of the same part where both see it.
//
// Two scans have no points in common, so they are compared on the reference: at a
// sample s with normal n each has the deviation of its own surface there, the distance from s
// to the closest point of those of its faces whose normal lies within 60° of n, with the
// sign and the states of [Measure] with the roles of scan and reference exchanged
// (off-edge: the scan ends there, or what is nearest lies more than 30° aside of the
// normal or belongs to another place of the reference, as where a hem was not seen). The difference is the second's less the first's; the reference's
// chords, which both are measured from, leave it.
//
// U = 2 √(Σ of both scans: noise² + placement²) + Σ chord: the noise of a scan point, which the corners of a face
// share, the placement's part along n, and how far a scan's own faces cut across the part's curvature, as
// [Field.Expand] takes the reference's. reach and limit are mm. The error is ctx's.
func MeasureChange(ctx context.Context, ref *surface.Surface, at *Samples, scans [2]Scanned, reach, limit float64, threads int, progress func(share float64)) (*Change, error) {
	n := len(at.Mesh.Vertices)
	c := &Change{Difference: make([]float64, n), U: make([]float64, n), Decision: make([]Decision, n), Limit: limit}
	var variance [2][]float64
	chord := make([]float64, n) // of both
	for k, scan := range scans {
		c.Deviation[k], c.State[k], variance[k] = make([]float64, n), make([]State, n), make([]float64, n)
		finders, backs := make([]*surface.Finder, parallel.Threads(threads)), make([]*surface.Finder, parallel.Threads(threads))
		d := &doubts{placing: scan.Placing, skin: scan.Surface.Skin(threads)}
		d.setTerms()
		err := parallel.Chunks(ctx, n, pointRun, threads, func(share float64) {
			if progress != nil {
				progress((float64(k) + share) / 2)
			}
		}, func(worker, _, lo, hi int) {
			if finders[worker] == nil {
				finders[worker], backs[worker] = scan.Surface.NewFinder(), ref.NewFinder()
			}
			for i := lo; i < hi; i++ {
				s, normal := at.Mesh.Vertices[i], at.Normals[i]
				hit, far, state := measurePoint(finders[worker], s, normal, reach)
				if state == Measured && (isAstray(s, normal, &hit) || hit.Distance > ownFloor && isOthers(backs[worker], &hit, reach)) {
					state = OffEdge
				}
				c.State[k][i] = state
				if state != Measured {
					continue
				}
				c.Deviation[k][i] = -far
				p := d.along(hit.Point, normal)
				if p < 0 {
					variance[k][i] = NoU
					continue
				}
				// Neighbours share much of a scanner's noise (over 4 to 8 mm, as measured), so that
				// between the corners of a face none of it averages out.
				variance[k][i] = float64(scan.Noise*scan.Noise) + float64(p*p)
				chord[i] += d.scanChord(&hit, scan.Noise)
			}
		})
		if err != nil {
			return nil, err
		}
	}
	class := make([]int8, n)
	area := [4]float64{}
	whole, sum, squares := 0.0, 0.0, 0.0
	for i := range n {
		if c.State[0][i] == Measured && c.State[1][i] == Measured {
			class[i] = c.decide(i, variance[0][i], variance[1][i], chord[i])
			w := at.Areas[i]
			sum += float64(w * c.Difference[i])
			squares += float64(w * float64(c.Difference[i]*c.Difference[i]))
		}
		area[c.Decision[i]] += at.Areas[i]
		whole += at.Areas[i]
	}
	if whole > 0 {
		for k := range area {
			c.Share[k] = area[k] / whole
		}
	}
	if seen := whole - area[NotCompared]; seen > 0 {
		c.Mean, c.RMS = sum/seen, math.Sqrt(squares/seen)
	}
	var err error
	c.Regions, err = findRegions(ctx, at.Mesh, at.Areas, class, c.Difference, func(i int) verdict.Tolerance {
		return verdict.Tolerance{Lo: -c.U[i], Hi: c.U[i]}
	})
	if err != nil {
		return nil, err
	}
	c.name(leastChange(at, scans))
	return c, nil
}

// decide fills in a sample that both scans see and returns its class for the regions.
func (c *Change) decide(i int, first, second, chord float64) int8 {
	c.Difference[i] = c.Deviation[1][i] - c.Deviation[0][i]
	if first == NoU || second == NoU {
		c.U[i], c.Decision[i] = NoU, Undecidable
		return inTolerance
	}
	c.U[i] = float64(2*math.Sqrt(first+second)) + chord
	c.Decision[i] = DecideChange(verdict.Value{V: c.Difference[i], U: c.U[i], OK: true}, c.Limit)
	size, side := math.Abs(c.Difference[i]), int8(1)
	if c.Difference[i] < 0 {
		side = -1
	}
	switch {
	case size > c.U[i]:
		return side * beyondByU
	case size > c.U[i]/2:
		return side * joining
	}
	return inTolerance
}

// name keeps the regions of least connected samples and more, gives them their
// values and puts the worst first; smaller ones, as noise leaves them, are specks.
func (c *Change) name(least int) {
	kept := c.Regions.List[:0]
	for _, r := range c.Regions.List {
		if r.Core < least {
			c.Regions.Specks++
			c.Regions.SpecksArea += r.Area
			continue
		}
		r.State, r.HasU = BeyondByU, true
		r.Value = verdict.Value{V: c.Difference[r.Peak], U: c.U[r.Peak], OK: true}
		kept = append(kept, r)
	}
	c.Regions.List = kept
	c.Regions.sort()
}

// leastChange is how many connected samples a change must have to be no play of
// noise: as many as a region of a scan, times as many samples as share the same
// scan points, which samples nearer than two of their spacings do, or the same noise.
func leastChange(at *Samples, scans [2]Scanned) int {
	spacing := max(2*scans[0].Spacing, 2*scans[1].Spacing, noiseShared)
	if !(at.Spacing > 0) || spacing <= at.Spacing {
		return leastCore
	}
	return int(math.Ceil(leastCore * float64(spacing/at.Spacing) * float64(spacing/at.Spacing)))
}

// noiseShared is, in mm, over how far points of a scan may share noise: scanners were measured at 4 to 8, and
// smoothing reaches farther.
const noiseShared = 12.0

const (
	// noiseRise is how far noise alone bends the skin over a scan's facet, two standard deviations
	// in those of a point: the normals at the ends of an edge h tilt by about noise/h,
	// which is a rise of a quarter of the noise.
	noiseRise = 0.5
	// sharpRise is how far the surface may lie from a facet whose corners' normals differ too much
	// from its own to tell, in its longest edge: an arc whose ends are tilted by 22° rises by a tenth of its chord.
	sharpRise = 0.1
)

// scanChord returns how far a scan's facet may lie from the part, mm.
func (d *doubts) scanChord(hit *surface.Hit, noise float64) float64 {
	rise, smooth := d.skin.AtMost(hit.Face, hit.Point)
	if smooth {
		return max(0, rise-float64(noiseRise*noise))
	}
	a, b, c := d.skin.Mesh().Corners(hit.Face)
	return float64(sharpRise * max(a.Dist(b), b.Dist(c), c.Dist(a)))
}
