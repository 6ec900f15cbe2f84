package seamfind

import (
	"context"
	"math"
	"slices"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/parallel"
)

// Settings say how to look; the zero value works.
type Settings struct {
	Drawn    bool    // the mesh is a drawing: its borders are edges of panels, not of what a scanner saw
	Shortest float64 // mm; shorter lines are left out; 0: DefaultShortest
	OwnAxes  bool    // no axis is known to point up or rearward: names say only the axes
	Threads  int
}

// DefaultShortest is the length in mm below which a line is no shut line: two
// stations at the usual distance, and some over for the ends.
const DefaultShortest = 70.0

// Seam is a shut line that was found.
type Seam struct {
	Course
	Name string  // where it lies; every seam of a body has its own
	Sure float64 // 0 to 1: how much speaks for a shut line
}

// How sure is sure, in words.
const (
	SurelyFrom = 0.7
	LikelyFrom = 0.4
)

// SureWord returns how sure a seam is in a word: "sure", "likely" or "doubtful".
func (s *Seam) SureWord() string {
	switch {
	case s.Sure >= SurelyFrom:
		return "sure"
	case s.Sure >= LikelyFrom:
		return "likely"
	}
	return "doubtful"
}

// Find returns the shut lines of the mesh, named, front to rear, side A as
// in [Orient]. Doubtful ones are among them. The errors are those of
// [bvh.Build] and ctx's.
func (g *Ground) Find(ctx context.Context, s Settings, progress mesh.Progress) ([]Seam, error) {
	if s.Shortest == 0 {
		s.Shortest = DefaultShortest
	}
	list, err := g.sights(ctx, s.Threads, progress.Part(0, 0.7))
	if err != nil {
		return nil, err
	}
	var found []Seam
	for _, ch := range corners(joined(gather(list).chains())) {
		if lengthOf(ch.at) < s.Shortest {
			continue
		}
		c, err := g.Centre(ctx, ch.at, ch.out, s.Threads)
		if err != nil {
			return nil, err
		}
		c.trim()
		if len(c.Path) < 2 || c.Length() < s.Shortest {
			continue
		}
		f := Seam{Course: c, Sure: c.sure(s)}
		if f.Sure > 0 {
			found = append(found, f)
		}
	}
	progress.Report(0.95)
	found = parted(g.withoutDoubles(found), s)
	for k := range found {
		found[k].Course = Orient(found[k].Course)
	}
	name(found, s.OwnAxes)
	progress.Report(1)
	return found, ctx.Err()
}

// sights looks at the mesh from all sides.
func (g *Ground) sights(ctx context.Context, threads int, progress mesh.Progress) ([]sight, error) {
	normals, err := g.mesh.VertexNormalsWithin(ctx)
	if err != nil {
		return nil, err
	}
	list := facing(ctx, g.mesh, normals)
	seen := make([][]sight, len(list))
	err = parallel.Chunks(ctx, len(list), 1, threads, progress, func(_, chunk, _, _ int) {
		seen[chunk] = render(ctx, g.mesh, list[chunk], pixel).sights(ctx)
	})
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return nil, err
	}
	return slices.Concat(seen...), nil
}

const (
	cornerOver = 40.0 // mm on either side, over which a path's turn is looked at
	cornerTurn = 0.72 // the cosine of 44°: more is a corner between two shut lines
)

// corners cuts chains where they turn: round a door runs one line of four seams.
func corners(chains []chain) []chain {
	var list []chain
	for _, ch := range chains {
		span := int(cornerOver / stride)
		n := len(ch.at)
		turn := func(i int) float64 {
			at := func(k int) geom.Vec {
				if ch.closed {
					return ch.at[((k%n)+n)%n]
				}
				return ch.at[min(n-1, max(0, k))]
			}
			a, b := at(i).Sub(at(i-span)).Unit(), at(i+span).Sub(at(i)).Unit()
			if a == (geom.Vec{}) || b == (geom.Vec{}) {
				return 1
			}
			return a.Dot(b)
		}
		var cuts []int
		lo, hi := span/2, n-span/2
		if ch.closed {
			lo, hi = 0, n
		}
		for i := lo; i < hi; i++ {
			t := turn(i)
			if t > cornerTurn {
				continue
			}
			sharpest := true
			for k := i - span; k <= i+span && sharpest; k++ {
				if other := turn(k); k >= lo && k < hi && (other < t || other == t && k < i) {
					sharpest = false
				}
			}
			if sharpest {
				cuts = append(cuts, i)
			}
		}
		if len(cuts) == 0 {
			list = append(list, ch)
			continue
		}
		part := func(from, to int) {
			var p chain
			for k := from; k <= to; k++ {
				p.at, p.out, p.width = append(p.at, ch.at[k%n]), append(p.out, ch.out[k%n]), append(p.width, ch.width[k%n])
			}
			list = append(list, p)
		}
		if ch.closed {
			for k, c := range cuts {
				if k+1 < len(cuts) {
					part(c, cuts[k+1])
				} else {
					part(c, cuts[0]+n)
				}
			}
			continue
		}
		from := 0
		for _, c := range append(cuts, n-1) {
			part(from, c)
			from = c
		}
	}
	return list
}

// trim takes the ends off where no gap was seen.
func (c *Course) trim() {
	lo, hi := 0, len(c.Seen)
	for lo < hi && !c.Seen[lo] {
		lo++
	}
	for hi > lo && !c.Seen[hi-1] {
		hi--
	}
	c.Path, c.Outward, c.Seen, c.Width = c.Path[lo:hi], c.Outward[lo:hi], c.Seen[lo:hi], c.Width[lo:hi]
}

// mostly is a share of a course by which it is taken for what it is there.
const mostly = 0.6

// sure judges how much speaks for a shut line: that the gap was seen along it, that
// panels' edges fall away on both sides, that it is as wide everywhere, and that it is long; and against one
// that one surface runs through.
func (c *Course) sure(s Settings) float64 {
	seen := min(1, c.SeenShare()/0.6)
	edges := 1.0
	if !s.Drawn {
		// The border of a hole or of a torn scan is flat.
		edges = min(1, 0.2+float64(2*c.lips))
	}
	var widths []float64
	for i, ok := range c.Seen {
		if ok {
			widths = append(widths, c.Width[i])
		}
	}
	if len(widths) == 0 {
		return 0
	}
	wide := median(widths)
	for i := range widths {
		widths[i] = math.Abs(widths[i] - wide)
	}
	even := 1 - min(1, max(0, (median(widths)-0.5)/max(2, wide)))
	long := min(1, c.Length()/150)
	sure := float64(float64(seen*edges)*even) * math.Sqrt(long)
	switch {
	case c.gentle > mostly: // a pressed groove, a swage
		sure = min(sure, LikelyFrom/2)
	case c.Grooved > mostly: // as scans have of narrow gaps, and sheets of grooves
		sure = min(sure, (LikelyFrom+SurelyFrom)/2)
	}
	return sure
}

// doubleWithin is how near two courses may run, mm, and be the same gap: seen from
// the inside too, or twice from beside one another.
const doubleWithin = 12.0

// withoutDoubles keeps the surer of two seams that run beside one another, and of
// two that look opposite ways the one that looks away from the body's middle.
func (g *Ground) withoutDoubles(list []Seam) []Seam {
	middle := g.mesh.Bounds().Center()
	score := func(s *Seam) float64 {
		k := len(s.Path) / 2
		v := float64(s.Sure * s.Length())
		if s.Outward[k].Dot(s.Path[k].Sub(middle)) < 0 {
			v /= 4
		}
		return v
	}
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := score(&list[a]), score(&list[b]); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	var kept []Seam
	for _, i := range order {
		s := &list[i]
		if !slices.ContainsFunc(kept, func(o Seam) bool { return near(s.Path, o.Path) }) {
			kept = append(kept, *s)
		}
	}
	return kept
}
