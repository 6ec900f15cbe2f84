package shade

import (
	"context"
	"image"
	"image/color"

	"shutline/mesh/parallel"
)

// Renderer draws frame after frame without taking memory anew. Its pictures go
// round: an image is written again at the third Render after it, so one may be
// shown and one be waiting. It may be used by one goroutine at a time; the zero
// value works.
type Renderer struct {
	canvases []*canvas
	images   [3]*image.RGBA
	next     int
}

// mostWorkers bounds the private buffers: beyond it, merging them would cost
// more than further workers gain.
const mostWorkers = 8

// clustersPerChunk is what a worker takes at a time: 4096 triangles, some 50 µs.
const clustersPerChunk = 32

// rowsPerChunk is how many rows are turned into colours at a time.
const rowsPerChunk = 16

// Render draws the models into a picture of w by h pixels. At most 64 models are drawn.
func (r *Renderer) Render(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture {
	return r.render(models, c, theme, w, h, threads, 1)
}

// RenderStill is Render with every pixel the mean of four.
func (r *Renderer) RenderStill(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture {
	return r.render(models, c, theme, w, h, threads, 2)
}

func (r *Renderer) render(models []*Model, c Camera, theme Theme, w, h, threads, samples int) *Picture {
	w, h = max(w, 0), max(h, 0)
	models = models[:min(len(models), maxModels)]
	p := &Picture{Image: r.image(w, h), Camera: c, models: append([]*Model(nil), models...)}
	if w == 0 || h == 0 {
		return p
	}
	if !(c.Height > 0) {
		models = nil
	}
	threads = min(parallel.Threads(threads), mostWorkers)
	r.prepare(w*h*samples*samples, threads)
	far, near := depthSpan(models, c)
	resolver := resolver{w: w, h: h, samples: samples, theme: theme, canvases: r.canvases[:threads], out: p.Image}
	for i, m := range models {
		f := newFrame(c, w*samples, h*samples, m, i, far, near)
		f.dot = samples
		resolver.paints = append(resolver.paints, f.paint)
		parallel.Chunks(context.Background(), len(m.clusters), clustersPerChunk, threads, nil, func(worker, _, lo, hi int) {
			for k := lo; k < hi; k++ {
				f.draw(m, &m.clusters[k], r.canvases[worker])
			}
		})
	}
	resolver.run(threads)
	return p
}

// prepare makes sure that every worker has an empty buffer of n words.
func (r *Renderer) prepare(n, threads int) {
	for len(r.canvases) < threads {
		r.canvases = append(r.canvases, &canvas{})
	}
	for _, c := range r.canvases {
		if cap(c.words) < n {
			c.words = make([]uint64, n)
		}
		// Buffers are left empty over their whole capacity by the resolver.
		c.words = c.words[:n]
	}
}

// image returns the image whose turn it is, of exactly w by h pixels.
func (r *Renderer) image(w, h int) *image.RGBA {
	i := r.next
	r.next = (r.next + 1) % len(r.images)
	if r.images[i] == nil || r.images[i].Rect != image.Rect(0, 0, w, h) {
		r.images[i] = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	return r.images[i]
}

// resolver merges the workers' buffers, turns words into colours and empties the buffers.
type resolver struct {
	w, h, samples int
	theme         Theme
	canvases      []*canvas
	paints        []*paint
	out           *image.RGBA
	bare          uint32
}

func (r *resolver) run(threads int) {
	r.bare = pack(r.theme.Neutral)
	parallel.Chunks(context.Background(), r.h, rowsPerChunk, threads, nil, func(_, _, lo, hi int) {
		for y := lo; y < hi; y++ {
			if r.samples == 1 {
				r.row(y)
			} else {
				r.meanRow(y)
			}
		}
	})
}

// merged returns row y of the largest words, left in the first buffer, and empties the others.
func (r *resolver) merged(y, width int) []uint64 {
	row := r.canvases[0].words[y*width : (y+1)*width]
	for _, c := range r.canvases[1:] {
		other := c.words[y*width : (y+1)*width]
		for i, v := range other {
			row[i] = max(row[i], v)
		}
		clear(other)
	}
	return row
}

// row writes row y of a picture with one sample a pixel.
func (r *resolver) row(y int) {
	words := r.merged(y, r.w)
	pixels := r.out.Pix[y*r.out.Stride : y*r.out.Stride+4*r.w]
	ground := r.theme.Background
	for x, word := range words {
		p := pixels[4*x : 4*x+4 : 4*x+4]
		if word == 0 {
			p[0], p[1], p[2], p[3] = ground.R, ground.G, ground.B, 255
			continue
		}
		red, green, blue := r.shade(word, x, y)
		p[0], p[1], p[2], p[3] = uint8(red), uint8(green), uint8(blue), 255
	}
	clear(words)
}

// meanRow writes row y of a picture with several samples a pixel.
func (r *resolver) meanRow(y int) {
	n := r.samples
	pixels := r.out.Pix[y*r.out.Stride : y*r.out.Stride+4*r.w]
	sums := make([][3]uint32, r.w)
	for sy := range n {
		words := r.merged(y*n+sy, r.w*n)
		for x, word := range words {
			s := &sums[x/n]
			red, green, blue := uint32(r.theme.Background.R), uint32(r.theme.Background.G), uint32(r.theme.Background.B)
			if word != 0 {
				red, green, blue = r.shade(word, x/n, y)
			}
			s[0], s[1], s[2] = s[0]+red, s[1]+green, s[2]+blue
		}
		clear(words)
	}
	count := uint32(n * n)
	for x, s := range sums {
		p := pixels[4*x : 4*x+4 : 4*x+4]
		p[0], p[1], p[2], p[3] = uint8((s[0]+count/2)/count), uint8((s[1]+count/2)/count), uint8((s[2]+count/2)/count), 255
	}
}

// hatchPeriod and hatchWidth, in pixels, are the diagonal lines of what has no number.
const (
	hatchPeriod = 7
	hatchWidth  = 2
)

// shade returns the colour of a word at pixel x, y.
func (r *resolver) shade(word uint64, x, y int) (red, green, blue uint32) {
	light := uint32(word & lightMask)
	code := uint32(word >> codeShift & 0xffff)
	color := r.bare
	switch {
	case code >= firstCode:
		color = r.paints[word>>lightBits&modelMask].colors[code]
	case code == unknownCode:
		color = r.unknown(x, y)
	}
	red, green, blue = color>>16&0xff*light/lightUnit, color>>8&0xff*light/lightUnit, color&0xff*light/lightUnit
	return min(red, 255), min(green, 255), min(blue, 255)
}

// unknown returns the hatch: lines of the theme's colour on a grey between it and the bare part.
func (r *resolver) unknown(x, y int) uint32 {
	if (x+y)%hatchPeriod < hatchWidth {
		return pack(r.theme.Hatch)
	}
	n, h := r.theme.Neutral, r.theme.Hatch
	mid := func(a, b uint8) uint8 { return uint8((int(a) + int(b)) / 2) }
	return pack(color.RGBA{R: mid(n.R, h.R), G: mid(n.G, h.G), B: mid(n.B, h.B)})
}
