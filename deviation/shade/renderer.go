package shade

import (
	"image"

	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

// Renderer draws frame after frame without taking memory anew. Its pictures go
// round: an image is written again at the third Render after it, so one may be
// shown and one be waiting. It may be used by one goroutine at a time; the zero
// value works.
type Renderer struct {
	canvases []*canvas
	images   [3]*image.RGBA
	depths   [3][]uint32
	next     int
	covers   covers
}

// mostWorkers bounds the private buffers: beyond it, merging them would cost
// more than further workers gain.
const mostWorkers = 8

// clustersPerChunk is what a worker takes at a time: 1024 triangles, some 20 to 40 µs, so that none waits long for the last.
const clustersPerChunk = 8

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
	p := &Picture{Camera: c, models: append([]*Model(nil), models...)}
	p.Image, p.depth = r.image(w, h)
	if w == 0 || h == 0 {
		return p
	}
	if !(c.Height > 0) {
		models = nil
	}
	threads = min(parallel.Threads(threads), mostWorkers)
	r.prepare(w, h, samples, threads)
	far, near := depthSpan(models, c)
	p.far, p.perMM = far, perMM(far, near)
	resolver := resolver{w: w, h: h, samples: samples, theme: theme, canvases: r.canvases[:threads], out: p.Image, depth: p.depth}
	frames := make([]*frame, len(models))
	for i, m := range models {
		f := newFrame(c, w*samples, h*samples, m, i, far, near)
		f.dot = samples
		frames[i] = f
		resolver.colors = append(resolver.colors, nil)
		if f.paint != nil {
			resolver.colors[i] = f.paint.colors
		}
	}
	r.draw(models, frames, w*samples, h*samples, threads)
	resolver.run(threads)
	return p
}

// draw draws what was seen before first and, of the rest, what that does not hide.
func (r *Renderer) draw(models []*Model, frames []*frame, w, h, threads int) {
	r.covers.begin(models)
	canvases := r.canvases[:threads]
	for i, m := range models {
		f, cover := frames[i], r.covers.of(m)
		each(len(m.clusters), clustersPerChunk, threads, func(worker, lo, hi int) {
			for k := lo; k < hi; k++ {
				if cover != nil && !cover.seen[k] {
					continue
				}
				if b := f.bounds(&m.clusters[k]); !f.outside(&b) {
					f.draw(m, &m.clusters[k], &b, canvases[worker])
				}
			}
		})
		for k := range m.wide {
			f.drawWide(m, k, canvases[0])
		}
	}
	if !r.covers.any() {
		return
	}
	r.covers.measure(canvases, w, h, threads)
	for i, m := range models {
		f, cover := frames[i], r.covers.of(m)
		if cover == nil {
			continue
		}
		each(len(m.clusters), clustersPerChunk, threads, func(worker, lo, hi int) {
			for k := lo; k < hi; k++ {
				b := f.bounds(&m.clusters[k])
				drawn := cover.seen[k]
				cover.seen[k] = !f.outside(&b) && !r.covers.hide(&b)
				if cover.seen[k] && !drawn {
					f.draw(m, &m.clusters[k], &b, canvases[worker])
				}
			}
		})
		cover.judge()
	}
}

// prepare makes sure that every worker has an empty buffer for a picture.
func (r *Renderer) prepare(w, h, samples, threads int) {
	n := strideOf(w*samples) * h * samples
	for len(r.canvases) < threads {
		r.canvases = append(r.canvases, &canvas{})
	}
	for _, c := range r.canvases {
		if cap(c.words) < n {
			c.words = make([]uint64, n)
			pages.Huge(c.words)
		}
		// Buffers are left empty over their whole capacity by the resolver.
		c.words = c.words[:n]
		c.marks.prepare(w, h, samples)
	}
}

// image returns the image whose turn it is, of exactly w by h pixels, and room for their depths.
func (r *Renderer) image(w, h int) (*image.RGBA, []uint32) {
	i := r.next
	r.next = (r.next + 1) % len(r.images)
	if r.images[i] == nil || r.images[i].Rect != image.Rect(0, 0, w, h) {
		r.images[i] = image.NewRGBA(image.Rect(0, 0, w, h))
		r.depths[i] = make([]uint32, w*h)
	}
	return r.images[i], r.depths[i]
}
