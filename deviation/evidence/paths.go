package evidence

import (
	"strconv"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// Path is the path of a seam and how it came about. Written into an inspection
// file, its points give the same seam again.
type Path struct {
	Seam     string
	Laid     string     // "typed", "traced" or "found"
	Points   []geom.Vec // mm
	Length   float64    // mm
	Seen     float64    // 0 to 1, of traced and found ones: the share on which the gap was seen
	Width    verdict.Value
	Sure     float64 // 0 to 1, of found ones
	SureWord string
	Turned   bool // of traced ones: from the last point that was typed to the first
}

const pathHeader = "seam,point,x_mm,y_mm,z_mm,laid"

func pathTable(r *Record) []byte {
	t := newTable(pathHeader)
	for _, p := range r.Paths {
		for k, at := range p.Points {
			t.row(guarded(p.Seam), strconv.Itoa(k+1), mm(at.X).String(), mm(at.Y).String(), mm(at.Z).String(), p.Laid)
		}
	}
	return t.bytes()
}

type pathResult struct {
	Seam   string   `json:"seam"`
	Laid   string   `json:"laid"`
	Length num      `json:"length_mm"`
	Seen   *num     `json:"seen_share,omitempty"`
	Width  *num     `json:"gap_estimate_mm,omitempty"`
	Sure   *num     `json:"sure,omitempty"`
	Word   string   `json:"how_sure,omitempty"`
	Turned bool     `json:"turned_round,omitempty"`
	Points [][3]num `json:"points"`
}

func pathOf(p Path) pathResult {
	out := pathResult{Seam: p.Seam, Laid: p.Laid, Length: mm(p.Length), Word: p.SureWord, Turned: p.Turned, Points: [][3]num{}}
	if p.Laid != "typed" {
		seen, width := num{p.Seen, 2, true}, val(p.Width)
		out.Seen, out.Width = &seen, &width
	}
	if p.SureWord != "" {
		sure := num{p.Sure, 2, true}
		out.Sure = &sure
	}
	for _, at := range p.Points {
		out.Points = append(out.Points, mm3(at))
	}
	return out
}
