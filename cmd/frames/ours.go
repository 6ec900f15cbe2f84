package main

import (
	"context"
	"image/color"
	"math"
	"time"

	"shutline/deviation/shade"
)

// The picture's size, as the peer's.
const width, height = 1280, 800

// threads is how many both sides use.
const threads = 2

// A round times at least ourFrames frames and as many as fit into ourTime, ms; the camera turns as the peer's does, over
// the same views again and again.
const ourFrames, ourTime = 7, 400

// bands are the peer's sixteen colours.
func bands(v float64) color.RGBA {
	t := (math.Floor(max(0, min(255, v*256))/16) + 0.5) / 16
	channel := func(c float64) uint8 { return uint8(max(0, min(1, c))*255 + 0.5) }
	green := 4 * t
	if t >= 0.5 {
		green = 4 - 4*t
	}
	return color.RGBA{R: channel(4*t - 2), G: channel(green), B: channel(2 - 4*t), A: 255}
}

// prepared is a shape ready for drawing.
type prepared struct {
	shape
	model    *shade.Model
	models   []*shade.Model
	renderer shade.Renderer
	theme    shade.Theme
	made     float64 // ms that making the model took
}

func prepare(s shape) *prepared {
	begun := time.Now()
	m := shade.NewModel(s.mesh, s.normals)
	p := &prepared{shape: s, model: m, models: []*shade.Model{m}, theme: shade.LightTheme(), made: since(begun)}
	// The peer's ground.
	p.theme.Background = color.RGBA{R: 237, G: 240, B: 245, A: 255}
	m.PaintBy(s.scalar, nil, 1, bands)
	return p
}

func since(t time.Time) float64 { return float64(time.Since(t)) / float64(time.Millisecond) }

// least returns the least time in ms of drawing a frame, over frames of a turning camera.
func (p *prepared) least(draw func(c shade.Camera)) float64 {
	best, all := math.Inf(1), time.Now()
	for i := -2; i < ourFrames || since(all) < ourTime; i++ {
		c := p.camera(i % ourFrames)
		begun := time.Now()
		draw(c)
		if t := since(begun); i >= 0 {
			best = min(best, t)
		}
	}
	return best
}

func (p *prepared) plain() float64 {
	return p.least(func(c shade.Camera) { p.renderer.Render(p.models, c, p.theme, width, height, threads) })
}

func (p *prepared) still() float64 {
	return p.least(func(c shade.Camera) { p.renderer.RenderStill(p.models, c, p.theme, width, height, threads) })
}

func (p *prepared) moving() float64 {
	return p.least(func(c shade.Camera) {
		p.renderer.RenderMoving(p.models, c, p.theme, width, height, shade.CoarsestCell, threads)
	})
}

// standIn makes the coarser model and returns how long that took, ms.
func (p *prepared) standIn(ctx context.Context) (float64, error) {
	begun := time.Now()
	err := p.model.Coarsen(ctx, p.model.StandInCell(), threads)
	return since(begun), err
}

// pick returns the mean time in ms of a pick, and the longest, over a grid of pixels.
func (p *prepared) pick() (mean, longest float64) {
	pic := p.renderer.Render(p.models, p.camera(0), p.theme, width, height, threads)
	n := 0
	for y := 40; y < height; y += 80 {
		for x := 40; x < width; x += 80 {
			begun := time.Now()
			pic.PickHit(x, y)
			t := since(begun)
			mean, longest, n = mean+t, max(longest, t), n+1
		}
	}
	return mean / float64(n), longest
}

// agreeWithin is how far a channel may be off, of 255, before a pixel counts as different: 3 %.
const agreeWithin = 0.03 * 255

// differing returns the share of the pixels that differ from the peer's picture.
func (p *prepared) differing(theirs []byte) float64 {
	ours := p.renderer.Render(p.models, p.camera(0), p.theme, width, height, threads).Image.Pix
	n := 0
	for i := range width * height {
		for k := range 3 {
			if d := float64(ours[4*i+k]) - float64(theirs[3*i+k]); math.Abs(d) > agreeWithin {
				n++
				break
			}
		}
	}
	return float64(n) / (width * height)
}
