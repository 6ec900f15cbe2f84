package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh/geom"
)

const (
	flatProbe  = 1500 // scan points that flats are sought with
	flatTrials = 300
	flatMost   = 3 // floor, wall, table
	// flatShare of the scan: less does not mislead the search.
	flatShare = 0.12
	// flatThick in diagonals of the reference: floors are not flat to better than a few mm.
	flatThick = 0.001
	cosFlat   = 0.9848 // 10 degrees
	// asMuch of what lay close before has to do so without the flats: parts of the
	// part that are flat go with them.
	asMuch = 0.8
)

// flat is a plane.
type flat struct{ at, n geom.Vec }

// lookWithoutFlats looks for large flat things in the scan, which are floors,
// walls and tables more often than parts, and searches again without them. It
// returns nil where there are none or where that leaves doubts too.
func (f *fit) lookWithoutFlats(ctx context.Context, plain *found) (*fit, *found, error) {
	points := f.sample(flatProbe, seedFlats)
	thick := flatThick * f.ref.diag
	var flats []flat
	for len(flats) < flatMost && len(points) >= leastPoints {
		p, count := greatestFlat(points, thick, uint64(len(flats)))
		if float64(count) < flatShare*flatProbe {
			break
		}
		flats = append(flats, p)
		points = without(points, p, thick)
	}
	if len(flats) == 0 {
		return nil, nil, nil
	}
	c := *f.cloud
	c.area = append([]float64(nil), f.cloud.area...)
	left, usable := 0.0, 0
	for i, a := range c.area {
		for _, p := range flats {
			if a > 0 && p.holds(point{c.mesh.Vertices[i], c.normals[i]}, thick) {
				c.area[i] = 0
			}
		}
		if c.area[i] > 0 {
			left += c.area[i]
			usable++
		}
	}
	if usable < leastPoints {
		return nil, nil, nil
	}
	share := 1 - left/c.total
	c.total, c.usable = left, usable
	bare := &fit{ref: f.ref, cloud: &c, settings: f.settings}
	bare.ready()
	b, err := bare.look(ctx, usual, nil, nil)
	if err != nil || b.doubtful() || b.q.Fine*(1-share) < asMuch*plain.q.Fine {
		return nil, nil, err
	}
	b.p.Notes = append(b.p.Notes, fmt.Sprintf("%.0f %% of the scan is flat and was left out of the placement, as a floor, wall or table would be.", 100*share))
	return bare, &b, nil
}

// holds reports whether a point lies in a flat.
func (p *flat) holds(q point, thick float64) bool {
	return math.Abs(q.p.Sub(p.at).Dot(p.n)) < thick && math.Abs(q.n.Dot(p.n)) > cosFlat
}

// greatestFlat returns the plane through one of the points, square to its normal
// and then to that of what it holds, that holds the most of them.
//
// Based on: Fischler & Bolles, "Random sample consensus" (1981).
func greatestFlat(points []point, thick float64, seed uint64) (best flat, count int) {
	for k := range flatTrials {
		at := points[int(unitHash(seedFlats+seed, uint64(k))*float64(len(points)))]
		p := flat{at.p, at.n}
		for range 2 {
			var middle, normal geom.Vec
			n := 0
			for _, q := range points {
				if p.holds(q, 3*thick) {
					middle, n = middle.Add(q.p), n+1
					if q.n.Dot(p.n) > 0 {
						normal = normal.Add(q.n)
					} else {
						normal = normal.Sub(q.n)
					}
				}
			}
			if n == 0 {
				break
			}
			p = flat{middle.Scale(1 / float64(n)), normal.Unit()}
		}
		n := 0
		for _, q := range points {
			if p.holds(q, thick) {
				n++
			}
		}
		if n > count {
			best, count = p, n
		}
	}
	return best, count
}

func without(points []point, p flat, thick float64) []point {
	var out []point
	for _, q := range points {
		if !p.holds(q, thick) {
			out = append(out, q)
		}
	}
	return out
}
