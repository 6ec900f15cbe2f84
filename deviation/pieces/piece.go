package pieces

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
	"shutline/mesh/surface"
)

// ErrPieces is the sentinel of pieces that cannot be joined.
var ErrPieces = errors.New("the pieces cannot be joined")

// refusal makes an error of ErrPieces.
func refusal(format string, args ...any) error {
	return fmt.Errorf("pieces: %w: %s", ErrPieces, fmt.Sprintf(format, args...))
}

// Piece is one of several scans of a body, in mm.
type Piece struct {
	Name string // as messages call it
	Mesh *mesh.Mesh
}

// body is a piece made ready: its surface, normals and areas.
type body struct {
	name    string
	mesh    *mesh.Mesh
	surface *surface.Surface
	normals []geom.Vec // unit, per vertex
	area    []float64  // mm², per vertex
	box     geom.Box
	spacing float64 // mm, median edge of a sample of faces
	probes  []int32 // vertices spread evenly over the area
	fixed   bool    // the reference
	feigned float64 // what noise of its normals holds it by against a slide, as heldFloor
	rough   bool    // noise tilts its faces by more than likeNormal can do with
}

const (
	// probeCount vertices are looked from to find where pieces overlap: on a piece of 3 m² one
	// to every 12 mm.
	probeCount = 20000
	// leastFaces is the fewest faces of a piece: six motions and ten times as many points.
	leastFaces = 100
)

// newBody makes a piece ready. The error is ErrPieces, for a piece without faces enough, or ctx's.
func newBody(ctx context.Context, p Piece, threads int) (*body, error) {
	if len(p.Mesh.Faces) < leastFaces {
		return nil, refusal("%s has %d faces; a piece needs %d, so export it as triangles", p.Name, len(p.Mesh.Faces), leastFaces)
	}
	s, err := surface.New(ctx, p.Mesh, threads, nil)
	if err != nil {
		return nil, err
	}
	b := &body{name: p.Name, mesh: p.Mesh, surface: s, normals: p.Mesh.VertexNormals(), area: p.Mesh.VertexAreas(), box: p.Mesh.Bounds()}
	b.spacing = spacingOf(p.Mesh)
	for v, a := range b.area {
		if b.normals[v] == (geom.Vec{}) || !p.Mesh.Vertices[v].IsFinite() {
			a = 0
		}
		b.area[v] = a
	}
	b.probes = spread(b.area, nil, probeCount, 1)
	noise := b.noise()
	b.feigned, b.rough = b.feign(noise), noise > roughShare*b.spacing
	return b, ctx.Err()
}

// someProbes is how many places tell a piece's form.
const someProbes = 400

// some returns places spread evenly over the area.
func (b *body) some() (out []geom.Vec) {
	for k := 0; k < len(b.probes); k += len(b.probes)/someProbes + 1 {
		out = append(out, b.mesh.Vertices[b.probes[k]])
	}
	return out
}

// spacingOf returns the median edge, mm, of some ten thousand faces.
func spacingOf(m *mesh.Mesh) float64 {
	const looked = 10000
	var edges []float64
	for f := 0; f < len(m.Faces); f += len(m.Faces)/looked + 1 {
		a, b, c := m.Corners(uint32(f))
		edges = append(edges, a.Dist(b), b.Dist(c), c.Dist(a))
	}
	slices.Sort(edges)
	return edges[len(edges)/2]
}

// spread returns about n of the items, all where of is nil, with a chance in proportion to
// their weight: one from each of n equal shares of the sum, at a place that the seed decides.
func spread(weight []float64, of []int32, n int, seed uint64) []int32 {
	count := len(of)
	if of == nil {
		count = len(weight)
	}
	item := func(k int) int32 {
		if of == nil {
			return int32(k)
		}
		return of[k]
	}
	total := 0.0
	for k := range count {
		total += weight[item(k)]
	}
	if !(total > 0) {
		return nil
	}
	out := make([]int32, 0, n)
	step, sum := total/float64(n), 0.0
	next := step * unitOf(seed, 0)
	for k, i := 0, 0; i < count; i++ {
		v := item(i)
		sum += weight[v]
		taken := false
		for k < n && sum > next {
			if !taken {
				out, taken = append(out, v), true
			}
			k++
			next = step * (float64(k) + float64(unitOf(seed, uint64(k))))
		}
	}
	return out
}

// unitOf returns a number in [0, 1) that belongs to a seed and an index (SplitMix64, Steele,
// Lea & Flood 2014).
func unitOf(seed, index uint64) float64 {
	z := seed*0x9e3779b97f4a7c15 + index*0xbf58476d1ce4e5b9 + 0x94d049bb133111eb
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}

// finders returns one finder for each worker.
func (b *body) finders(threads int) []*surface.Finder {
	out := make([]*surface.Finder, parallel.Threads(threads))
	for k := range out {
		out[k] = b.surface.NewFinder()
	}
	return out
}

const (
	// smoothRadius in mm is over what the normal of a point is averaged; the noise that
	// scanners' neighbouring points share reaches 4 to 8.
	smoothRadius = 6.0
	// smoothEdges: a piece that is coarser is averaged over so many of its edges.
	smoothEdges = 4.0
	// likeNormal is the cosine of 25 degrees: noise tilts a vertex normal by a few
	// degrees, and beyond is another side of an edge.
	likeNormal = 0.906307787036650
)

// smoothNormal returns the mean normal of the faces around a vertex that face alike: the noise of
// a vertex's own normal would count as shape that holds the piece against sliding.
func (b *body) smoothNormal(v int32) geom.Vec {
	p, n := b.mesh.Vertices[v], b.normals[v]
	radius, like := b.smoothing(), likeNormal
	if b.rough {
		like = cosPair
	}
	var sum geom.Vec
	half := geom.Vec{X: radius, Y: radius, Z: radius}
	b.surface.FacesIn(geom.Box{Lo: p.Sub(half), Hi: p.Add(half)}, func(f uint32) {
		a := b.mesh.AreaNormal(f)
		if d := a.Dot(n); d > 0 && float64(d*d) > like*like*a.Norm2() {
			sum = sum.Add(a)
		}
	})
	if s := sum.Unit(); s != (geom.Vec{}) {
		return s
	}
	return n
}

// smoothing is over what the normal of a point is averaged, mm.
func (b *body) smoothing() float64 { return max(smoothRadius, smoothEdges*b.spacing) }

// sameMesh reports whether two meshes hold the same numbers.
func sameMesh(a, b *mesh.Mesh) bool {
	return slices.Equal(a.Faces, b.Faces) && slices.Equal(a.Vertices, b.Vertices)
}

// median returns the middle of the values, which it sorts; 0 of none.
func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return x[len(x)/2]
}

// madScale turns a median absolute deviation into a standard deviation of normal noise.
const madScale = 1.4826

// quantile returns the order statistic of sorted values at a share; 0 of none.
func quantile(sorted []float64, share float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(int(math.Floor(share*float64(len(sorted)))), len(sorted)-1)]
}
