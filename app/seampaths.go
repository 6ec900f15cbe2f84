package app

import (
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// leastStraight is the share of a path's length that must run on: a right angle every 10 mm keeps seven tenths.
const leastStraight = 0.7

// tellsOfSeam refuses a path that says nothing of how a seam runs: one whose points run to and fro, along which lengths and the
// taper would mean nothing, and one with a single station because of the spacing that was chosen, which may conform where
// the rest does not; and a window that cannot hold the face zone. The error is an [InputError] that names the key.
func tellsOfSeam(i *inspection.Inspection, seam gapflush.Seam) error {
	long := lengthOf(seam.Path)
	if share := gapflush.Straightness(seam.Path); share > 0 && share < leastStraight {
		return badSeam(i, seam, "path", "its points run to and fro: of %.0f mm from point to point, only %.0f mm go along the seam, so that lengths along it and the taper would mean nothing; write fewer points, in order along the middle of the gap, or two of them and trace = true", long, long*share)
	}
	if seam.Whole == "" && long > 0 && seam.Every > long && seam.Every != gapflush.DefaultSeam("", nil).Every {
		return badSeam(i, seam, "every", "stations %.6g mm apart on a path %.6g mm long: that is one station, which does not say how the seam runs; write every = %.3g or less", seam.Every, long, everyFor(long))
	}
	if most := inspection.MostAcross - windowRoom; seam.Window < seam.Face[1] && seam.Face[1] > most {
		return badSeam(i, seam, "face", "the zone ends %.6g mm behind the edge, which is more than a window (window) can hold; write one that ends within %.6g mm, as face = [2.5, 12.5] does", seam.Face[1], most)
	}
	if seam.Window < seam.Face[1] {
		return badSeam(i, seam, "window", "it reaches %.6g mm from the path, and the face zone (face) ends %.6g mm behind the edge, so that nothing can be measured; write window = %.6g, or a face zone that ends nearer", seam.Window, seam.Face[1], math.Ceil(seam.Face[1]+windowRoom))
	}
	return nil
}

// windowRoom is how much wider than its face zone, mm, a window is proposed: half a wide gap and a hem.
const windowRoom = 12.0

// everyFor lays at least four stations along a path, as far apart as by default where it is long.
func everyFor(long float64) float64 {
	for _, every := range []float64{25, 10, 5, 2, 1, 0.5, 0.2, 0.1} {
		if 4*every <= long {
			return every
		}
	}
	return long / 4
}

// badSeam refuses a key of a seam, in the inspection's file where there is one.
func badSeam(i *inspection.Inspection, seam gapflush.Seam, key, format string, args ...any) error {
	e := &InputError{Path: i.Scan.File, Problem: fmt.Sprintf("seam %q: %s: ", seam.Name, key) + fmt.Sprintf(format, args...)}
	if i.Path == "" {
		return e
	}
	e.Path = i.Path
	for k := range i.Seams {
		if i.Seams[k].Name == seam.Name {
			if line := inspection.Line(i.Path, fmt.Sprintf("seam[%d].%s", k, key)); line > 0 {
				e.Problem = fmt.Sprintf("line %d: ", line) + e.Problem
			}
		}
	}
	return e
}
