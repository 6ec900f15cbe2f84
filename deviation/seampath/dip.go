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
// and returns those that all rows with a view of the place agree about. profile sets heights that stand from some mm
// across on, a grid apart, of a row.
func dips(width, grid float64, rows []float64, profile func(heights []float64, from, along float64)) []dip {
	var all [][]dip
	heights := make([]float64, int(2*(width+besideTo)/grid)+1)
	for _, f := range rows {
		profile(heights, -width-besideTo, f)
		all = append(all, dipsOf(heights, -width-besideTo, grid, width))
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
	beside := levelsOf(profile, outer-inner+1)
	for k := range profile {
		if k < outer || k+outer >= len(profile) {
			continue
		}
		left, right := beside[k-outer], beside[k+inner]
		if left != left || right != right {
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

// levelsOf returns the height of the skin in every stretch of a profile of so many
// heights, by where it begins; NaN where few were seen.
func levelsOf(heights []float64, long int) []float64 {
	levels := make([]float64, max(0, len(heights)-long+1))
	known := make([]float64, 0, long) // of the stretch, in order
	for k, h := range heights {
		if k >= long {
			if old := heights[k-long]; old == old {
				i, _ := slices.BinarySearch(known, old)
				known = slices.Delete(known, i, i+1)
			}
		}
		if h == h {
			i, _ := slices.BinarySearch(known, h)
			known = slices.Insert(known, i, h)
		}
		if k < long-1 {
			continue
		}
		level := math.NaN()
		if n := len(known); n >= leastBeside && 2*n >= long {
			level = known[n/2]
			if n%2 == 0 {
				level = (known[n/2-1] + level) / 2
			}
		}
		levels[k-long+1] = level
	}
	return levels
}
