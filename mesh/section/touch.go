package section

import (
	"slices"

	"shutline/mesh/geom"
)

// leaveTouches takes out the runs that go back the way they came: around a ridge in the
// plane whose faces all lie below it, the cut goes along both sides of the ridge.
func leaveTouches(lines []Line) []Line {
	for i := range lines {
		lines[i].Points = withoutReturns(lines[i].Points, lines[i].Closed)
	}
	// A ridge that ends at a border belongs to two lines, which meet there.
	starts := map[geom.Vec][]int{}
	for i := range lines {
		if l := &lines[i]; !l.Closed && len(l.Points) > 1 {
			starts[l.Points[0]] = append(starts[l.Points[0]], i)
		}
	}
	for i := range lines {
		for back := wayBack(lines, i, starts); back != nil; back = wayBack(lines, i, starts) {
			joined := append(slices.Clone(lines[i].Points), back.Points[1:]...)
			if n := len(joined); joined[0] == joined[n-1] {
				joined, lines[i].Closed = joined[:n-1], true
			}
			lines[i].Points = withoutReturns(joined, lines[i].Closed)
			back.Points = nil
		}
	}
	return slices.DeleteFunc(lines, func(l Line) bool { return len(l.Points) < 2 })
}

// wayBack returns the first line that begins where line i ends and goes back along it, or nil.
func wayBack(lines []Line, i int, starts map[geom.Vec][]int) *Line {
	n := len(lines[i].Points)
	if n < 2 {
		return nil
	}
	for _, j := range starts[lines[i].Points[n-1]] {
		if j != i && goesBack(&lines[i], &lines[j]) {
			return &lines[j]
		}
	}
	return nil
}

// goesBack reports whether b begins where a ends and goes back along it.
func goesBack(a, b *Line) bool {
	n := len(a.Points)
	return !a.Closed && !b.Closed && n > 1 && len(b.Points) > 1 && a.Points[n-1] == b.Points[0] && a.Points[n-2] == b.Points[1]
}

// withoutReturns takes out every point at which a line turns back on itself, until none is left.
func withoutReturns(line []geom.Vec, closed bool) []geom.Vec {
	kept := line[:0]
	for _, p := range line {
		n := len(kept)
		switch {
		case n > 0 && kept[n-1] == p:
		case n > 1 && kept[n-2] == p:
			kept = kept[:n-1]
		default:
			kept = append(kept, p)
		}
	}
	for closed {
		n := len(kept)
		switch {
		case n > 1 && kept[0] == kept[n-1]:
			kept = kept[:n-1]
		case n > 2 && kept[1] == kept[n-1]: // turns back at its first point
			kept = kept[1:n]
			kept = kept[:n-2]
		case n > 2 && kept[0] == kept[n-2]: // at its last
			kept = kept[:n-1]
		case n == 2:
			return nil
		default:
			return kept
		}
	}
	return kept
}
