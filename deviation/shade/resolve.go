package shade

import (
	"context"
	"encoding/binary"
	"image"
	"image/color"

	"shutline/mesh/parallel"
)

// resolver merges the workers' buffers, turns words into colours and empties the buffers.
type resolver struct {
	w, h, samples int
	theme         Theme
	canvases      []*canvas
	colors        [][]uint32 // per model
	out           *image.RGBA
	depth         []uint32 // of every pixel: of the samples drawn the farthest
	bare, ground  uint32
	hatch         [2]uint32 // beside and on its lines
}

// opaque is the alpha of a pixel.
const opaque = 0xff000000

func (r *resolver) run(threads int) {
	r.bare, r.ground = pack(r.theme.Neutral), pack(r.theme.Background)|opaque
	n, h := r.theme.Neutral, r.theme.Hatch
	mid := func(a, b uint8) uint8 { return uint8((int(a) + int(b)) / 2) }
	r.hatch = [2]uint32{pack(color.RGBA{R: mid(n.R, h.R), G: mid(n.G, h.G), B: mid(n.B, h.B)}), pack(h)}
	m := &r.canvases[0].marks
	parallel.Chunks(context.Background(), r.h, markHigh, threads, nil, func(_, band, lo, hi int) {
		var touched [mostWorkers]*canvas
		for column := range m.columns {
			n := 0
			for _, c := range r.canvases {
				if set := &c.marks.set[band*m.columns+column]; *set {
					*set = false
					touched[n] = c
					n++
				}
			}
			left, right := column*markWide, min((column+1)*markWide, r.w)
			for y := lo; y < hi; y++ {
				pixels := r.out.Pix[y*r.out.Stride+4*left : y*r.out.Stride+4*right]
				switch {
				case n == 0:
					clear(r.depth[y*r.w+left : y*r.w+right])
					for i := 0; i < len(pixels); i += 4 {
						binary.LittleEndian.PutUint32(pixels[i:], r.ground)
					}
				case r.samples == 1:
					r.row(touched[:n], y, left, pixels)
				default:
					r.meanRow(touched[:n], y, left, pixels)
				}
			}
		}
	})
}

// merged returns n of the largest words from at on, left in the first buffer, and empties the others.
func merged(touched []*canvas, at, n int) []uint64 {
	row := touched[0].words[at : at+n]
	for _, c := range touched[1:] {
		other := c.words[at : at+n]
		for i, v := range other[:len(row)] {
			row[i] = max(row[i], v)
		}
		clear(other)
	}
	return row
}

// row writes pixels of row y, from left on, with one sample each.
func (r *resolver) row(touched []*canvas, y, left int, pixels []byte) {
	words := merged(touched, y*r.w+left, len(pixels)/4)
	depth := r.depth[y*r.w+left:][:len(words)]
	for i, word := range words {
		depth[i] = uint32(word >> depthShift)
		c := r.ground
		if word != 0 {
			red, green, blue := r.shade(word, left+i, y)
			c = red | green<<8 | blue<<16 | opaque
		}
		binary.LittleEndian.PutUint32(pixels[4*i:4*i+4], c)
	}
	clear(words)
}

// meanRow is row with several samples a pixel.
func (r *resolver) meanRow(touched []*canvas, y, left int, pixels []byte) {
	n := r.samples
	wide := len(pixels) / 4
	var sums [markWide][4]uint32 // of the colours and how many there are
	depth := r.depth[y*r.w+left:][:wide]
	clear(depth)
	for sample := range n {
		words := merged(touched, (y*n+sample)*r.w*n+left*n, wide*n)
		for i, word := range words {
			if word != 0 {
				x := i / n
				s := &sums[x&(markWide-1)]
				red, green, blue := r.shade(word, left+x, y)
				// The farthest has the least, none the largest, less one.
				depth[x] = min(depth[x]-1, uint32(word>>depthShift)-1) + 1
				s[0], s[1], s[2], s[3] = s[0]+red, s[1]+green, s[2]+blue, s[3]+1
			}
		}
		clear(words)
	}
	count, ground := uint32(n*n), r.theme.Background
	for x := range wide {
		s, c := &sums[x&(markWide-1)], r.ground
		if s[3] > 0 {
			bare := count - s[3]
			mean := func(sum uint32, ground uint8) uint32 { return (sum + bare*uint32(ground) + count/2) / count }
			c = mean(s[0], ground.R) | mean(s[1], ground.G)<<8 | mean(s[2], ground.B)<<16 | opaque
		}
		binary.LittleEndian.PutUint32(pixels[4*x:4*x+4], c)
	}
}

// hatchPeriod and hatchWidth, in pixels, are the diagonal lines of what has no number.
const (
	hatchPeriod = 7
	hatchWidth  = 2
)

// shade returns the colour of a word at pixel x, y.
func (r *resolver) shade(word uint64, x, y int) (red, green, blue uint32) {
	code := uint16(word >> codeShift)
	color := r.bare
	if code >= firstCode {
		color = r.colors[word>>lightBits&modelMask][code]
	} else if code == unknownCode {
		color = r.unknown(x, y)
	}
	// Light over lightUnit, rounded up so little that a product of it is cut to what the quotient would be.
	const fraction = 22
	light := (uint32(word&lightMask)<<fraction + lightUnit - 1) / lightUnit
	red, green, blue = color&0xff*light>>fraction, color>>8&0xff*light>>fraction, color>>16*light>>fraction
	return min(red, 255), min(green, 255), min(blue, 255)
}

// unknown returns the hatch: lines of the theme's colour on a grey between it and the bare part.
func (r *resolver) unknown(x, y int) uint32 {
	if (x+y)%hatchPeriod < hatchWidth {
		return r.hatch[1]
	}
	return r.hatch[0]
}
