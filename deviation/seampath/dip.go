package seampath

import (
	"math"
	"slices"
)

// dip is a gap seen in a profile across the path: where its middle lies, how
// high the skins beside it stand there and how deep it is, mm.
type dip struct{ at, level, depth float64 }

// What is taken for a gap. Hems round over with 0.5 to 3 mm; at 1 mm below the
// skins one is past the shoulders of both. A membrane across a gap or a styling
// line is shallower, a hole in a scan mostly wider.
const (
	dipDepth    = 1.0
	dipDeepest  = 5.0  // deeper is not more of a gap
	dipNarrow   = 0.7  // mm
	dipWide     = 14.0 // mm
	besideFrom  = 6.0
	besideTo    = 14.0 // mm from a gap's middle, where the skins beside it are looked at
	leastBeside = 3    // heights on each side
)

// dips looks for gaps in profiles across the path, in rows of places along it,
// and returns those that all rows with a view of the place agree about.
func dips(width, grid float64, rows []float64, height func(across, along float64) (float64, bool)) []dip {
	var all [][]dip
	for _, f := range rows {
		n := int(2*(width+besideTo)/grid) + 1
		profile := make([]float64, n)
		for k := range profile {
			h, ok := height(-width-besideTo+float64(grid*float64(k)), f)
			if profile[k] = h; !ok {
				profile[k] = math.NaN()
			}
		}
		all = append(all, dipsOf(profile, -width-besideTo, grid, width))
	}
	if len(all) == 1 {
		return all[0]
	}
	var agreed []dip
	for _, d := range all[len(all)/2] {
		group := []dip{d}
		for i, row := range all {
			if i == len(all)/2 {
				continue
			}
			for _, e := range row {
				if math.Abs(e.at-d.at) < 2 {
					group = append(group, e)
					break
				}
			}
		}
		if len(group)*2 > len(all) {
			slices.SortFunc(group, func(a, b dip) int {
				if a.at < b.at {
					return -1
				}
				return 1
			})
			m := group[len(group)/2]
			if len(group)%2 == 0 {
				n := group[len(group)/2-1]
				m = dip{(m.at + n.at) / 2, (m.level + n.level) / 2, (m.depth + n.depth) / 2}
			}
			agreed = append(agreed, m)
		}
	}
	return agreed
}

// dipsOf finds the gaps of one profile whose heights stand at from + k*grid; NaN: nothing there.
func dipsOf(profile []float64, from, grid, width float64) []dip {
	inner, outer := int(besideFrom/grid+0.5), int(besideTo/grid+0.5)
	levels := make([]float64, len(profile))
	depths := make([]float64, len(profile))
	for k := range profile {
		if k < outer || k+outer >= len(profile) {
			continue
		}
		left, okL := levelOf(profile[k-outer : k-inner+1])
		right, okR := levelOf(profile[k+inner : k+outer+1])
		if !okL || !okR {
			continue
		}
		levels[k] = float64((left + right) / 2)
		if h := profile[k]; h == h {
			depths[k] = min(dipDeepest, levels[k]-h)
		} else {
			depths[k] = dipDeepest
		}
	}
	var list []dip
	for k := 0; k < len(profile); k++ {
		if depths[k] <= dipDepth {
			continue
		}
		first, deepest := k, 0.0
		for k < len(profile) && depths[k] > dipDepth {
			deepest = max(deepest, depths[k])
			k++
		}
		last := k - 1
		wide := grid * float64(last-first+1)
		at := from + float64(grid*float64(first+last)/2)
		if wide < dipNarrow || wide > dipWide || math.Abs(at) > width {
			continue
		}
		list = append(list, dip{at, levels[(first+last)/2], deepest})
	}
	return list
}

// levelOf returns the height of the skin in a stretch of a profile.
func levelOf(heights []float64) (float64, bool) {
	known := make([]float64, 0, len(heights))
	for _, h := range heights {
		if h == h {
			known = append(known, h)
		}
	}
	if len(known) < leastBeside || 2*len(known) < len(heights) {
		return 0, false
	}
	return median(known), true
}
