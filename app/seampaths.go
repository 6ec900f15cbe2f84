package app

import (
	"fmt"
	"math"

	"shutline/app/inspection"
	"shutline/deviation/gapflush"
)

// leastStraight is the share of a path's length that must run on: a right angle every 10 mm keeps seven tenths.
const leastStraight = 0.7

// saysNothing returns the key of a seam for which nothing can be measured along its path, and why: a path that says nothing of how a
// seam runs, as one whose points run to and fro, along which lengths and the taper would mean nothing, or one with a single
// station because of the spacing that was chosen, which may conform where the rest does not; and a window that cannot hold
// the face zone. why is "" for a seam that can be measured.
func saysNothing(seam gapflush.Seam) (key, why string) {
	long := lengthOf(seam.Path)
	if share := gapflush.Straightness(seam.Path); share > 0 && share < leastStraight {
		return "path", fmt.Sprintf("its points run to and fro: of %.0f mm from point to point, only %.0f mm go along the seam, so that lengths along it and the taper would mean nothing; write fewer points, in order along the middle of the gap, or two of them and trace = true", long, long*share)
	}
	if seam.Whole == "" && long > 0 && seam.Every > 2*long && seam.Every != gapflush.DefaultSeam("", nil).Every {
		return "every", fmt.Sprintf("stations %.6g mm apart on a path %.6g mm long: the first stands half of that in, so that the path has none; write every = %.3g or less", seam.Every, long, everyFor(long))
	}
	if seam.Whole == "" && long > 0 && seam.Every > long && seam.Every != gapflush.DefaultSeam("", nil).Every {
		return "every", fmt.Sprintf("stations %.6g mm apart on a path %.6g mm long: that is one station, which does not say how the seam runs; write every = %.3g or less", seam.Every, long, everyFor(long))
	}
	return zonesThatFail(seam)
}

// zonesThatFail is saysNothing for what does not hang on the path.
func zonesThatFail(seam gapflush.Seam) (key, why string) {
	if most := inspection.MostAcross - windowRoom; seam.Window < seam.Face[1] && seam.Face[1] > most {
		return "face", fmt.Sprintf("the zone ends %.6g mm behind the edge, which is more than a window (window) can hold; write one that ends within %.6g mm, as face = [2.5, 12.5] does", seam.Face[1], most)
	}
	if seam.Window < seam.Face[1] {
		return "window", fmt.Sprintf("it reaches %.6g mm from the path, and the face zone (face) ends %.6g mm behind the edge, so that nothing can be measured; write window = %.6g, or a face zone that ends nearer", seam.Window, seam.Face[1], math.Ceil(seam.Face[1]+windowRoom))
	}
	return "", ""
}

// tellsOfSeams refuses seams of which the inspection alone shows that they cannot be measured, before the long work. The error
// is an [InputError] that names the key.
func tellsOfSeams(i *inspection.Inspection) error {
	for k, seam := range i.Seams {
		key, why := zonesThatFail(seam)
		if i.LayingOf(k) == inspection.Typed {
			key, why = saysNothing(seam)
		}
		if why != "" {
			return badSeam(i, seam, key, why)
		}
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
func badSeam(i *inspection.Inspection, seam gapflush.Seam, key, why string) error {
	e := &InputError{Path: i.Scan.File, Problem: fmt.Sprintf("seam %q: %s: ", seam.Name, key) + why}
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

// unlaidSeam is the error of a seam that was to be traced or found, at its place in the file.
func unlaidSeam(i *inspection.Inspection, seam gapflush.Seam, why string) error {
	if i.Laid != nil {
		for m, made := range i.Laid.Made.Seams {
			if made.Name == seam.Name {
				l := &layer{i: i.Laid.File, file: i.Scan.File}
				return l.bad(i.Laid.Of[m], "%s", why)
			}
		}
	}
	return &InputError{Path: i.Scan.File, Problem: fmt.Sprintf("seam %q: %s", seam.Name, why)}
}
