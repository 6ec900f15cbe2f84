package main

import (
	"fmt"
	"math"
	"strings"

	"shutline/app/words"
)

// text is the table a person reads.
func (d *description) text() string {
	var t text
	t.raw(d.Path)
	row := func(label, value string) {
		t.indented(fmt.Sprintf("  %-12s", label), strings.Repeat(" ", 14), value)
	}
	u, after := " mm", ""
	if d.Unit == nil {
		u, after = "", ", in the file's unit"
	}
	row("format", d.Format+", "+words.Bytes(d.Bytes))
	row("size", sides(d.Size)+u+after)
	row("unit", d.unitText())
	row("points", words.Count(d.Vertices))
	row("triangles", words.Count(d.Faces))
	if d.Faces > 0 {
		row("pieces", d.piecesText(u, after))
		row("borders", d.borderText(u, after))
		row("spacing", fmt.Sprintf("%s%s between neighbouring points (edges of %s to %s)%s", threeDigits(*d.MedianEdge), u, threeDigits(*d.ShortestEdge), threeDigits(*d.LongestEdge), after)+d.fineText(u))
		if d.Noise != nil {
			row("noise", d.noiseText(u, after))
		}
	} else {
		row("normals", map[bool]string{true: "yes", false: "none"}[*d.Normals])
		if d.Spacing != nil {
			row("spacing", "about "+threeDigits(*d.Spacing)+u+" between neighbouring points"+after)
		}
	}
	for _, n := range d.Notices {
		if strings.HasPrefix(n, "the unit was judged") {
			continue // the row of the unit says so
		}
		row("note", n)
	}
	for _, f := range d.Faults {
		row("fault", f)
	}
	if len(d.Faults) == 0 {
		row("faults", "none found")
	}
	for _, u := range d.Uses {
		can := "yes"
		switch {
		case !u.OK:
			can = "no: " + u.Why
		case u.Why != "":
			can = "yes, but " + u.Why
		}
		row("use", "as "+u.As+": "+can)
	}
	row("sha256", d.SHA256)
	t.line("")
	return t.b.String()
}

func (d *description) unitText() string {
	var likely, others []string
	for _, r := range d.Readings {
		if d.Unit != nil && r.Unit == *d.Unit {
			continue
		}
		as := fmt.Sprintf("%s (%s mm)", r.Unit, sides(r.Size))
		if r.Plausible {
			likely = append(likely, as)
		} else {
			others = append(others, as)
		}
	}
	if d.Unit == nil {
		s := "cannot be told from the size: "
		if len(likely) > 0 {
			s += strings.Join(likely, ", ") + " are plausible for a part of 50 mm to 8 m, less so "
		} else {
			s += "none is plausible for a part of 50 mm to 8 m: "
		}
		return s + strings.Join(others, ", ") + ". Ask again with --units mm (cm, m, in), and state it as units in the inspection file"
	}
	switch d.UnitSource {
	case "judged":
		s := *d.Unit + ", judged from the size; check it: no other gives a part of 50 mm to 8 m"
		if *d.Unit != "mm" {
			s += " (mm would be " + sides(d.Readings[0].Size) + " mm)"
		}
		return s
	case "format":
		for _, r := range d.Readings {
			if r.Unit == *d.Unit && !r.Plausible {
				return *d.Unit + ", as the format says; that is no plausible size for a part of 50 mm to 8 m, so check whether the numbers are in another unit: " +
					strings.Join(append(likely, others...), ", ")
			}
		}
		return *d.Unit + ", as the format says"
	}
	return *d.Unit + ", as stated"
}

// piecesText lists the largest pieces by their sizes.
func (d *description) piecesText(unit, after string) string {
	const most = 4
	if d.Components <= 1 {
		return "1: all hangs together"
	}
	var parts []string
	for _, p := range d.Pieces[:min(most, len(d.Pieces))] {
		parts = append(parts, sides(p.Size)+unit)
	}
	s := fmt.Sprintf("%s; the largest %s", words.Count(d.Components), strings.Join(parts, ", "))
	if d.Components > most {
		s += ", …"
	}
	return s + after + ". What is not the part (a table, a stand) counts in the figures, too"
}

func (d *description) noiseText(u, after string) string {
	noise := fmt.Sprintf("%.2g%s", *d.Noise, u)
	if d.Unit != nil && *d.Noise < 0.001 {
		noise = "under 0.001 mm"
	}
	noise += " (one standard deviation) at right angles to the surface, between neighbouring points" + after
	if d.NoiseIsShape {
		noise += "; with points so far apart that is more likely the shape of the part: of a drawing it means nothing"
	}
	return noise
}

// fineText says how close points lie where they lie closest, where that is closer than in the middle: flats may be coarse where hems are fine.
func (d *description) fineText(u string) string {
	const much = 0.8
	if *d.FineEdge > float64(much**d.MedianEdge) {
		return ""
	}
	return fmt.Sprintf("; a tenth of the edges is under %s%s. For gaps and flushes the spacing on the panels' edges counts, where a scan is mostly finest; for deviations that of the whole", threeDigits(*d.FineEdge), u)
}

// borderText lists the longest borders.
func (d *description) borderText(unit, after string) string {
	const most = 5
	if len(d.Borders) == 0 {
		return "none: the surface is closed"
	}
	var parts []string
	for _, b := range d.Borders[:min(most, len(d.Borders))] {
		parts = append(parts, threeDigits(b.Length))
	}
	s := fmt.Sprintf("%s, outer edges and holes; %s%s in all, the longest %s", words.Count(len(d.Borders)), threeDigits(d.BorderLength), unit, strings.Join(parts, ", "))
	if len(d.Borders) > most {
		s += ", …"
	}
	return s + after
}

func sides(size [3]float64) string {
	return threeDigits(size[0]) + " × " + threeDigits(size[1]) + " × " + threeDigits(size[2])
}

// threeDigits writes a length to three or four digits, without a power of ten as long as that can be read.
func threeDigits(x float64) string {
	switch a := math.Abs(x); {
	case a == 0:
		return "0"
	case a < 0.001 || a >= 1e7:
		return fmt.Sprintf("%.3g", x)
	case a >= 1000:
		return words.Count(int(math.Round(x)))
	case a >= 100:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0")
	}
	return fmt.Sprintf("%.3g", x)
}
