// Package seampath lays the path of a seam along a shut line, between points
// that someone clicked on it.
//
// Lengths are mm, all in one frame. A path lies on the outer skins of the two
// panels, carried across the gap, and in the middle of the gap where one is
// found; where none is found (a bridged stretch, no gap at all) it runs straight
// on between the places that are known. Nothing here measures a gap: that is
// done by deviation/gapflush at the stations cut on the path.
package seampath

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/surface"
)

// Cast looks from p against an outward direction and returns how far above p
// (negative: below) the first surface lies that it meets.
type Cast func(p geom.Vec) (height float64, ok bool)

// Ground is a mesh made ready for laying paths on it. Goroutines may share it.
type Ground struct {
	Threads int // 0: all processors
	surface *surface.Surface
}

// New indexes a mesh. The errors are those of [surface.New].
func New(ctx context.Context, m *mesh.Mesh, threads int, progress mesh.Progress) (*Ground, error) {
	s, err := surface.New(ctx, m, threads, progress)
	if err != nil {
		return nil, err
	}
	return &Ground{threads, s}, nil
}

// On returns the ground of a mesh that is indexed already.
func On(s *surface.Surface) *Ground { return &Ground{surface: s} }

// Click is a point of a seam that someone clicked.
type Click struct {
	At      geom.Vec // on the outer skin, or above the gap at its height
	Outward geom.Vec // unit, toward the viewer or along the skin's normal
	Slack   float64  // mm, how exactly a click hits, such as the size of a pixel
}

// Path is a laid path.
type Path struct {
	Points []geom.Vec // from the first click to the last
	Found  float64    // share of the places looked at where a gap was found, 0 to 1
}

// The circles of places around a point by which its skin is found, mm. Beside
// or on a gap, pairs of opposite places with one of them in the gap lie too low,
// never too high, and the outer circles reach over it: so not the median of the
// pairs' middles counts but their upper quartile.
var ringRadii = [3]float64{5, 9, 14}

const (
	ringDirections = 8 // pairs of opposite places on each circle
	ringQuantile   = 0.75
	// leastFacing is the cosine within which a skin's normal is believed: what is
	// steeper against the line of sight is a hem or a wall.
	leastFacing = 0.4
)

// onSkin is how far a surface may lie from the skin around it, mm, and still
// be taken for it: a flush that is out, and the bend of a panel over the ring; a
// flange behind a gap lies deeper.
const onSkin = 2.0

// Skin returns the point of the outer skin over or under p, seen along outward
// (unit), and the skin's unit normal there. A gap at p is bridged: the point lies
// between the skins around it. ok is false where there is no skin around p.
func Skin(p, outward geom.Vec, cast Cast) (at, normal geom.Vec, ok bool) {
	x, y := across(outward)
	type pair struct{ dx, dy, middle, slope float64 }
	var pairs []pair
	var middles, heights []float64
	for _, r := range ringRadii {
		for k := range ringDirections {
			s, c := geom.Sincos(math.Pi * float64(k) / ringDirections)
			d := x.Scale(c).AddScaled(s, y)
			a, okA := cast(p.AddScaled(r, d))
			b, okB := cast(p.AddScaled(-r, d))
			if okA {
				heights = append(heights, a)
			}
			if okB {
				heights = append(heights, b)
			}
			if okA && okB {
				pairs = append(pairs, pair{c, s, (a + b) / 2, (a - b) / (2 * r)})
				middles = append(middles, (a+b)/2)
			}
		}
	}
	if len(middles) < ringDirections/2 { // at a part's edge: what there is on one side
		h, hit := cast(p)
		if len(heights) >= ringDirections/2 {
			h, hit = median(heights), true
		}
		return p.AddScaled(h, outward), outward, hit
	}
	slices.Sort(middles)
	height := middles[int(ringQuantile*float64(len(middles)-1))]
	var xx, xy, yy, sx, sy float64
	for _, q := range pairs {
		if math.Abs(q.middle-height) <= onSkin {
			xx += float64(q.dx * q.dx)
			xy += float64(q.dx * q.dy)
			yy += float64(q.dy * q.dy)
			sx += float64(q.dx * q.slope)
			sy += float64(q.dy * q.slope)
		}
	}
	normal = outward
	if det := float64(xx*yy) - float64(xy*xy); det > 0.1 {
		gx, gy := (float64(sx*yy)-float64(sy*xy))/det, (float64(sy*xx)-float64(sx*xy))/det
		normal = outward.AddScaled(-gx, x).AddScaled(-gy, y).Unit()
		if normal.Dot(outward) < leastFacing {
			normal = outward
		}
	}
	if h, hit := cast(p); hit && math.Abs(h-height) <= onSkin {
		height = h
	}
	return p.AddScaled(height, outward), normal, true
}

// across returns two unit directions square to u and to each other.
func across(u geom.Vec) (x, y geom.Vec) {
	axis := geom.Vec{Z: 1}
	if math.Abs(u.Z) > 0.8 {
		axis = geom.Vec{X: 1}
	}
	x = axis.Cross(u).Unit()
	return x, u.Cross(x)
}

// from returns a cast along outward that starts up mm above its point and looks down mm below it.
func (g *Ground) from(finder *surface.Finder, outward geom.Vec, up, down float64) Cast {
	return func(p geom.Vec) (float64, bool) {
		s, _, ok := finder.Ray(p.AddScaled(up, outward), outward.Neg())
		return up - s, ok && s <= up+down
	}
}
