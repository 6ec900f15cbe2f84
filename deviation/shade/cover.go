package shade

import (
	"context"
	"slices"

	"shutline/mesh/parallel"
)

// Clusters wholly behind what was drawn are passed over. What was seen in the frame
// before is drawn first; then the least depth of each tile of the picture tells which of the others
// cannot be seen. Only what lies strictly behind is left out, so the picture is the same.
//
// Based on: Greene, Kass & Miller, "Hierarchical Z-buffer visibility" (1993).

// covers is a renderer's memory of what was seen.
type covers struct {
	list          []*cover
	before        []*Model // of the last frame
	tiles         []uint32 // least depth of each, 0 where it is not filled
	columns, rows int
}

// cover is what was seen of a model.
type cover struct {
	model *Model
	seen  []bool // per cluster
	rest  int    // frames during which it is not worth while
}

const (
	tile = 8 // pixels
	// mostTiles bounds how many tiles are looked at for a cluster; what covers more is drawn.
	mostTiles = 256
	// coverLeast is the number of clusters from which looking is worth while.
	coverLeast = 1500
	// coverGain is the share of a model's clusters, one in so many, that must be hidden for the looking to
	// pay; where fewer are, it is tried again after coverRest frames.
	coverGain = 6
	coverRest = 20
	// depthSlack is more than a pixel's depth may exceed its corners' by rounding.
	depthSlack = 4
)

// begin prepares for a frame. A model that was not drawn in the frame before is drawn in full, without looking.
func (s *covers) begin(models []*Model) {
	kept := s.list[:0]
	for _, c := range s.list {
		if slices.Contains(models, c.model) {
			c.rest--
			kept = append(kept, c)
		}
	}
	clear(s.list[len(kept):])
	s.list = kept
	for _, m := range models {
		if len(m.clusters) >= coverLeast && slices.Contains(s.before, m) && !slices.ContainsFunc(kept, func(c *cover) bool { return c.model == m }) {
			c := &cover{model: m, seen: make([]bool, len(m.clusters))}
			c.all()
			s.list = append(s.list, c)
		}
	}
	s.before = append(s.before[:0], models...)
}

func (c *cover) all() {
	for i := range c.seen {
		c.seen[i] = true
	}
}

// of returns the cover of a model that is to be used in this frame, or nil.
func (s *covers) of(m *Model) *cover {
	for _, c := range s.list {
		if c.model == m && c.rest <= 0 {
			return c
		}
	}
	return nil
}

func (s *covers) any() bool {
	return slices.ContainsFunc(s.list, func(c *cover) bool { return c.rest <= 0 })
}

// judge gives up for a while where too little is hidden.
func (c *cover) judge() {
	hidden := 0
	for _, s := range c.seen {
		if !s {
			hidden++
		}
	}
	if hidden*coverGain < len(c.seen) {
		c.rest = coverRest
		c.all()
	}
}

// measure finds the least depth of every tile.
func (s *covers) measure(canvases []*canvas, w, h, threads int) {
	s.columns, s.rows = w/tile, h/tile // whole tiles; what lies in the others counts as seen
	s.tiles = slices.Grow(s.tiles[:0], s.columns*s.rows)[:s.columns*s.rows]
	parallel.Chunks(context.Background(), s.rows, 4, threads, nil, func(_, _, lo, hi int) {
		for row := lo; row < hi; row++ {
			s.measureRow(canvases, strideOf(w), row)
		}
	})
}

func (s *covers) measureRow(canvases []*canvas, stride, row int) {
	for column := range s.columns {
		least := ^uint64(0)
		if !marked(canvases, column*tile, row*tile) {
			least = 0
		}
		for y := row * tile; y < (row+1)*tile && least > 0; y++ {
			at := y*stride + column*tile
			words := (*[tile]uint64)(canvases[0].words[at : at+tile])
			most := *words
			for _, c := range canvases[1:] {
				for i, v := range (*[tile]uint64)(c.words[at : at+tile]) {
					most[i] = max(most[i], v)
				}
			}
			for _, v := range most {
				least = min(least, v)
			}
		}
		s.tiles[row*s.columns+column] = uint32(least >> depthShift)
	}
}

// hide reports whether all within bounds lies behind what is drawn.
func (s *covers) hide(b *bounds) bool {
	nearest := b.z + b.rz + depthSlack
	left, right := int((b.x-b.rx-sub)/sub), int((b.x+b.rx+sub)/sub)
	top, bottom := int((b.y-b.ry-sub)/sub), int((b.y+b.ry+sub)/sub)
	left, top = max(left, 0)/tile, max(top, 0)/tile
	right, bottom = right/tile, bottom/tile
	if right >= s.columns || bottom >= s.rows || (right-left+1)*(bottom-top+1) > mostTiles {
		return false
	}
	for row := top; row <= bottom; row++ {
		for _, depth := range s.tiles[row*s.columns+left : row*s.columns+right+1] {
			if float64(depth) <= nearest {
				return false
			}
		}
	}
	return true
}
