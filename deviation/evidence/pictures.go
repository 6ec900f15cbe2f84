package evidence

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"strconv"

	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
)

// Sizes of the pictures in pixels, at two pixels per unit of layout: sharp on
// paper at 300 dots per inch over 13 cm, and on a HiDPI screen.
const (
	pictureScale              = 2
	heatWidth, heatHeight     = 2000, 1250
	seamWidth, seamHeight     = 2000, 1100
	stationWidth, stationTall = 1600, 1100
)

func (w *writer) pictures() error {
	if err := w.heats(); err != nil {
		return err
	}
	names := make([]string, len(w.r.Seams))
	for k, s := range w.r.Seams {
		names[k] = s.Seam.Name
	}
	names = fileNames(names)
	for k, seam := range w.r.Seams {
		if err := w.seam(names[k], k, seam); err != nil {
			return err
		}
		w.o.Progress.Report(0.75 + 0.25*float64(k+1)/float64(len(w.r.Seams)))
	}
	return nil
}

// heats draws the part in the colours of its deviation, once for each view.
func (w *writer) heats() error {
	s := w.r.Surface
	if s == nil || len(s.Views) == 0 {
		return nil
	}
	known := make([]bool, len(s.Field.State))
	for i, state := range s.Field.State {
		known[i] = state == deviation.Measured
	}
	scale := shade.NewScale(s.Tolerance)
	model := shade.NewModel(w.r.Mesh, w.r.Normals)
	model.Paint(s.Field.Deviation, known, scale)
	box := w.r.Mesh.Bounds()
	for k, view := range s.Views {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		cam, ok := shade.ViewOf(view, box, float64(heatWidth)/heatHeight)
		if !ok {
			return &WriteError{Path: "heat-" + view + ".png", Problem: fmt.Sprintf("there is no view %q; choose one of %v", view, shade.ViewNames())}
		}
		cam = roomFor(cam, heatWidth, heatHeight)
		pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), heatWidth, heatHeight, w.o.Threads)
		img := chart.Heat(pic, cam, scale, heatInfo(w.r, view), chart.Light(), pictureScale)
		if err := w.png("heat-"+view+".png", img); err != nil {
			return err
		}
		w.o.Progress.Report(0.4 + 0.35*float64(k+1)/float64(len(s.Views)))
	}
	return nil
}

// heatInfo puts the figures of the surface into words.
func heatInfo(r *Record, view string) chart.HeatInfo {
	s := r.Surface
	f := s.Summary.AreaWeighted
	info := chart.HeatInfo{Title: r.Title, View: view, Seams: r.Seams}
	add := func(label, value string) { info.Lines = append(info.Lines, chart.Line{Label: label, Value: value}) }
	if f.OK {
		add("in tolerance", fixed(100*f.ShareInTolerance, 1)+" %")
		add("RMS", fixed(f.RMS, 2)+" mm")
		add("mean", fixed(f.Mean, 2)+" mm")
		add("95 % between", fixed(f.P025, 2)+" and "+fixed(f.P975, 2)+" mm")
		add("lowest, highest", fixed(f.Min, 2)+", "+fixed(f.Max, 2)+" mm")
	}
	for _, state := range countOrder {
		add(state.String(), strconv.Itoa(s.Summary.Count[state])+" points")
	}
	add("reference covered", fixed(100*s.Summary.ReferenceCovered, 1)+" %")
	if s.Verdict != verdict.NotJudged {
		add("surface", s.Verdict.String())
	}
	return info
}

func fixed(v float64, decimals int) string { return string(appendFixed(nil, v, decimals)) }

// seam draws a seam's chart and the stations that were asked for.
func (w *writer) seam(name string, k int, r *gapflush.Result) error {
	img := chart.Seam(seamWidth, seamHeight, chart.Light(), pictureScale, r, -1)
	if err := w.png("seam-"+name+".png", img); err != nil {
		return err
	}
	which := "worst"
	if k < len(w.r.SeamPictures) {
		which = w.r.SeamPictures[k]
	}
	for _, i := range drawn(r, which) {
		st := &r.Stations[i]
		img := chart.Station(stationWidth, stationTall, chart.Light(), pictureScale, r.Seam, st)
		if err := w.png(fmt.Sprintf("station-%s-%03d.png", name, st.Index), img); err != nil {
			return err
		}
	}
	return nil
}

// drawn returns the indices of the stations to draw: all, none, or the worst in
// gap and the worst in flush, measured in tolerances from the nominal.
func drawn(r *gapflush.Result, which string) []int {
	var out []int
	switch which {
	case "none":
		return nil
	case "all":
		for i := range r.Stations {
			out = append(out, i)
		}
		return out
	}
	gap := worst(r, func(s *gapflush.Station) (verdict.Verdict, float64, bool) {
		return s.GapVerdict, offset(s.Gap, s.GapNominal, r.Seam.Gap.Tolerance), s.Gap.OK
	})
	flush := worst(r, func(s *gapflush.Station) (verdict.Verdict, float64, bool) {
		return s.FlushVerdict, offset(s.Flush, s.FlushNominal, r.Seam.Flush.Tolerance), s.Flush.OK
	})
	if gap >= 0 {
		out = append(out, gap)
	}
	if flush >= 0 && flush != gap {
		out = append(out, flush)
	}
	return out
}

// offset returns how far a value lies from its nominal, in half widths of the tolerance where there is one.
func offset(x, nominal verdict.Value, t verdict.Tolerance) float64 {
	d := math.Abs(x.V)
	if nominal.OK {
		d = math.Abs(x.V - nominal.V - (t.Lo+t.Hi)/2)
	}
	if half := (t.Hi - t.Lo) / 2; half > 0 {
		d /= half
	}
	return d
}

// worst returns the index of the measured station with the worst verdict, then the largest offset; -1 without any.
func worst(r *gapflush.Result, of func(*gapflush.Station) (verdict.Verdict, float64, bool)) int {
	at, v, off := -1, verdict.NotJudged, 0.0
	for i := range r.Stations {
		sv, so, ok := of(&r.Stations[i])
		if ok && (at < 0 || sv > v || sv == v && so > off) {
			at, v, off = i, sv, so
		}
	}
	return at
}

func (w *writer) png(name string, img image.Image) error {
	return w.file(name, func(out io.Writer) error {
		e := png.Encoder{CompressionLevel: png.BestSpeed}
		return e.Encode(out, img)
	})
}
