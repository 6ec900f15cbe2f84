package scanpath

import (
	"math"

	"shutline/mesh/bodywork"
)

// jitter moves samples along the surface by up to that share of their distance; at
// 0.3 noisy triangles begin to fold over.
const jitter = 0.22

// grid is a list of samples and triangles being laid on the sheets.
type grid struct {
	spacing float64
	jitter  float64
	whole   bool // the wall closes on itself, the roof is one sheet
	random  func(sheet Sheet, i, j int) bodywork.Source
	window  Window

	places []Place
	seen   []bool
	faces  [][3]uint32
}

// marks divides a stretch evenly.
func (g *grid) marks(lo, hi float64) []float64 {
	n := max(1, int(math.Round((hi-lo)/g.spacing)))
	out := make([]float64, n+1)
	for i := range out {
		out[i] = lo + float64((hi-lo)*float64(i)/float64(n))
	}
	return out
}

// lay covers what the path sees; the roof's halves reach past its middle.
func (g *grid) lay(path *Path, past float64) {
	on := func(at Place) bool { return g.window.holds(at) && !inArch(at.U, at.V) }
	// Between shut lines the wall is one sheet.
	from := path.From
	first, wallStart := 0, len(g.places)
	for turn := -1.0; turn <= 2; turn++ {
		for _, gap := range ShutLines() {
			gap += float64(turn * Round)
			if gap-gapWidth > from && gap+gapWidth < path.To {
				first = g.wall(first, from, gap-gapWidth/2, on)
				from = gap + gapWidth/2
			}
		}
	}
	g.wall(first, from, path.To, on)
	if g.whole {
		g.weld(wallStart)
	}
	sheets := []Sheet{RoofLeft, RoofRight}
	if g.whole {
		sheets, past = sheets[:1], roofHalf
	}
	for _, sheet := range sheets {
		lo, hi, ok := path.roofSpan(sheet)
		if !ok || hi-lo < 2*g.spacing {
			continue
		}
		ys := g.marks(-roofHalf, past)
		if sheet == RoofRight {
			ys = g.marks(-past, roofHalf)
		}
		g.sheet(sheet, 0, g.marks(lo, hi), ys, func(at Place) bool { return g.window.holds(at) && onRoof(at, past) })
	}
}

// wall lays a stretch of the wall and returns the number of the column after it.
func (g *grid) wall(first int, from, to float64, on func(Place) bool) int {
	us := g.marks(from, to)
	g.sheet(Wall, first, us, g.marks(0, WallTop), on)
	return first + len(us)
}

// sheet lays columns and rows and triangles between those that are on the sheet.
func (g *grid) sheet(sheet Sheet, first int, us, vs []float64, on func(Place) bool) {
	if g.window.all() {
		g.rows(sheet, first, us, vs, 0, len(us), 0, len(vs), on)
		return
	}
	if sheet != Wall {
		return
	}
	// Fine grids are laid in the window alone, numbered as on the whole.
	lo, hi := len(vs), 0
	for j, v := range vs {
		if v > g.window.FromV-2*g.spacing && v < g.window.ToV+2*g.spacing {
			lo, hi = min(lo, j), max(hi, j+1)
		}
	}
	if lo >= hi {
		return
	}
	for i := 0; i < len(us); i++ {
		if !g.window.holdsU(us[i]) {
			continue
		}
		end := i
		for end < len(us) && g.window.holdsU(us[end]) {
			end++
		}
		g.rows(sheet, first, us, vs, max(0, i-1), min(len(us), end+1), lo, hi, on)
		i = end
	}
}

// rows lays columns i0 to i1 and rows j0 to j1 of a sheet.
func (g *grid) rows(sheet Sheet, first int, us, vs []float64, i0, i1, j0, j1 int, on func(Place) bool) {
	base := uint32(len(g.places))
	du, dv := us[1]-us[0], vs[1]-vs[0]
	for i := i0; i < i1; i++ {
		for j := j0; j < j1; j++ {
			u, v := us[i], vs[j]
			at := Place{sheet, u, v}
			if g.random != nil {
				random := g.random(sheet, first+i, j)
				a, b := random.Uniform(), random.Uniform()
				if i > 0 && i+1 < len(us) {
					at.U += float64(g.jitter * du * a)
				}
				if j > 0 && j+1 < len(vs) {
					// Every other column stands half a step higher, so that triangles come near to equal sides.
					at.V += float64(g.jitter*dv*b) + float64(dv*(float64(i%2)-0.5)/2)
				}
			}
			g.places = append(g.places, at)
			g.seen = append(g.seen, on(at))
		}
	}
	n := uint32(j1 - j0)
	add := func(a, b, c uint32) {
		if g.seen[a] && g.seen[b] && g.seen[c] {
			g.faces = append(g.faces, [3]uint32{a, b, c})
		}
	}
	for i := uint32(0); i+1 < uint32(i1-i0); i++ {
		for j := uint32(0); j+1 < n; j++ {
			a := base + i*n + j
			b, c, d := a+n, a+n+1, a+1
			if (int(i)+i0)%2 == 0 {
				add(a, b, d)
				add(b, c, d)
			} else {
				add(a, b, c)
				add(a, c, d)
			}
		}
	}
}

// weld makes the last column of the wall the first one.
func (g *grid) weld(first int) {
	n := len(g.marks(0, WallTop))
	from, to := uint32(len(g.places)-n), uint32(first)
	for i := range g.faces {
		for k, v := range g.faces[i] {
			if v >= from {
				g.faces[i][k] = to + v - from
			}
		}
	}
}

// compact leaves out samples without triangles and numbers the rest in order of first appearance.
func (g *grid) compact() ([]Place, [][3]uint32) {
	const none = math.MaxUint32
	renamed := make([]uint32, len(g.places))
	for i := range renamed {
		renamed[i] = none
	}
	var places []Place
	for i := range g.faces {
		for k, v := range g.faces[i] {
			if renamed[v] == none {
				renamed[v] = uint32(len(places))
				places = append(places, g.places[v])
			}
			g.faces[i][k] = renamed[v]
		}
	}
	return places, g.faces
}
