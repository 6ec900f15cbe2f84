package meshio

import (
	"encoding/binary"
	"math"
	"math/bits"

	"shutline/mesh/pages"
)

// corner is a point of three float32 as bits, with -0 made +0.
type corner = [3]uint32

// noCorner equals no finite corner.
var noCorner = corner{math.MaxUint32, math.MaxUint32, math.MaxUint32}

// cornerWelder numbers different corners from 1 in order of first appearance.
//
// The table is open-addressed with linear steps. A slot of four bytes is 0, or
// holds a corner's number and, above it, as many bits of its hash as there is room for: what stands
// in the way of a look-up then hardly ever has to be looked at itself, which
// would be a visit to far memory. It must be released.
type cornerWelder struct {
	slots pages.Scratch[uint32]
	known pages.Scratch[corner] // by number; the first is noCorner
	count int                   // of known, with the first
	shift uint                  // the slot is the top bits of the hash
	below uint32                // the bits of a slot that hold the number
}

// newCornerWelder makes a table for about the corners of n triangles, which in a
// closed mesh are n/2 different ones (Euler). More are welcome; see reserve.
func newCornerWelder(n int) *cornerWelder {
	w := &cornerWelder{count: 1, below: 1<<bits.Len(uint(3*n)) - 1}
	w.known = pages.NewScratch[corner](n/2+n/16+64, 3*n+64)
	w.known.Data[0] = noCorner
	w.resize(bits.Len(uint(max(n, 64) - 1)))
	return w
}

func (w *cornerWelder) release() {
	w.slots.Release()
	w.known.Release()
}

// corners returns the different corners so far, in order.
func (w *cornerWelder) corners() []corner { return w.known.Data[1:w.count] }

// reserve makes sure that extra new corners find room and that the table stays under three quarters full.
func (w *cornerWelder) reserve(extra int) {
	w.reserveKnown(extra)
	need := w.count + extra
	for log := uint(64) - w.shift; need > len(w.slots.Data)/4*3; {
		log++
		if need <= 3<<log/4 {
			w.resize(int(log))
		}
	}
}

// reserveKnown makes room for extra corners that are not entered into the table.
func (w *cornerWelder) reserveKnown(extra int) {
	need := w.count + extra
	if need <= len(w.known.Data) {
		return
	}
	more := max(need, len(w.known.Data)/2*3)
	bigger := pages.NewScratch[corner](more, more)
	copy(bigger.Data, w.known.Data[:w.count])
	w.known.Release()
	w.known = bigger
}

// resize makes the table 1<<log slots and enters all corners again.
func (w *cornerWelder) resize(log int) {
	w.slots.Release()
	w.slots = pages.NewScratch[uint32](1<<log, 1<<log)
	w.shift = uint(64 - log)
	for n := 1; n < w.count; n++ {
		w.enter(w.known.Data[n], uint32(n))
	}
}

// enter puts a corner that is not in the table there.
func (w *cornerWelder) enter(k corner, id uint32) {
	slots, mask := w.slots.Data, uint32(len(w.slots.Data)-1)
	hash := hashCorner(uint64(k[0])|uint64(k[1])<<32, k[2])
	h := uint32(hash >> w.shift)
	for slots[h] != 0 {
		h = (h + 1) & mask
	}
	slots[h] = uint32(hash)&^w.below | id
}

// hashCorner folds the product of x, y and z to 64 bits, as wyhash does (Wang Yi 2019).
func hashCorner(xy uint64, z uint32) uint64 {
	hi, lo := bits.Mul64(xy^seeds[0], uint64(z)^seeds[1])
	return hi ^ lo
}

// tally counts dropped faces.
type tally struct{ notFinite, noArea int }

// batch is the number of triangles whose table slots, and then corners, are
// loaded together, so that their cache misses overlap: 48 corners, which fit the bits of a word.
const batch = 16

// batchCorners are the corners of a batch, split so that each part is loaded with the width it was stored.
type batchCorners struct {
	xy   [64]uint64
	z    [64]uint32
	hash [64]uint64
	slot [64]uint32
	id   [64]uint32
	n    int
}

// add welds whole 50-byte records of binary STL, writes the numbers less 1 of their
// corners to faces and returns how many faces were written. Room for all new corners must be reserved.
//
// The slots of a batch are loaded before the batch before it is settled, so that
// neither waits for far memory alone.
func (w *cornerWelder) add(faces []corner, body []byte, dropped *tally) int {
	var buffers [2]batchCorners
	next, b := &buffers[0], &buffers[1]
	written := 0
	for len(body) > 0 || next.n > 0 {
		next, b = b, next
		size := min(len(body), batch*stlTriangle)
		next.load(body[:size], dropped)
		body = body[size:]
		w.look(next)
		w.settle(b)
		out := faces[written : written+b.n/3]
		for i := range out {
			out[i] = corner{b.id[3*i] - 1, b.id[3*i+1] - 1, b.id[3*i+2] - 1}
		}
		written += len(out)
	}
	return written
}

// Two float32 in a word are tested at once: the bits without the signs, the
// least exponent step (it carries into the sign bit where the exponent is all ones), the signs.
const (
	magnitudes = 0x7FFFFFFF7FFFFFFF
	steps      = 0x0080000000800000
	signs      = 0x8000000080000000
)

// special has a sign bit set when one of the two float32 is not finite or is -0.
func special(w uint64) uint64 {
	x := w & magnitudes
	return x + steps | (signs-x)&w
}

// load takes up to batch triangles apart and keeps the corners of those that are faces.
func (b *batchCorners) load(body []byte, dropped *tally) {
	n := 0
	for ; len(body) >= stlTriangle; body = body[stlTriangle:] {
		p := (*[36]byte)(body[12:])
		c0, c1, c2, c3 := binary.LittleEndian.Uint64(p[0:]), binary.LittleEndian.Uint64(p[8:]),
			binary.LittleEndian.Uint64(p[16:]), binary.LittleEndian.Uint64(p[24:])
		c4 := uint64(binary.LittleEndian.Uint32(p[32:]))
		if (special(c0)|special(c1)|special(c2)|special(c3)|special(c4))&signs != 0 {
			words := [...]*uint64{&c0, &c1, &c2, &c3, &c4}
			finite := true
			for _, w := range words {
				finite = plain(w) && finite
			}
			if !finite {
				dropped.notFinite++
				continue
			}
		}
		// The area is nothing only if all three components are; mostly the first tells.
		x, y := wide(c0), wide(c0>>32)
		ux, uy := wide(c1>>32)-x, wide(c2)-y
		vx, vy := wide(c3)-x, wide(c3>>32)-y
		if float64(ux*vy)-float64(uy*vx) == 0 {
			z := wide(c1)
			uz, vz := wide(c2>>32)-z, wide(c4)-z
			if float64(uy*vz)-float64(uz*vy) == 0 && float64(uz*vx)-float64(ux*vz) == 0 {
				dropped.noArea++
				continue
			}
		}
		xy := c1>>32 | c2<<32
		i := n & 63
		j, k := (n+1)&63, (n+2)&63
		b.xy[i], b.xy[j], b.xy[k] = c0, xy, c3
		b.z[i], b.z[j], b.z[k] = uint32(c1), uint32(c2>>32), uint32(c4)
		b.hash[i] = hashCorner(c0, uint32(c1))
		b.hash[j] = hashCorner(xy, uint32(c2>>32))
		b.hash[k] = hashCorner(c3, uint32(c4))
		n += 3
	}
	b.n = n
}

// plain makes -0 to +0 in both halves and reports whether both are finite.
func plain(w *uint64) bool {
	const exponent, minusZero = 0x7F800000, 0x80000000
	if uint32(*w) == minusZero {
		*w &^= minusZero
	}
	if *w>>32 == minusZero {
		*w &^= minusZero << 32
	}
	return *w&exponent != exponent && *w>>32&exponent != exponent
}

func wide(u uint64) float64 { return float64(math.Float32frombits(uint32(u))) }

// look loads the first slots of a batch.
func (w *cornerWelder) look(b *batchCorners) {
	slots, shift := w.slots.Data, w.shift&63
	for i := range b.n {
		b.slot[i&63] = uint32(b.hash[i&63] >> shift)
		b.id[i&63] = slots[b.slot[i&63]]
	}
}

// settle finds or gives the numbers of a batch's corners. Corners entered since its slots
// were loaded do no harm: what met an empty slot looks there once more.
//
// Few branches depend on a single look-up: what does not match at its first slot
// is gathered as bits and looked up again in rounds, then all corners that may match are
// compared, and those that met an empty slot are entered at the end, in order.
func (w *cornerWelder) settle(b *batchCorners) {
	slots, known, n := w.slots.Data, w.known.Data, b.n
	mask, below := uint32(len(slots)-1), w.below
	var miss, empty uint64
	for i := range n {
		found := b.id[i&63]
		other := uint64((found ^ uint32(b.hash[i&63])) &^ below)
		miss |= -other >> 63 << (uint(i) & 63)
		empty |= (uint64(found) - 1) >> 63 << (uint(i) & 63)
		b.id[i&63] = found & below
	}
	for miss &^= empty; miss != 0; {
		var again uint64
		for ; miss != 0; miss &= miss - 1 {
			i := bits.TrailingZeros64(miss) & 63
			h := (b.slot[i] + 1) & mask
			found := slots[h]
			other := uint64((found ^ uint32(b.hash[i])) &^ below)
			again |= -other >> 63 << uint(i)
			empty |= (uint64(found) - 1) >> 63 << uint(i)
			b.slot[i], b.id[i] = h, found&below
		}
		miss = again &^ empty
	}
	open := empty
	for i := range n {
		k := &known[b.id[i&63]]
		d := (uint64(k[0]) | uint64(k[1])<<32) ^ b.xy[i&63] | uint64(k[2]^b.z[i&63])
		open |= (d | -d) >> 63 << (uint(i) & 63)
	}
	for ; open != 0; open &= open - 1 {
		// Slots may have been filled by earlier corners; bits of the hash may have been equal by chance.
		i := bits.TrailingZeros64(open) & 63
		k := corner{uint32(b.xy[i]), uint32(b.xy[i] >> 32), b.z[i]}
		h := b.slot[i]
		id := slots[h] & below
		for id != 0 && known[id] != k {
			h = (h + 1) & mask
			id = slots[h] & below
		}
		if id == 0 {
			id = uint32(w.count)
			slots[h] = uint32(b.hash[i])&^below | id
			known[id] = k
			w.count++
		}
		b.id[i] = id
	}
}

// find writes the numbers of corners, 0 for those that are not known. Several may look at the same time.
func (w *cornerWelder) find(corners []corner, numbers []uint32) {
	slots, known := w.slots.Data, w.known.Data
	mask, below, shift := uint32(len(slots)-1), w.below, w.shift&63
	var hashes [64]uint64
	for len(corners) > 0 {
		n := min(len(corners), len(hashes))
		for i, k := range corners[:n] {
			hashes[i&63] = hashCorner(uint64(k[0])|uint64(k[1])<<32, k[2])
		}
		for i := range n {
			numbers[i] = slots[hashes[i&63]>>shift]
		}
		for i, k := range corners[:n] {
			h, found := uint32(hashes[i&63]>>shift), numbers[i]
			for found != 0 && ((found^uint32(hashes[i&63]))&^below != 0 || known[found&below] != k) {
				h = (h + 1) & mask
				found = slots[h]
			}
			numbers[i] = found & below
		}
		corners, numbers = corners[n:], numbers[n:]
	}
}

// append gives a corner that is not known the next number. It is not entered into the table.
func (w *cornerWelder) append(k corner) uint32 {
	id := uint32(w.count)
	w.known.Data[id] = k
	w.count++
	return id
}
