package drift

import (
	"cmp"
	"math"
	"slices"

	"shutline/mesh/geom"
)

const (
	// tukeyTuning keeps 95 % of least squares' efficiency on normal errors (Beaton & Tukey 1974).
	tukeyTuning = 4.685
	// judgeCut, mm, is the least residual by which one fit is told from another: where a part
	// really deviates here and there, by less one could always find a shape that most of it seems to follow.
	judgeCut = 0.12
	// leastCut, mm, is the smallest residual for which a place is set aside. It is come down to by
	// looking again and again: edges, which tell most of what moves along a skin, leave their places at first.
	leastCut = 0.03
	// heldShare of the area must follow the shape, so that up to 35 % may be another panel; its
	// quantile of |x| for a standard normal x makes a standard deviation of it.
	heldShare    = 0.65
	heldQuantile = 0.9345892910734803
	irlsSteps    = 25
)

// leaveOut are the shares of the area that a suspected panel may have.
var leaveOut = [...]float64{0.12, 0.25, 0.4}

// mostSuspects is how many places a suspected panel is put at.
const mostSuspects = 14

// leastSquares returns the unknowns of the cells by weight; sd is how large each may be, mm.
func leastSquares(cells []cell, weight []float64, sd *row) (row, bool) {
	var a square
	var b row
	total := 0.0
	for i := range cells {
		total += weight[i]
	}
	if !(total > 0) {
		return row{}, false
	}
	for i := range cells {
		if w := weight[i] / total; w > 0 {
			addOuter(&a, w, &cells[i].j)
			wd := float64(w * cells[i].d)
			for m := range columns {
				b[m] += float64(wd * cells[i].j[m])
			}
		}
	}
	for m := range columns {
		a[m][m] += float64(settledVariance / float64(sd[m]*sd[m]))
	}
	l, ok := factor(&a)
	if !ok {
		return row{}, false
	}
	return solve(&l, b), true
}

// robustScale returns the standard deviation of the residuals by their 65 % quantile of the area.
func robustScale(cells []cell, r []float64) float64 {
	order := make([]int, len(cells))
	total := 0.0
	for i := range cells {
		order[i] = i
		total += cells[i].area
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := math.Abs(r[a]), math.Abs(r[b]); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	at := 0.0
	for _, i := range order {
		if at += cells[i].area; at >= float64(heldShare*total) {
			return math.Abs(r[i]) / heldQuantile
		}
	}
	return 0
}

func residualsOf(cells []cell, x *row) []float64 {
	r := make([]float64, len(cells))
	for i := range cells {
		r[i] = cells[i].d - dot(&cells[i].j, x)
	}
	return r
}

// limits returns by how much each cell may lie off where those of the usual noise may by cut: a cell of few samples, as at an edge,
// scatters by more.
func limits(cells []cell, cut float64) []float64 {
	usual := usualNoise(cells)
	out := make([]float64, len(cells))
	for i := range cells {
		out[i] = math.Sqrt(float64(cut*cut) + float64(tukeyTuning*tukeyTuning*max(cells[i].noise-usual, 0)))
	}
	return out
}

// usualNoise is the noise of the cells that the middle of the area has, mm².
func usualNoise(cells []cell) float64 {
	order := make([]int, len(cells))
	total := 0.0
	for i := range cells {
		order[i] = i
		total += cells[i].area
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(cells[a].noise, cells[b].noise) })
	at := 0.0
	for _, i := range order {
		if at += cells[i].area; at >= total/2 {
			return cells[i].noise
		}
	}
	return 0
}

func tukey(r, cut float64) float64 {
	u := r / cut
	v := 1 - float64(u*u)
	if v <= 0 {
		return 0
	}
	return float64(v * v)
}

// loss is the area's share that does not follow, residuals within the cut in part (Tukey's biweight).
func loss(cells []cell, r []float64, cut float64) float64 {
	sum, total := 0.0, 0.0
	for i := range cells {
		u := r[i] / cut
		v := max(1-float64(u*u), 0)
		sum += float64(cells[i].area * (1 - float64(v*v*v)))
		total += cells[i].area
	}
	return sum / total
}

// descend reweights from the residuals of a start until they settle and returns the last cut,
// at least floor.
func descend(cells []cell, x row, sd *row, floor float64) (row, float64) {
	w := make([]float64, len(cells))
	cut := math.Inf(1)
	for range irlsSteps {
		r := residualsOf(cells, &x)
		c := max(tukeyTuning*robustScale(cells, r), floor)
		cut = min(cut, c)
		for i := range cells {
			w[i] = float64(cells[i].area * tukey(r[i], cut))
		}
		next, ok := leastSquares(cells, w, sd)
		if !ok {
			break
		}
		change := 0.0
		for m := range columns {
			change = max(change, math.Abs(next[m]-x[m]))
		}
		x = next
		if change < 1e-6 && cut == c {
			break
		}
	}
	return x, cut
}

// robust fits the cells so that a wrong panel does not pull: reweighting finds only the
// nearest minimum, and a panel at one end pulls hardest there, so it starts from the fits to
// what is left without each of a number of places, too (the idea of Rousseeuw's
// least trimmed squares, 1984, with places in place of single points, since panels are places). All are judged
// at the cut of the quietest.
func robust(cells []cell, sd *row) (row, float64) {
	w := make([]float64, len(cells))
	for i := range cells {
		w[i] = cells[i].area
	}
	first, ok := leastSquares(cells, w, sd)
	if !ok {
		return row{}, leastCut
	}
	starts := []row{first}
	for _, inside := range suspects(cells) {
		for i := range cells {
			w[i] = cells[i].area
			if inside[i] {
				w[i] = 0
			}
		}
		if x, ok := leastSquares(cells, w, sd); ok {
			starts = append(starts, x)
		}
	}
	least := math.Inf(1)
	for k := range starts {
		var cut float64
		starts[k], cut = descend(cells, starts[k], sd, judgeCut)
		least = min(least, cut)
	}
	best, bestLoss := starts[0], math.Inf(1)
	for _, x := range starts {
		if l := loss(cells, residualsOf(cells, &x), least); l < bestLoss {
			best, bestLoss = x, l
		}
	}
	return descend(cells, best, sd, judgeCut)
}

const (
	// strongGain tells shapes that move a surface plainly along its normals from those it hardly shows, which on a
	// nearly flat panel are all that act within it.
	strongGain = 0.06
	// frozen, mm, is how large a shape may be that is left out.
	frozen = 1e-4
	// What lies beyond the cut counts as scattered, or as an edge, where less than mostlyOff of the cells beside it do; leastScattered
	// of all cells must so come back to their places, and half of what was off, for weak shapes to count.
	mostlyOff, leastScattered = 0.6, 0.015
)

// robustly fits the cells with the shapes that they plainly show, and with all. The weak ones count only when they bring back
// to their places what otherwise lies off here and there all over the part: edges tell what acts within a panel. A
// weak shape of many millimetres can be made to follow any wave of a panel's own, or part of a wrong panel, but
// those lie off in one place. It returns how large each unknown may be in what follows, too, and the share of the cells that
// lie off here and there all the same, where weak shapes are about.
func robustly(cells []cell, f *Frame, h float64) (x row, cut float64, sd row, off float64) {
	all := f.likely()
	gain, _ := holds(cells, f, &all)
	sd = all
	weak := false
	for k := range Kinds {
		if gain[k] < strongGain {
			sd[k], weak = frozen, true
		}
	}
	x, cut = robust(cells, &sd)
	if !weak {
		return x, cut, sd, 0
	}
	y, c := robust(cells, &all)
	few, many := scattered(cells, &x, h), scattered(cells, &y, h)
	if few-many < max(leastScattered, few/2) {
		return x, cut, sd, few
	}
	return y, c, all, many
}

// scattered returns the share of the cells that lie off while most around them do not. An edge's are many and small.
func scattered(cells []cell, x *row, h float64) float64 {
	r := residualsOf(cells, x)
	cut := max(tukeyTuning*robustScale(cells, r), leastCut)
	total, sum := 0.0, 0.0
	for i := range cells {
		total++
		if math.Abs(r[i]) < cut {
			continue
		}
		beside, off := 0, 0
		for k := range cells {
			if k != i && cells[k].at.Dist(cells[i].at) < besideReach*h {
				beside++
				if math.Abs(r[k]) >= cut {
					off++
				}
			}
		}
		if float64(off) < float64(mostlyOff*float64(beside)) {
			sum++
		}
	}
	return sum / total
}

// suspects returns sets of cells that may be a wrong panel: around places spread over
// the part, those nearest to each up to some shares of the area.
func suspects(cells []cell) (out [][]bool) {
	if len(cells) == 0 {
		return nil
	}
	total := 0.0
	from := make([]float64, len(cells))
	for i := range cells {
		total += cells[i].area
		from[i] = math.Inf(1)
	}
	next := 0 // then the cell farthest from all taken before
	for i := range cells {
		if cells[i].at.X < cells[next].at.X {
			next = i
		}
	}
	for range min(mostSuspects, len(cells)) {
		middle := cells[next].at
		far := 0
		for i := range cells {
			from[i] = min(from[i], cells[i].at.Sub(middle).Norm2())
			if from[i] > from[far] {
				far = i
			}
		}
		order := byDistance(cells, middle)
		for _, share := range leaveOut {
			inside := make([]bool, len(cells))
			at := 0.0
			for _, i := range order {
				if at += cells[i].area; at > float64(share*total) {
					break
				}
				inside[i] = true
			}
			out = append(out, inside)
		}
		next = far
	}
	return out
}

func byDistance(cells []cell, p geom.Vec) []int {
	order := make([]int, len(cells))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch x, y := cells[a].at.Sub(p).Norm2(), cells[b].at.Sub(p).Norm2(); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return order
}

const (
	// grownTo is how many robust standard deviations a residual may still have for a cell beside one that is set aside to be
	// set aside, too: a wrong panel does not end where it passes the cut.
	grownTo = 1.5
	// besideReach, in cells, is how far beside is.
	besideReach = 1.6
	// mostAside of the area may be set aside so; what is beyond the cut always is.
	mostAside = 0.45
	// wrongPiece of a piece's area beyond the cut make the whole of it another panel; a piece is one from
	// leastPiece of the area on.
	wrongPiece, leastPiece = 0.35, 0.03
)

// setAside marks the cells beyond the cut, what hangs together with them, and pieces of which a good part is, as far as enough is left.
func setAside(cells []cell, x *row, cut, h float64) {
	r := residualsOf(cells, x)
	limit := limits(cells, cut)
	total, out := 0.0, 0.0
	for i := range cells {
		cells[i].out = cells[i].out || math.Abs(r[i]) >= limit[i]
		total += cells[i].area
		if cells[i].out {
			out += cells[i].area
		}
	}
	// aside sets more aside when that leaves enough.
	aside := func(list []int) bool {
		more := 0.0
		for _, i := range list {
			more += cells[i].area
		}
		if len(list) == 0 || out+more > float64(mostAside*total) {
			return false
		}
		for _, i := range list {
			cells[i].out = true
		}
		out += more
		return true
	}
	for _, list := range piecesWrong(cells, total) {
		aside(list)
	}
	const grown = grownTo / tukeyTuning
	const rings = 30
	for range rings {
		if !aside(beside(cells, h, func(i int) bool { return math.Abs(r[i]) >= float64(grown*limit[i]) })) {
			break
		}
	}
	aside(beside(cells, h, func(int) bool { return true }))
}

// beside lists the cells beside two or more of the same piece that are set aside for which holds says yes; one alone is a dent or a stray
// cell, and what is wrong with a panel ends at its gap.
func beside(cells []cell, h float64, holds func(i int) bool) (list []int) {
	for i := range cells {
		if cells[i].out || !holds(i) {
			continue
		}
		near := 0
		for k := range cells {
			if cells[k].out && cells[k].key.piece == cells[i].key.piece && cells[k].at.Dist(cells[i].at) < besideReach*h {
				near++
			}
		}
		if near >= 2 {
			list = append(list, i)
		}
	}
	return list
}

// piecesWrong lists, for every piece of which a good part is set aside, the cells of it that are not.
func piecesWrong(cells []cell, total float64) (lists [][]int) {
	type piece struct{ area, out float64 }
	at := map[uint32]*piece{}
	var order []uint32
	for i := range cells {
		c := &cells[i]
		p := at[c.key.piece]
		if p == nil {
			p = &piece{}
			at[c.key.piece] = p
			order = append(order, c.key.piece)
		}
		p.area += c.area
		if c.out {
			p.out += c.area
		}
	}
	for _, id := range order {
		p := at[id]
		if p.area < leastPiece*total || p.area > mostAside*total || p.out < wrongPiece*p.area {
			continue
		}
		var list []int
		for i := range cells {
			if cells[i].key.piece == id && !cells[i].out {
				list = append(list, i)
			}
		}
		lists = append(lists, list)
	}
	return lists
}
