package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"
)

// glossary are the words of the bench: what each means stands behind its colon.
func glossary() []string {
	return []string{
		tr("term.gap", "Gap: the distance between the noses of two neighbouring panels, measured along the master's face. Negative: they overlap."),
		tr("term.flush", "Flush: how far the other panel's shoulder stands above (+, proud) or below (−, low) the master's face, carried on across the gap."),
		tr("term.feeler", "Feeler: the shortest way between the two edges, as a feeler or taper gauge finds it. Where the panels are not flush it differs from the gap."),
		tr("term.taper", "Taper: how much the gap opens or closes along the seam, in mm on 100 mm. 0: it runs parallel."),
		tr("term.seam", "Seam: a shut line, the gap between two panels from end to end. A stretch is a part of one."),
		tr("term.path", "Path: the line along the middle of the gap by which a seam is cut."),
		tr("term.station", "Station: one cut across a seam. Stations follow one another at equal distances along the path and have numbers from 1."),
		tr("term.sides", "Sides A and B: left and right of the path, seen from outside in the direction it runs. In seams that are found or traced, A is the front or the upper panel. A name such as “wing to door” calls A wing and B door."),
		tr("term.master", "Master: the side that stays. Gap and flush are read from it, and moves are told for the other panel."),
		tr("term.face", "Face, face zone: the outer skin behind the edge. Its height and direction are read in the zone, 2.5 to 12.5 mm behind the shoulder unless set otherwise."),
		tr("term.shoulder", "Shoulder: where the face ends and the edge begins to bend away."),
		tr("term.hem", "Hem, rollover: the rounded edge of a panel, whose sheet is folded over. Its radius may be typed; otherwise the reference gives it."),
		tr("term.nose", "Nose: the foremost point of an edge toward the other panel. Seen: the scan has points there. Carried: the edge was carried on to it. Unseen: it is not known, and there is no gap."),
		tr("term.band", "Band, window: how far along and across the seam a station takes points from."),
		tr("term.nominal", "Nominal, wanted: the value a gap or flush should have: typed, or read from the reference at the same place."),
		tr("term.tolerance", "Tolerance: by how much a value may lie below and above its nominal. Without one it is reported, not judged."),
		tr("term.u", "U, ±: the expanded uncertainty of a value (k = 2): the true value lies within it in about 95 of 100 cases."),
		tr("term.verdict", "Conforms, does not conform, undecided: inside the tolerance by at least U; outside by at least U; so near a limit that U reaches over it. A seam's verdict is the worst of its stations'; where more than a tenth have no number it is undecided at best."),
		tr("term.state", "State, no value: why a station has no gap or a point no deviation. Such a place has no number, and none is made up."),
		tr("term.deviation", "Deviation: how far the scan stands above (+, proud) or below (−, low) the reference, square to its surface."),
		tr("term.reach", "Reach: how far from the reference a point may lie and still be compared."),
		tr("term.reference", "Reference: what the scan is held against, mostly a drawing. Results are in its axes."),
		tr("term.placement", "Placement: how the scan is laid onto the reference, turned and shifted but never stretched. A free motion is one that the surface does not hold: nothing tells how far off it is."),
		tr("term.rms", "RMS: the root of the mean of the squares: how far points lie off on the whole, whatever the sign."),
		tr("term.trust", "Trust: what errors a scan brings along over a length. Drift is a bend, twist or stretch of the whole scan; closure is by how much it misses its own start."),
		tr("term.evidence", "Evidence: tables, pictures and one file with everything, so that others can check what was found."),
	}
}

// showWords explains the words of the bench.
func (w *Window) showWords() {
	var segments []widget.RichTextSegment
	for _, entry := range glossary() {
		term, is, _ := strings.Cut(entry, ": ")
		name, said := widget.RichTextStyleStrong, widget.RichTextStyleParagraph
		segments = append(segments, &widget.TextSegment{Text: term + "  ", Style: name}, &widget.TextSegment{Text: is, Style: said})
	}
	text := widget.NewRichText(segments...)
	text.Wrapping = fyne.TextWrapWord
	w.showText(tr("menu.words", "Words"), container.NewVScroll(text), 720, 600)
}
