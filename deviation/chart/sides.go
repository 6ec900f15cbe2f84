package chart

import (
	"strings"

	"shutline/deviation/gapflush"
)

const (
	sidesRow  = 15  // layout units: the row that says where the sides lie
	sidesFrom = 400 // the height of a seam chart, layout units, from which it has that row
)

// axisSign writes a direction along an axis with a minus of the width of a plus.
func axisSign(t gapflush.Toward) string { return strings.ReplaceAll(t.String(), "-", "−") }

// sidesLine says which side is which along a whole seam: "side A, wing: toward −x   side B, door: toward +x".
func sidesLine(r *gapflush.Result) string { return strings.Join(sideRows(r), "     ") }

// sideRows says the same, a text for each side.
func sideRows(r *gapflush.Result) []string {
	runs := r.Sides()
	panels, named := r.Seam.Panels()
	var parts []string
	for k, side := range [2]string{"side A", "side B"} {
		if named {
			side += ", " + panels[k]
		}
		var ways []string
		for _, run := range runs {
			way := axisSign([2]gapflush.Toward{run.A, run.B}[k])
			if len(runs) > 1 {
				way += " (stations " + count(r.Stations[run.First].Index) + " to " + count(r.Stations[run.Last].Index) + ")"
			}
			ways = append(ways, way)
		}
		if len(ways) > 0 {
			parts = append(parts, side+": toward "+strings.Join(ways, ", "))
		}
	}
	return parts
}

// stationWay says which way side k lies at a station, "" where it is not known.
func stationWay(st *gapflush.Station, k int) string {
	d := st.A
	if k == int(gapflush.A) {
		d = d.Scale(-1)
	}
	t, ok := gapflush.TowardOf(d)
	if !ok {
		return ""
	}
	return ", toward " + axisSign(t)
}
