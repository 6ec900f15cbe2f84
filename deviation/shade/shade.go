package shade

import (
	"image"
	"image/color"

	"shutline/mesh/geom"
)

// Theme gives the colours around the part.
type Theme struct{ Background, Foreground, Neutral, Hatch color.RGBA }

// LightTheme returns the colours of paper and of a light window.
func LightTheme() Theme {
	return Theme{
		Background: color.RGBA{R: 0xf6, G: 0xf7, B: 0xf8, A: 255},
		Foreground: color.RGBA{R: 0x1c, G: 0x21, B: 0x26, A: 255},
		Neutral:    color.RGBA{R: 0xc9, G: 0xcd, B: 0xd1, A: 255},
		Hatch:      color.RGBA{R: 0x52, G: 0x58, B: 0x5e, A: 255},
	}
}

// DarkTheme returns the colours of a dark window.
func DarkTheme() Theme {
	return Theme{
		Background: color.RGBA{R: 0x1f, G: 0x24, B: 0x2a, A: 255},
		Foreground: color.RGBA{R: 0xe8, G: 0xeb, B: 0xee, A: 255},
		Neutral:    color.RGBA{R: 0xa9, G: 0xaf, B: 0xb5, A: 255},
		Hatch:      color.RGBA{R: 0x46, G: 0x4c, B: 0x52, A: 255},
	}
}

// Picture is a finished frame with what is needed to pick in it.
type Picture struct {
	Image  *image.RGBA // exactly w by h, no gaps between rows, opaque
	Camera Camera
	models []*Model
	depth  []uint32 // of every pixel: 0 where nothing is drawn, else 1 at far and perMM more for every mm nearer
	far    float64  // mm, as Camera.Project counts
	perMM  float64
}

// Render draws the models into a picture of w by h pixels, on the given number
// of threads (0: all). Whoever draws many frames keeps a Renderer instead.
func Render(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture {
	var r Renderer
	return r.Render(models, c, theme, w, h, threads)
}

// RenderStill is Render with every pixel the mean of four, for pictures that are kept.
func RenderStill(models []*Model, c Camera, theme Theme, w, h, threads int) *Picture {
	var r Renderer
	return r.RenderStill(models, c, theme, w, h, threads)
}

// Size returns the picture's width and height in pixels.
func (p *Picture) Size() (w, h int) {
	if p.Image == nil {
		return 0, 0
	}
	return p.Image.Rect.Dx(), p.Image.Rect.Dy()
}

// depthSpan returns the depths of the farthest and nearest point of all models' boxes.
func depthSpan(models []*Model, c Camera) (far, near float64) {
	first, step := true, 0.0
	back := c.Back()
	for _, m := range models {
		if m.box.Empty() {
			continue
		}
		for _, corner := range m.box.Corners() {
			d := corner.Sub(c.Target).Dot(back)
			if first {
				far, near, first = d, d, false
			}
			far, near = min(far, d), max(near, d)
		}
		step = max(step, m.grid.step)
	}
	// Positions are rounded to a grid; a little room keeps their depths in range.
	room := float64(2*step) + float64((near-far)*1e-3) + float64(geom.Vec{X: far, Y: near}.Norm()*1e-6) + 1e-6
	return far - room, near + room
}
