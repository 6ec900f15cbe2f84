package gapflush

import (
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/order"
)

// Programs thin scans where they are flat: a face zone then holds few points or none, and the faces themselves say
// where the skin is. Points are laid on them, of which no more count than there are true ones. What is left of a
// bend are, of its noisy points, those that stick out.

const (
	// flatWithin is the cosine of the angle that a flat face's corners are turned by at most, bentFrom of that from which
	// on one bends.
	flatWithin = 0.9962 // of 5°
	bentFrom   = 0.9848 // of 10°
	// filledWithin is the cosine of the angle that the corners of a face are turned by at most on which points are laid:
	// across a roll of 5 mm such a face is off by 0.03 mm at most.
	filledWithin = 0.9781 // of 12°
	// thinnedBy is how many times as long as a bent face's the root of a flat face's area is where a scan was thinned, and
	// unevenBy how many times as long as the shortest tenth's the longest tenth's is then: of points laid evenly and
	// moved by a third of their spacing 1.6.
	thinnedBy, unevenBy = 1.4, 1.7
	// evenly is the share of vertices with six faces, as points in rows have, from which on a mesh was not thinned: of a
	// thinned one's some third have them.
	evenly = 0.6
	// bentLeast is how many bent faces tell.
	bentLeast = 60
	// filledFrom is the longest side, mm, of a face on which no points are laid, and the side of what it is parted into.
	filledFrom = 2.0
	// leastLarge is one over the share of faces that are large enough for points where a scan was thinned: of a flat one
	// half of what is left, of one with hems every tenth.
	leastLarge = 100
	// sticksOut is the standard uncertainty of a nose for the points that thinning leaves on a roll, in noises.
	sticksOut = 0.7
)

// fill lays points on the flat faces of a mesh that was thinned.
func (o *patch) fill() {
	const room = filledFrom / 1.7320508075688772 // from the middle of an even face to its corners
	large := 0
	for i := range o.f {
		if o.f[i].farthest > room {
			large++
		}
	}
	if large*leastLarge < len(o.f) {
		return
	}
	normals, faces := make([]geom.Vec, len(o.v)), make([]uint8, len(o.v))
	for i := range o.f {
		for _, k := range o.f[i].corner {
			normals[k] = normals[k].Add(o.f[i].n)
			faces[k] = min(faces[k], math.MaxUint8-1) + 1
		}
	}
	six := 0
	for _, n := range faces {
		if n == 6 {
			six++
		}
	}
	if float64(six) > evenly*float64(len(faces)) {
		return
	}
	for i := range normals {
		normals[i] = normals[i].Unit()
	}
	var flat, bent []float64
	level := make([]bool, len(o.f))
	onFlat := make([]bool, len(o.v))
	for i := range o.f {
		t := &o.f[i]
		least := t.long
		for _, k := range t.corner {
			least = min(least, t.n.Dot(normals[k]))
		}
		level[i] = least >= filledWithin*t.long
		switch {
		case least >= flatWithin*t.long:
			flat = append(flat, math.Sqrt(t.long))
			for _, k := range t.corner {
				onFlat[k] = true
			}
		case least < bentFrom*t.long:
			bent = append(bent, math.Sqrt(t.long))
		}
	}
	if len(bent) < bentLeast || len(flat) == 0 || order.Nth(flat, len(flat)/2) < thinnedBy*order.Nth(bent, len(bent)/2) ||
		order.Nth(flat, len(flat)*9/10) < unevenBy*order.Nth(flat, len(flat)/10) {
		return
	}
	own := 0
	for _, on := range onFlat {
		if on {
			own++
		}
	}
	for i := range o.f {
		if t := &o.f[i]; level[i] && t.farthest > room {
			o.fillFace(t)
		}
	}
	o.thinned = 1 + float64(len(o.added))/float64(own)
}

// fillFace lays points on a face, in the middles of the n² parts that n cuts along each side make of it.
func (o *patch) fillFace(t *patchFace) {
	a, b, c := o.v[t.corner[0]], o.v[t.corner[1]], o.v[t.corner[2]]
	n := math.Ceil(max(a.Dist(b), b.Dist(c), c.Dist(a)) / filledFrom)
	n = min(n, mostParts)
	ab, ac, normal := b.Sub(a), c.Sub(a), t.n.Unit()
	put := func(u, v float64) {
		o.added = append(o.added, addedPoint{a.AddScaled(u/n, ab).AddScaled(v/n, ac), normal})
	}
	for i := 0.0; i < n; i++ {
		for k := 0.0; i+k < n; k++ {
			put(i+1.0/3, k+1.0/3)
			if i+k+1 < n {
				put(i+2.0/3, k+2.0/3)
			}
		}
	}
}

// mostParts along a side of a face are enough: one that is longer spans the whole of what a station looks at.
const mostParts = 64

// addedPoint is one laid on a face.
type addedPoint struct{ v, n geom.Vec }

// noteThinned says that a scan was thinned, and returns the noise its points have by what they scatter on
// rolls, which no points were laid on; 0 where none was found.
func (j *job) noteThinned(c *cutter, first []raw, kn []known) (noise float64) {
	if c.patch.thinned == 0 {
		return 0
	}
	var sigmas []float64
	for i := range first {
		for k := A; k <= B; k++ {
			if e := &first[i].side[k].edge; e.found && e.kind == Round {
				sigmas = append(sigmas, e.sigma)
			}
		}
		kn[i].thinned = c.patch.thinned
	}
	j.note("The scan has fewer points where it is flat, as after thinning: there its faces count, with the uncertainty of the points they hang on, and what thinning leaves of a bend may stick out by its noise. Export the scan without thinning for a smaller uncertainty.")
	return median(sigmas)
}
