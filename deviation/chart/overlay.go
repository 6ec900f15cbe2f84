package chart

import (
	"image"
	"math"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// faceOn is how far, as a cosine, a station's outside must turn to the viewer to be drawn.
const faceOn = 0.05

// hiddenSlack, in mm, is how far a station's point may lie behind what is drawn
// there and still count as seen: the path runs in the gap, below the panels' skins.
const hiddenSlack = 12

// seams draws seams as lines with a mark per station. Stations that face away or lie behind
// other parts are left out; where exact is set, every station
// that is left gets its mark. It returns how they lie, for their labels, and how many stations could be seen, of how many.
func (s *sheet) seams(pic *shade.Picture, cam shade.Camera, seams []*gapflush.Result, selected *gapflush.Station, exact bool) (list []drawnSeam, shown, all int) {
	w, h := int(s.w), int(s.h)
	if !(cam.Height > 0) || w == 0 || h == 0 {
		return nil, 0, 0
	}
	project := func(p geom.Vec) [2]float64 {
		x, y, _ := cam.Project(p, w, h)
		return [2]float64{x, y}
	}
	back := cam.Back()
	for _, r := range seams {
		if r == nil {
			continue
		}
		d := drawnSeam{r: r, at: make([][2]float64, len(r.Stations)), seen: make([]bool, len(r.Stations)), project: project}
		for i := range r.Stations {
			st := &r.Stations[i]
			d.at[i] = project(st.P)
			d.seen[i] = (st.U == (geom.Vec{}) || st.U.Dot(back) > faceOn) && !pic.Hidden(st.P, hiddenSlack)
			all++
			if d.seen[i] {
				shown++
				d.list = append(d.list, i)
			}
		}
		s.seamLine(d.at, d.seen)
		s.stationMarks(r, d.at, d.seen, selected, exact)
		list = append(list, d)
	}
	return list, shown, all
}

// seamLine joins the stations that are seen.
func (s *sheet) seamLine(at [][2]float64, seen []bool) {
	var run [][2]float64
	flush := func() {
		s.stroke(run, 3, s.th.Paper)
		s.stroke(run, 1.2, s.th.Ink)
		run = nil
	}
	for i, p := range at {
		if !seen[i] {
			flush()
			continue
		}
		run = append(run, p)
	}
	flush()
}

// markSize returns half the size, in layout units, of marks that all stand apart:
// 4 where there is room, never so small that their shapes are lost.
func (s *sheet) markSize(at [][2]float64, seen []bool) float64 {
	const largest, smallest = 4.0, 2.2
	nearest, before := math.Inf(1), -1
	for i := range at {
		if !seen[i] {
			continue
		}
		if before >= 0 {
			nearest = min(nearest, hypot(at[i][0]-at[before][0], at[i][1]-at[before][1]))
		}
		before = i
	}
	return max(smallest, min(largest, nearest/s.k/2.8))
}

// stationMarks draws the worst last. Where stations stand close, all has their
// marks drawn smaller, else conforming ones are thinned out.
func (s *sheet) stationMarks(r *gapflush.Result, at [][2]float64, seen []bool, selected *gapflush.Station, all bool) {
	room, size := 11.0, 4.0
	if all {
		room, size = 0, s.markSize(at, seen)
	}
	far := func(i, j int) bool { return hypot(at[i][0]-at[j][0], at[i][1]-at[j][1]) >= s.px(room) }
	last := -1
	for _, level := range []verdict.Verdict{verdict.NotJudged, verdict.Conforms, verdict.Undecided, verdict.DoesNotConform} {
		for i := range r.Stations {
			st := &r.Stations[i]
			v := verdict.Worst(st.GapVerdict, st.FlushVerdict)
			if !seen[i] || v != level {
				continue
			}
			if v <= verdict.Conforms {
				if last >= 0 && last < i && !far(i, last) {
					continue
				}
				last = i
			}
			if !st.Gap.OK && !st.Flush.OK {
				s.hollow(at[i][0], at[i][1], size)
				continue
			}
			s.mark(at[i][0], at[i][1], size, v)
		}
	}
	for i := range r.Stations {
		if selected == &r.Stations[i] {
			s.ring(at[i][0], at[i][1], 9, 3.6, s.th.Paper)
			s.ring(at[i][0], at[i][1], 9, 2, s.th.Accent)
		}
	}
}

// Drawn draws a seam that is being drawn: its path and a ring round each click.
func Drawn(img *image.RGBA, cam shade.Camera, clicks, path []geom.Vec, th Theme, scale float64) {
	s := overSheet(img, th, scale)
	w, h := img.Rect.Dx(), img.Rect.Dy()
	if !(cam.Height > 0) || w == 0 || h == 0 {
		return
	}
	line := make([][2]float64, len(path))
	for i, p := range path {
		line[i][0], line[i][1], _ = cam.Project(p, w, h)
	}
	s.stroke(line, 4, th.Paper)
	s.stroke(line, 2, th.Accent)
	for _, p := range clicks {
		x, y, _ := cam.Project(p, w, h)
		s.ring(x, y, 6, 4.4, th.Paper)
		s.ring(x, y, 6, 2.4, th.Accent)
		s.dot(x, y, 1.6, th.Accent)
	}
}

// markLegend explains those marks of stations that there are, a row each, and returns the height it took.
func (s *sheet) markLegend(x, y float64, seams []*gapflush.Result) float64 {
	var there [verdict.DoesNotConform + 1]bool
	without := false
	for _, r := range seams {
		if r == nil {
			continue
		}
		for i := range r.Stations {
			if st := &r.Stations[i]; st.Gap.OK || st.Flush.OK {
				there[verdict.Worst(st.GapVerdict, st.FlushVerdict)] = true
			} else {
				without = true
			}
		}
	}
	rows := 0
	row := func(word string) (at float64) {
		at = y + s.px(8+float64(16*float64(rows)))
		s.text(x+s.px(24), at, small, regular, s.th.Faint, leftOf, word)
		rows++
		return at - s.px(4)
	}
	for _, e := range []struct {
		v    verdict.Verdict
		word string
	}{{verdict.Conforms, "conforms"}, {verdict.Undecided, "undecided"}, {verdict.DoesNotConform, "does not conform"}, {verdict.NotJudged, "measured, not judged"}} {
		if there[e.v] {
			s.mark(x+s.px(8), row(e.word), 4, e.v)
		}
	}
	if without {
		s.hollow(x+s.px(8), row("station without a number"), 4)
	}
	return s.px(16 + float64(16*float64(rows)))
}
