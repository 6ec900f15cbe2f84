package meshio

import "context"

// Decode reads bytes as if they stood in a file of that name, stated to be in millimetres.
func Decode(name string, data []byte, threads int) (*Loaded, error) {
	return ReadBytes(context.Background(), name, data, Options{Unit: Millimetre, Threads: threads})
}

// ShortNumber is the exact short way of reading a number.
var ShortNumber = shortNumber

// Number reads a number.
var Number = number

// PanicInDigest lets the goroutine that computes a SHA-256 panic, by a source without a file.
func PanicInDigest() { _, _ = startDigest(&source{ctx: context.Background(), size: 1}).wait() }

// WeldWithHashBits welds binary STL on one thread in a table whose slots hold so many bits of the hash only.
func WeldWithHashBits(data []byte, bits int) (corners [][3]uint32, faces [][3]uint32) {
	body := data[stlHeader:]
	n := len(body) / stlTriangle
	w := newCornerWelder(n)
	defer w.release()
	w.below = uint32(1<<(32-bits) - 1)
	w.reserve(3 * n)
	faces = make([][3]uint32, n)
	var dropped tally
	faces = faces[:w.add(faces, body, &dropped)]
	return append([][3]uint32(nil), w.corners()...), faces
}
