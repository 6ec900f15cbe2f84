package evidence

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"shutline/deviation"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// guarded keeps a spreadsheet from running text that came from a user or a file.
func guarded(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// table builds a CSV table. Text cells are guarded by whoever adds them.
type table struct {
	b bytes.Buffer
	w *csv.Writer
}

func newTable(header string) *table {
	t := &table{}
	t.w = csv.NewWriter(&t.b)
	t.w.UseCRLF = true
	t.row(strings.Split(header, ",")...)
	return t
}

// row adds a row; a buffer takes every write, so there is no error.
func (t *table) row(cells ...string) { _ = t.w.Write(cells) }

func (t *table) bytes() []byte {
	t.w.Flush()
	return t.b.Bytes()
}

// The headers, as the contract lists them. Later columns are added at the end.
// k is the coverage factor: 1 for the standard uncertainties of a
// placement, 2 for the expanded ones of everything else.
const (
	placementHeader = "m00,m01,m02,m03,m10,m11,m12,m13,m20,m21,m22,m23,m30,m31,m32,m33," +
		"rms_mm,points_used,share_used,u_tx_mm,u_ty_mm,u_tz_mm,u_rx_deg,u_ry_deg,u_rz_deg,k"
	summaryHeader = "figure,area_weighted,unweighted"
	stationHeader = "seam,station,along_mm,x_mm,y_mm,z_mm,gap_mm,gap_U_mm,feeler_mm,flush_mm,flush_U_mm," +
		"gap_nominal_mm,flush_nominal_mm,gap_verdict,flush_verdict,nose_a,nose_b,state,angle_deg," +
		"feeler_U_mm,gap_tolerance_lo_mm,gap_tolerance_hi_mm,flush_tolerance_lo_mm,flush_tolerance_hi_mm,k"
	seamHeader = "seam,stations,measured,gap_mean_mm,gap_min_mm,gap_max_mm,taper_mm_per_100mm,flush_mean_mm," +
		"flush_min_mm,flush_max_mm,taper_verdict,verdict," +
		"with_gap,with_flush,gap_mean_U_mm,gap_min_U_mm,gap_max_U_mm,taper_U_mm_per_100mm,flush_mean_U_mm,flush_min_U_mm,flush_max_U_mm,k,sides,why,picture,verdict_of"
	lengthHeader = "name,measured_mm,known_mm,error_mm,error_ppm,U_mm,allowed_mm,verdict,between,measured_U_mm"
)

func placementTable(r *Record) []byte {
	t := newTable(placementHeader)
	p := placementOf(r.Placement)
	var row []string
	for _, x := range p.Matrix {
		row = append(row, x.String())
	}
	points := ""
	if p.PointsUsed != nil {
		points = strconv.Itoa(*p.PointsUsed)
	}
	row = append(row, p.RMS.String(), points, p.ShareUsed.String())
	for _, u := range p.sigma {
		row = append(row, u.String())
	}
	t.row(append(row, "1")...)
	return t.bytes()
}

func summaryTable(r *Record) []byte {
	t := newTable(summaryHeader)
	s := r.Surface.Summary
	for _, state := range countOrder {
		t.row(state.String(), "", strconv.Itoa(s.Count[state]))
	}
	weighted, plain := figuresOf(s.AreaWeighted).list(), figuresOf(s.Unweighted).list()
	for k, name := range figureNames {
		t.row(name, weighted[k].String(), plain[k].String())
	}
	t.row("reference_covered", num{s.ReferenceCovered, mmDecimals, true}.String(), "")
	u := doubtOf(s)
	t.row("noise_mm", "", u.Noise.String())
	t.row("U_p50_mm", "", u.P50.String())
	t.row("U_p95_mm", "", u.P95.String())
	t.row("U_max_mm", "", u.Max.String())
	t.row("without_U", "", strconv.Itoa(u.Without))
	return t.bytes()
}

// countOrder is the order of the counts in the contract.
var countOrder = [...]deviation.State{deviation.Measured, deviation.BeyondReach, deviation.OffEdge, deviation.FacingAway}

func stationTable(r *Record) []byte {
	t := newTable(stationHeader)
	for _, seam := range r.Seams {
		for i := range seam.Stations {
			s := stationOf(&seam.Stations[i])
			gap, flush := targetOf(seam.Seam.Gap).Tolerance, targetOf(seam.Seam.Flush).Tolerance
			t.row(guarded(seam.Seam.Name), strconv.Itoa(s.Station), s.Along.String(),
				s.Point[0].String(), s.Point[1].String(), s.Point[2].String(),
				s.Gap.String(), s.GapU.String(), s.Feeler.String(), s.Flush.String(), s.FlushU.String(),
				s.GapNominal.String(), s.FlushNominal.String(), s.GapVerdict, s.FlushVerdict,
				s.NoseA, s.NoseB, s.State, s.Angle.String(),
				s.FeelerU.String(), gap[0].String(), gap[1].String(), flush[0].String(), flush[1].String(), "2")
		}
	}
	return t.bytes()
}

func seamTable(r *Record) []byte {
	t := newTable(seamHeader)
	names := seamFiles(r)
	for k, s := range r.Seams {
		t.row(guarded(s.Seam.Name), strconv.Itoa(len(s.Stations)), strconv.Itoa(s.Measured),
			val(s.GapMean).String(), val(s.GapMin).String(), val(s.GapMax).String(), val(s.Taper).String(),
			val(s.FlushMean).String(), val(s.FlushMin).String(), val(s.FlushMax).String(),
			s.TaperVerdict.String(), s.Verdict.String(),
			strconv.Itoa(known(s, func(st *gapflush.Station) bool { return st.Gap.OK })), strconv.Itoa(known(s, func(st *gapflush.Station) bool { return st.Flush.OK })),
			valU(s.GapMean).String(), valU(s.GapMin).String(), valU(s.GapMax).String(), valU(s.Taper).String(),
			valU(s.FlushMean).String(), valU(s.FlushMin).String(), valU(s.FlushMax).String(), "2", sidesText(s), noValue(s), seamPicture(names[k]), partsText(s))
	}
	return t.bytes()
}

// noValue says why nothing was measured of a seam; "" of one that was.
func noValue(r *gapflush.Result) string {
	if r.Unlaid == "" {
		return ""
	}
	return "no value, because " + r.Unlaid
}

// known counts the stations that hold.
func known(r *gapflush.Result, holds func(*gapflush.Station) bool) int {
	n := 0
	for i := range r.Stations {
		if holds(&r.Stations[i]) {
			n++
		}
	}
	return n
}

func lengthTable(r *Record) []byte {
	t := newTable(lengthHeader)
	for _, l := range r.Lengths {
		u := valU(l.Error)
		if !l.Error.OK {
			u = valU(l.Measured)
		}
		t.row(guarded(l.Name), val(l.Measured).String(), val(l.Known).String(), val(l.Error).String(),
			num{l.ErrorPPM, ppmDecimals, l.Error.OK}.String(), u.String(), val(l.Allowed).String(), l.Verdict.String(), l.Between, valU(l.Measured).String())
	}
	return t.bytes()
}

// present makes a verdict's word, null where nothing was judged.
func present(v verdict.Verdict) *string {
	if v == verdict.NotJudged {
		return nil
	}
	s := v.String()
	return &s
}
