package seamfind

import (
	"slices"

	"shutline/mesh/geom"
)

// meetsWithin is how near the end of one shut line lies to another, mm, where it meets it: a gap of 12 mm ends
// at the noses of the one it meets, and a line is followed to some mm before its end.
const meetsWithin = 25.0

// parted parts courses where another shut line meets them, since one of their sides changes its panel there.
// Parts shorter than shortest, mm, are not made.
func parted(list []Seam, s Settings) []Seam {
	var out []Seam
	for i := range list {
		var cuts []int
		for j := range list {
			o := &list[j]
			if i == j || o.Sure < LikelyFrom || closed(o.Path) {
				continue
			}
			for _, end := range [2]geom.Vec{o.Path[0], o.Path[len(o.Path)-1]} {
				k, d := closest(list[i].Path, end)
				if d <= meetsWithin && lengthOf(list[i].Path[:k+1]) >= s.Shortest && lengthOf(list[i].Path[k:]) >= s.Shortest {
					cuts = append(cuts, k)
				}
			}
		}
		slices.Sort(cuts)
		from := 0
		for _, k := range append(cuts, len(list[i].Path)-1) {
			last := k == len(list[i].Path)-1
			// Where two lines meet it at one place, from either side, it is parted once.
			if !last && (lengthOf(list[i].Path[from:k+1]) < s.Shortest || lengthOf(list[i].Path[k:]) < s.Shortest) {
				continue
			}
			part := list[i]
			if from > 0 || !last {
				part.Course = list[i].between(from, k)
				part.Sure = max(part.sure(s), min(list[i].Sure, LikelyFrom))
			}
			out = append(out, part)
			from = k
		}
	}
	return out
}

// between returns the part of a course from one of its places to another.
func (c *Course) between(from, to int) Course {
	p := *c
	p.Path, p.Outward, p.Seen, p.Width = c.Path[from:to+1], c.Outward[from:to+1], c.Seen[from:to+1], c.Width[from:to+1]
	return p
}

// closest returns the place of a path that is nearest to p, and how far it is.
func closest(path []geom.Vec, p geom.Vec) (at int, far float64) {
	for k, q := range path {
		if d := q.Dist(p); k == 0 || d < far {
			at, far = k, d
		}
	}
	return at, far
}

// closed reports whether a path ends where it began.
func closed(path []geom.Vec) bool {
	return len(path) > 2 && path[0].Dist(path[len(path)-1]) < meetsWithin
}
