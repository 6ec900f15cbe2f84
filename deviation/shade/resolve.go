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
	stride        int // of the buffers
	theme         Theme
	canvases      []*canvas
	colors        [][]uint32 // per model
	out           *image.RGBA
	depth         []uint32 // of every pixel: of the samples drawn the farthest
	bare, ground  uint32
	bareColors    [firstCode]uint32 // by scalar code
	hatch         [2]uint32         // beside and on its lines
	empty         []byte            // a row of the ground
}

// opaque is the alpha of a pixel.
const opaque = 0xff000000

func (r *resolver) run(threads int) {
	r.stride = strideOf(r.w * r.samples)
	r.bare, r.ground = pack(r.theme.Neutral), pack(r.theme.Background)|opaque
	r.bareColors[bareCode] = r.bare
	n, h := r.theme.Neutral, r.theme.Hatch
	mid := func(a, b uint8) uint8 { return uint8((int(a) + int(b)) / 2) }
	r.hatch = [2]uint32{pack(color.RGBA{R: mid(n.R, h.R), G: mid(n.G, h.G), B: mid(n.B, h.B)}), pack(h)}
	r.empty = make([]byte, 4*r.w)
	for i := 0; i < len(r.empty); i += 4 {
		binary.LittleEndian.PutUint32(r.empty[i:], r.ground)
	}
	m := &r.canvases[0].marks
	parallel.Chunks(context.Background(), r.h, markHigh, threads, nil, func(_, band, lo, hi int) {
		runs := r.runs(band, make([]run, 0, m.columns))
		for y := lo; y < hi; y++ {
			for i := range runs {
				s := &runs[i]
				pixels := r.out.Pix[y*r.out.Stride+4*s.left : y*r.out.Stride+4*s.right]
				switch {
				case s.n == 0:
					clear(r.depth[y*r.w+s.left : y*r.w+s.right])
					copy(pixels, r.empty)
				case r.samples == 1:
					r.row(s.touched[:s.n], y, s.left, pixels)
				default:
					for left := s.left; left < s.right; left += markWide {
						r.meanRow(s.touched[:s.n], y, left, r.out.Pix[y*r.out.Stride+4*left:y*r.out.Stride+4*min(left+markWide, s.right)])
					}
				}
			}
		}
	})
}

// run is a stretch of a band of the picture that the same buffers were drawn into.
type run struct {
	left, right int // pixels
	touched     [mostWorkers]*canvas
	n           int
}

// runs finds the runs of a band and forgets its marks. Rows are then gone through from end to end as far
// as they can be, as memory likes it.
func (r *resolver) runs(band int, to []run) []run {
	m := &r.canvases[0].marks
	for column := range m.columns {
		s := run{left: column * markWide, right: min((column+1)*markWide, r.w)}
		for _, c := range r.canvases {
			if set := &c.marks.set[band*m.columns+column]; *set {
				*set = false
				s.touched[s.n] = c
				s.n++
			}
		}
		if last := len(to) - 1; last >= 0 && to[last].touched == s.touched {
			to[last].right = s.right
		} else {
			to = append(to, s)
		}
	}
	return to
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
	if len(touched) == 1 {
		r.piece(touched, y, left, pixels)
		return
	}
	for from := 0; from < len(pixels); from += 4 * markWide {
		r.piece(touched, y, left+from/4, pixels[from:min(from+4*markWide, len(pixels))])
	}
}

// piece is row of at most markWide pixels, which stay in the nearest cache meanwhile.
func (r *resolver) piece(touched []*canvas, y, left int, pixels []byte) {
	words := merged(touched, y*r.stride+left, len(pixels)/4)
	depth := r.depth[y*r.w+left:][:len(words)]
	for from := 0; from < len(words); {
		if from += r.groups(words[from:], depth[from:], pixels[4*from:]); from == len(words) {
			return
		}
		to := min(from+group, len(words))
		r.few(words[from:to], depth[from:to], pixels[4*from:4*to], left+from, y)
		from = to
	}
}

// few is piece of a few words.
func (r *resolver) few(words []uint64, depth []uint32, pixels []byte, left, y int) {
	model, colors := ^uint64(0), []uint32(nil)
	for i, word := range words {
		depth[i] = uint32(word >> depthShift)
		c := r.ground
		if word != 0 {
			code := uint16(word >> codeShift)
			if now := word >> lightBits & modelMask; now != model {
				model, colors = now, r.colors[now]
			}
			if code >= firstCode && len(colors) == lastCode+1 {
				c = lit(colors[code], word)
			} else {
				c = r.plain(code, word, left+i, y)
			}
		}
		binary.LittleEndian.PutUint32(pixels[4*i:4*i+4], c)
	}
	clear(words)
}

// group is how many words the kernels turn into colours at a time.
const group = 8

// groups does so for words from the first on, as far as that is simple: of one model, none of them hatched. It returns for how many.
func (r *resolver) groups(words []uint64, depth []uint32, pixels []byte) int {
	n := len(words) / group
	if !vector || n == 0 {
		return 0
	}
	model := words[0] >> lightBits & modelMask
	colors, least, most := r.colors[model], uint32(firstCode), uint32(lastCode)
	if len(colors) != lastCode+1 {
		colors, least, most = r.bareColors[:], bareCode, bareCode
	}
	_, _ = depth[group*n-1], pixels[4*group*n-1]
	return group * resolveAVX2(&words[0], &depth[0], &pixels[0], &colors[0], uint32(model)<<lightBits, least, most, r.ground, n)
}

// lightFraction are the bits of a fraction of light, so many that a product is cut to what the quotient would be:
// 2^18 is more than 255 times lightUnit.
const lightFraction = 18

// lightFactors are the factors of a colour, in fractions of light, for the light of a word.
var lightFactors = func() (f [lightMask + 1]uint32) {
	for l := range f {
		f[l] = uint32((l<<lightFraction + lightUnit - 1) / lightUnit)
	}
	return f
}()

// lit returns a colour under the light of a word.
func lit(color uint32, word uint64) uint32 {
	light := lightFactors[word&lightMask]
	// Red and blue in one product, 32 bits apart; where bit 8 is set, it is too much for a channel.
	const pair, over = 0xff<<32 | 0xff, 1<<40 | 1<<8
	rb := (uint64(color) | uint64(color)<<16) & pair * uint64(light) >> lightFraction
	much := rb & over
	rb = (rb | (much - much>>8)) & pair
	green := min((color>>8&0xff)*light>>lightFraction, 255)
	return uint32(rb|rb>>16) | green<<8 | opaque
}

// plain is the colour of what has no colour of the scale.
func (r *resolver) plain(code uint16, word uint64, x, y int) uint32 {
	if code == unknownCode {
		return lit(r.unknown(x, y), word)
	}
	return lit(r.bare, word)
}

// meanRow is row with several samples a pixel.
func (r *resolver) meanRow(touched []*canvas, y, left int, pixels []byte) {
	n := r.samples
	wide := len(pixels) / 4
	var sums [markWide][4]uint32 // of the colours and how many there are
	depth := r.depth[y*r.w+left:][:wide]
	clear(depth)
	for sample := range n {
		words := merged(touched, (y*n+sample)*r.stride+left*n, wide*n)
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
	c := uint32(0)
	if code >= firstCode {
		c = lit(r.colors[word>>lightBits&modelMask][code], word)
	} else {
		c = r.plain(code, word, x, y)
	}
	return c & 0xff, c >> 8 & 0xff, c >> 16 & 0xff
}

// unknown returns the hatch: lines of the theme's colour on a grey between it and the bare part.
func (r *resolver) unknown(x, y int) uint32 {
	if (x+y)%hatchPeriod < hatchWidth {
		return r.hatch[1]
	}
	return r.hatch[0]
}
