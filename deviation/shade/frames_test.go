package shade

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// ball is a dense closed part, and so large that clusters behind others are looked for.
func ball(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		theta := math.Pi * (float64(i) + 0.5) / (float64(n) + 1)
		for j := range 2 * n {
			phi := math.Pi * float64(j) / float64(n)
			r := 500 + 20*math.Sin(9*theta)*math.Cos(7*phi)
			m.Vertices = append(m.Vertices, geom.Vec{X: r * math.Sin(theta) * math.Cos(phi), Y: r * math.Sin(theta) * math.Sin(phi), Z: r * math.Cos(theta)})
			if i > 0 {
				at := func(i, j int) uint32 { return uint32(i*2*n + j%(2*n)) }
				m.Faces = append(m.Faces, [3]uint32{at(i-1, j), at(i, j), at(i-1, j+1)}, [3]uint32{at(i, j), at(i, j+1), at(i-1, j+1)})
			}
		}
	}
	return m
}

// What a renderer remembers of the frames before spares work and changes nothing: every frame of a turn is what a
// renderer without a memory draws.
func TestMemoryChangesNoPicture(t *testing.T) {
	m := ball(330)
	model := NewModel(m, nil)
	require.GreaterOrEqual(t, len(model.clusters), coverLeast)
	height := make([]float64, len(m.Vertices))
	for i, v := range m.Vertices {
		height[i] = v.Norm() - 500
	}
	model.Paint(height, nil, NewScale(verdict.Tolerance{Lo: -5, Hi: 5}))
	small := NewModel(ball(20), nil)
	c, ok := ViewOf("three-quarter", model.Box(), 1.5)
	require.True(t, ok)
	var r Renderer
	hidden := 0
	for i := range 7 {
		if i == 4 {
			c = c.Orbit(300, 40) // what was seen lies behind now
		}
		c = c.Orbit(4, 3)
		models := []*Model{model, small}
		want := Render(models, c, DarkTheme(), 300, 200, 1)
		got := r.Render(models, c, DarkTheme(), 300, 200, 2)
		require.True(t, bytes.Equal(want.Image.Pix, got.Image.Pix), "frame %d", i)
		if cover := r.covers.of(model); cover != nil {
			for _, s := range cover.seen {
				if !s {
					hidden++
				}
			}
		}
	}
	require.Greater(t, hidden, len(model.clusters), "the far side is passed over")
}

// A few triangles that are far larger than all others are kept one by one: the rest stays as fine as without them.
func TestLargeTrianglesDoNotCoarsenTheRest(t *testing.T) {
	m, _ := hills(120)
	fine := NewModel(m, nil)
	n := uint32(len(m.Vertices))
	m.Vertices = append(m.Vertices, geom.Vec{X: -3e6, Z: -1}, geom.Vec{X: 3e6, Y: -2e6, Z: -1}, geom.Vec{X: 3e6, Y: 2e6, Z: -1})
	m.Faces = append(m.Faces, [3]uint32{n, n + 1, n + 2})
	model := NewModel(m, nil)
	require.Len(t, model.wide, 1)
	require.Equal(t, len(m.Faces), model.Triangles())
	// The box bounds how fine the grid can be: 6 km in 2^24 steps.
	require.LessOrEqual(t, model.grid.step, 6e6/(1<<23))
	c := Camera{Target: geom.Vec{X: 1000, Y: 1000}, Right: geom.Vec{X: 1}, Up: geom.Vec{Y: 1}, Height: 2300}
	with := Render([]*Model{model}, c, LightTheme(), 230, 230, 2)
	without := Render([]*Model{fine}, c, LightTheme(), 230, 230, 2)
	ground := pack(LightTheme().Background)
	for i := 0; i < len(with.Image.Pix); i += 4 {
		had := uint32(without.Image.Pix[i]) | uint32(without.Image.Pix[i+1])<<8 | uint32(without.Image.Pix[i+2])<<16
		has := uint32(with.Image.Pix[i]) | uint32(with.Image.Pix[i+1])<<8 | uint32(with.Image.Pix[i+2])<<16
		require.NotEqual(t, ground, has, "the large triangle lies behind everything")
		if had != ground {
			continue
		}
		hit, ok := with.PickHit(i/4%230, i/4/230)
		require.True(t, ok)
		require.Equal(t, uint32(len(m.Faces)-1), hit.Face)
	}
}

// Every place is within half a step of its point, and the same point has the same place in every cluster.
func TestPlacesAreTrue(t *testing.T) {
	m, _ := hills(300)
	model := NewModel(m, nil)
	place := map[uint32][3]float64{}
	var scratch [clusterMax]uint32
	for i := range model.clusters {
		c := &model.clusters[i]
		require.LessOrEqual(t, int(c.size), clusterSize)
		for k, v := range model.sources(c, &scratch) {
			at := model.placeOf(c, c.vertex+uint32(k))
			if before, ok := place[v]; ok {
				require.Equal(t, before, at)
			}
			place[v] = at
			p := model.grid.zero.Add(geom.Vec{X: at[0], Y: at[1], Z: at[2]}.Scale(model.grid.step))
			require.LessOrEqual(t, p.Dist(m.Vertices[v]), model.grid.step*0.87) // half a cube's diagonal
		}
	}
	require.Len(t, place, len(m.Vertices))
	require.Less(t, model.grid.step, 0.005)
	drawn, tie := model.Bytes()
	require.Less(t, float64(drawn)/float64(model.Triangles()), 13.0)
	require.InDelta(t, 4, float64(tie)/float64(model.Triangles()), 0.01)
}

// Every chunk is handed out once, whatever the number of workers.
func TestSharesHandOutEverythingOnce(t *testing.T) {
	for _, threads := range []int{1, 2, 3, 8} {
		seen := make([]int, 1000)
		each(len(seen), 7, threads, func(_, lo, hi int) {
			for i := lo; i < hi; i++ {
				seen[i]++
			}
		})
		for i, n := range seen {
			require.Equal(t, 1, n, "%d of %d threads", i, threads)
		}
	}
}
