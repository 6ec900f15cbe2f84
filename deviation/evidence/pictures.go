package evidence

import (
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
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
	names := seamFiles(w.r)
	if err := w.overviews(); err != nil {
		return err
	}
	if err := w.sections(); err != nil {
		return err
	}
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
	model, err := soon(w.ctx, func() *shade.Model {
		m := shade.NewModel(w.r.Mesh, w.r.Normals)
		m.Paint(s.Field.Deviation, known, scale)
		return m
	})
	if err != nil {
		return err
	}
	if err := w.views(0.4, 0.6, "heat", model, func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA {
		return chart.Heat(pic, cam, scale, heatInfo(w.r, view), chart.Light(), pictureScale)
	}); err != nil {
		return err
	}
	if !s.Summary.U.OK {
		return nil
	}
	for i := range known {
		_, known[i] = s.Field.Value(i)
	}
	ramp := shade.Ramp{Limit: rampLimit(s.Summary.U.P95)}
	model.PaintRamp(s.Field.U, known, ramp)
	half := (s.Tolerance.Hi - s.Tolerance.Lo) / 2
	return w.views(0.6, 0.75, "uncertainty", model, func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA {
		return chart.Doubts(pic, cam, ramp, half, doubtInfo(w.r, view), chart.Light(), pictureScale)
	})
}

// views draws a model in every view that is asked for, as NAME-VIEW.png.
func (w *writer) views(from, to float64, name string, model *shade.Model, compose func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA) error {
	s := w.r.Surface
	return w.drawViews(from, to, name, model, w.r.Mesh.Bounds(), s.Views, len(callOuts(w.r)) > 0, compose)
}

// drawViews draws a model whose box is given, with room for labels where asked for.
func (w *writer) drawViews(from, to float64, name string, model *shade.Model, box geom.Box, views []string, labels bool, compose func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA) error {
	for k, view := range views {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		cam, ok := shade.ViewOf(view, box, float64(heatWidth)/heatHeight)
		if !ok {
			return &WriteError{Path: name + "-" + view + ".png", Problem: fmt.Sprintf("there is no view %q; choose one of %v", view, shade.ViewNames())}
		}
		cam = roomFor(cam, heatWidth, heatHeight, labels)
		img, err := soon(w.ctx, func() *image.RGBA {
			return compose(shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), heatWidth, heatHeight, w.o.Threads), cam, view)
		})
		if err != nil {
			return err
		}
		if err := w.footed(name+"-"+view+".png", img); err != nil {
			return err
		}
		w.o.Progress.Report(from + float64((to-from)*float64(k+1))/float64(len(views)))
	}
	return nil
}

// heatInfo puts the figures of the surface into words.
func heatInfo(r *Record, view string) chart.HeatInfo {
	s := r.Surface
	f, byArea := s.Summary.Figures()
	info := chart.HeatInfo{Title: titleOf(r), View: view, Seams: r.Seams, CallOuts: callOuts(r),
		Lowest: verdict.Value{V: f.Min, OK: f.OK}, Highest: verdict.Value{V: f.Max, OK: f.OK}}
	add := func(label, value string) { info.Lines = append(info.Lines, chart.Line{Label: label, Value: value}) }
	if f.OK {
		in := "in tolerance"
		if !byArea {
			in = "points in tolerance"
		}
		add(in, fixed(100*f.ShareInTolerance, 1)+" %")
		add("RMS", fixed(f.RMS, 2)+" mm")
		add("mean", signed(f.Mean)+" mm")
		add("95 % between", signed(f.P025)+" and "+signed(f.P975)+" mm")
		add("lowest, highest", signed(f.Min)+", "+signed(f.Max)+" mm")
	}
	for _, state := range countOrder {
		add(state.String(), grouped(s.Summary.Count[state])+" points")
	}
	add("reference covered", fixed(100*s.Summary.ReferenceCovered, 1)+" %")
	if u := s.Summary.U; u.OK {
		add("U, half of them under", fixed(u.P50, 2)+" mm")
	}
	if s.Verdict != verdict.NotJudged {
		add("surface", s.Verdict.String())
	}
	if p := r.Placement; p != nil && p.Ambiguous {
		info.Title = "Placement ambiguous, nothing decided: " + info.Title
		add("placement", "ambiguous")
	}
	return info
}

// doubtInfo puts the figures of the deviations' uncertainty into words.
func doubtInfo(r *Record, view string) chart.HeatInfo {
	u := r.Surface.Summary.U
	info := chart.HeatInfo{Title: titleOf(r), View: view}
	add := func(label, value string) { info.Lines = append(info.Lines, chart.Line{Label: label, Value: value}) }
	add("half of the points under", fixed(u.P50, 3)+" mm")
	add("95 % of them under", fixed(u.P95, 3)+" mm")
	add("largest", fixed(u.Max, 3)+" mm")
	add("noise of a point", fixed(u.Noise, 3)+" mm")
	if u.Without > 0 {
		add("without a U", grouped(u.Without)+" points")
	}
	return info
}

// rampLimit returns the next of 1, 2 and 5 times a power of ten from a size in mm on.
func rampLimit(mm float64) float64 {
	for _, limit := range []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5} {
		if mm <= limit {
			return limit
		}
	}
	return 10
}

func fixed(v float64, decimals int) string { return string(appendFixed(nil, v, decimals)) }

// signed writes mm with two decimals and a sign of the same width either way; what rounds to zero has none.
func signed(v float64) string {
	t := fixed(v, 2)
	switch {
	case strings.HasPrefix(t, "-"):
		return "−" + t[1:]
	case strings.Trim(t, "0.") != "":
		return "+" + t
	}
	return t
}

// grouped writes a whole number in groups of three, parted by no-break spaces.
func grouped(n int) string {
	t := strconv.Itoa(n)
	for i := len(t) - 3; i > 0 && t[i-1] != '-'; i -= 3 {
		t = t[:i] + "\u00a0" + t[i:]
	}
	return t
}

// titleOf is the job's title, or, for one without, the scan's name.
func titleOf(r *Record) string {
	if r.Title == "" && len(r.Inputs) > 0 {
		return r.Inputs[0].Name
	}
	return r.Title
}

// hashDigits of a SHA-256 tell any two files of one workshop apart: 48 bits.
const hashDigits = 12

// footOf says what a picture was made from. No time stands in it, as the same
// inputs must give the same picture again; run.json has the times.
func footOf(r *Record) []string {
	short := func(hash string) string { return hash[:min(hashDigits, len(hash))] }
	var parts []string
	if r.Title != "" {
		parts = append(parts, r.Title)
	}
	for _, in := range r.Inputs {
		parts = append(parts, in.Role+" "+in.Name+" "+short(in.SHA256))
	}
	if r.InspectionSHA256 != "" {
		parts = append(parts, "inspection "+short(r.InspectionSHA256))
	}
	return []string{strings.Join(append(parts, toolName+" "+r.Version), "  ·  ")}
}

// footed writes a picture with its foot.
func (w *writer) footed(name string, img *image.RGBA) error {
	return w.png(name, chart.WithFoot(img, footOf(w.r), chart.Light(), pictureScale))
}

// seam draws a seam's chart and the stations that were asked for.
func (w *writer) seam(name string, k int, r *gapflush.Result) error {
	img := chart.Seam(seamWidth, seamHeight, chart.Light(), pictureScale, r, -1)
	if err := w.footed(seamPicture(name), img); err != nil {
		return err
	}
	which := "worst"
	if k < len(w.r.SeamPictures) {
		which = w.r.SeamPictures[k]
	}
	for _, i := range drawn(r, which) {
		st := &r.Stations[i]
		img := chart.Station(stationWidth, stationTall, chart.Light(), pictureScale, r.Seam, st)
		if err := w.footed(fmt.Sprintf("station-%s-%03d.png", name, st.Index), img); err != nil {
			return err
		}
	}
	return nil
}

// drawn returns the indices of the stations to draw, rising: all, none, or every
// local worst: the worst in gap and in flush, measured in tolerances from the
// nominal, and the lowest and highest of both.
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
	gap := func(s *gapflush.Station) verdict.Value { return s.Gap }
	flush := func(s *gapflush.Station) verdict.Value { return s.Flush }
	for _, i := range []int{
		worst(r, func(s *gapflush.Station) (verdict.Verdict, float64, bool) {
			return s.GapVerdict, offset(s.Gap, s.GapNominal, r.Seam.Gap.Tolerance), s.Gap.OK
		}),
		worst(r, func(s *gapflush.Station) (verdict.Verdict, float64, bool) {
			return s.FlushVerdict, offset(s.Flush, s.FlushNominal, r.Seam.Flush.Tolerance), s.Flush.OK
		}),
		extreme(r, -1, gap), extreme(r, 1, gap), extreme(r, -1, flush), extreme(r, 1, flush),
	} {
		if i >= 0 && !slices.Contains(out, i) {
			out = append(out, i)
		}
	}
	slices.Sort(out)
	return out
}

// extreme returns the index of the station with the largest value times sign, -1 without any.
func extreme(r *gapflush.Result, sign float64, of func(*gapflush.Station) verdict.Value) int {
	at := -1
	for i := range r.Stations {
		v := of(&r.Stations[i])
		if v.OK && !math.IsNaN(v.V) && (at < 0 || sign*v.V > sign*of(&r.Stations[at]).V) {
			at = i
		}
	}
	return at
}

// offset returns how far a value lies from its nominal, in half widths of the tolerance where there is one.
func offset(x, nominal verdict.Value, t verdict.Tolerance) float64 {
	d := math.Abs(x.V)
	if nominal.OK {
		d = math.Abs(x.V - nominal.V - float64((t.Lo+t.Hi)/2))
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
