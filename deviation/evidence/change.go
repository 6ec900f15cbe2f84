package evidence

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"io"
	"sort"
	"strconv"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/chart"
	"shutline/deviation/shade"
	"shutline/deviation/verdict"
	"shutline/mesh"
)

// Change is what two results of the same part differ in, as it is written.
type Change struct {
	Version          string
	Titles           [2]string
	InspectionSHA256 [2]string
	Inputs           []Input // both scans and the reference
	Placements       [2]*align.Placement
	Noise            [2]float64 // mm
	Reach            float64    // mm
	Samples          *deviation.Samples
	Surface          *deviation.Change
	Seams            []SeamChange
	Points           []PointChange
	Notes            []string
	Views            []string
	Run              Run
}

// SeamChange is how a seam differs; Why says why it was not compared.
type SeamChange struct {
	Name     string
	Why      string
	Stations []StationChange
}

// StationChange is how a station differs: the second result's values less the first's.
type StationChange struct {
	Index                        int
	Along                        float64 // mm
	Gap, Flush                   verdict.Value
	GapDecision, FlushDecision   deviation.Decision
	GapBefore, GapAfter          verdict.Value
	FlushBefore, FlushAfter      verdict.Value
	StateBefore, StateAfterwards string
}

// ChanceOf weighs how many gaps and flushes of seams leave their U beside how many would where nothing has changed.
func ChanceOf(seams []SeamChange, gaps, flushes bool) deviation.Chance {
	of, changed := 0, 0
	count := func(d deviation.Decision) {
		if d != deviation.NotCompared {
			of++
		}
		if d == deviation.Changed {
			changed++
		}
	}
	for _, s := range seams {
		for _, st := range s.Stations {
			if gaps {
				count(st.GapDecision)
			}
			if flushes {
				count(st.FlushDecision)
			}
		}
	}
	return deviation.ByChance(of, changed)
}

// chanceResult sets what differs by more than its U beside what would by chance, 5 % of it.
type chanceResult struct {
	Compared int `json:"compared"`
	Changed  int `json:"changed"`
	Expected num `json:"expected_by_chance"`
	P        num `json:"probability_by_chance"` // of as many or more
}

func chanceOf(c deviation.Chance) *chanceResult {
	if c.Of == 0 {
		return nil
	}
	return &chanceResult{c.Of, c.Changed, num{c.Expected, mmDecimals, true}, num{c.P, mmDecimals, true}}
}

// Title names both results.
func (c *Change) Title() string { return "From \"" + c.Titles[0] + "\" to \"" + c.Titles[1] + "\"" }

// Identity is what tells whether a folder holds an earlier run of the same comparison.
func (c *Change) Identity() *Record {
	sum := sha256.Sum256([]byte(c.InspectionSHA256[0] + " " + c.InspectionSHA256[1]))
	return &Record{Version: c.Version, Title: c.Title(), InspectionSHA256: hex.EncodeToString(sum[:]), Inputs: c.Inputs, Run: c.Run}
}

// WriteChange writes a comparison into dir as Write writes an inspection's results.
func WriteChange(ctx context.Context, c *Change, dir string, o Options) error {
	w := &writer{ctx: ctx, r: c.Identity(), o: o}
	return w.into(dir, func() error { return w.change(c) })
}

const (
	differenceHeader    = "sample,x_mm,y_mm,z_mm,first_mm,second_mm,difference_mm,U_mm,state_first,state_second,change\r\n"
	changeHeader        = "region,area_mm2,length_mm,width_mm,peak_mm,peak_U_mm,mean_mm,x_mm,y_mm,z_mm,sample,samples"
	stationChangeHeader = "seam,station,along_mm,gap_first_mm,gap_second_mm,gap_change_mm,gap_U_mm,gap,flush_first_mm,flush_second_mm,flush_change_mm,flush_U_mm,flush,state_first,state_second,k"
)

func (w *writer) change(c *Change) error {
	if err := w.file("difference.csv", func(out io.Writer) error {
		return writeDifference(w.ctx, out, c, w.o.Threads, w.o.Progress.Part(0, 0.5))
	}); err != nil {
		return err
	}
	if err := w.put("changes.csv", changeTable(c)); err != nil {
		return err
	}
	if err := w.put("station-changes.csv", stationChangeTable(c)); err != nil {
		return err
	}
	if len(c.Points) > 0 {
		if err := w.put("point-changes.csv", pointChangeTable(c)); err != nil {
			return err
		}
	}
	if err := w.differences(c); err != nil {
		return err
	}
	out := changeOf(c, false)
	sort.Strings(w.files)
	out.Files = append(out.Files, w.files...)
	data, err := marshal(out)
	if err != nil {
		return err
	}
	if err := w.put("results.json", data); err != nil {
		return err
	}
	if data, err = marshal(runOf(w.r)); err != nil {
		return err
	}
	return w.put("run.json", data)
}

// writeDifference writes one row per sample.
func writeDifference(ctx context.Context, w io.Writer, c *Change, threads int, progress mesh.Progress) error {
	return writeRows(ctx, w, differenceHeader, len(c.Samples.Mesh.Vertices), func(b []byte, i int) []byte { return appendDifferenceRow(b, c, i) }, threads, progress)
}

func appendDifferenceRow(b []byte, c *Change, i int) []byte {
	v, s := c.Samples.Mesh.Vertices[i], c.Surface
	seen := [2]bool{s.State[0][i] == deviation.Measured, s.State[1][i] == deviation.Measured}
	both := seen[0] && seen[1]
	cell := func(x float64, ok bool) {
		b = append(b, ',')
		if ok && !mm(x).missing() {
			b = appendFixed(b, x, mmDecimals)
		}
	}
	b = strconv.AppendInt(b, int64(i), 10)
	for _, x := range [3]float64{v.X, v.Y, v.Z} {
		cell(x, true)
	}
	cell(s.Deviation[0][i], seen[0])
	cell(s.Deviation[1][i], seen[1])
	cell(s.Difference[i], both)
	cell(s.U[i], both && s.U[i] != deviation.NoU)
	for k := range 2 {
		b = append(b, ',')
		b = append(b, s.State[k][i].String()...)
	}
	b = append(b, ',')
	b = append(b, s.Decision[i].String()...)
	return append(b, '\r', '\n')
}

// changedResult is a region in which the two scans differ: a row of changes.csv.
type changedResult struct {
	Region  int    `json:"region"`
	Area    num    `json:"area_mm2"`
	Size    [2]num `json:"size_mm"`
	Peak    num    `json:"peak_mm"`
	PeakU   num    `json:"peak_U_mm"`
	Mean    num    `json:"mean_mm"`
	Point   [3]num `json:"point_mm"`
	Sample  int    `json:"sample"`
	Samples int    `json:"samples"`
}

func changedOf(k int, r *deviation.Cluster, m *mesh.Mesh) changedResult {
	p := m.Vertices[r.Peak]
	return changedResult{k + 1, mm(r.Area), [2]num{mm(r.Size[0]), mm(r.Size[1])}, val(r.Value), valU(r.Value), mm(r.Mean), mm3(p), r.Peak, r.Points}
}

func changeTable(c *Change) []byte {
	t := newTable(changeHeader)
	for k := range c.Surface.Regions.List {
		r := changedOf(k, &c.Surface.Regions.List[k], c.Samples.Mesh)
		t.row(strconv.Itoa(r.Region), r.Area.String(), r.Size[0].String(), r.Size[1].String(), r.Peak.String(), r.PeakU.String(), r.Mean.String(),
			r.Point[0].String(), r.Point[1].String(), r.Point[2].String(), strconv.Itoa(r.Sample), strconv.Itoa(r.Samples))
	}
	return t.bytes()
}

func stationChangeTable(c *Change) []byte {
	t := newTable(stationChangeHeader)
	for _, s := range c.Seams {
		for _, st := range s.Stations {
			t.row(guarded(s.Name), strconv.Itoa(st.Index), mm(st.Along).String(),
				val(st.GapBefore).String(), val(st.GapAfter).String(), val(st.Gap).String(), valU(st.Gap).String(), st.GapDecision.String(),
				val(st.FlushBefore).String(), val(st.FlushAfter).String(), val(st.Flush).String(), valU(st.Flush).String(), st.FlushDecision.String(),
				st.StateBefore, st.StateAfterwards, "2")
		}
	}
	return t.bytes()
}

// changeResults is results.json of a comparison. Field order is file order.
type changeResults struct {
	Format     int                 `json:"format"`
	Tool       string              `json:"tool"`
	Version    string              `json:"version"`
	Kind       string              `json:"kind"`
	Titles     [2]string           `json:"titles"`
	Inspection inspectionResult    `json:"inspection"`
	Both       [2]inspectionResult `json:"inspections"`
	Inputs     []inputResult       `json:"inputs"`
	Placements [2]*placementResult `json:"placements"`
	Noise      [2]num              `json:"noise_mm"`
	Surface    surfaceChange       `json:"surface"`
	Seams      []seamChangeResult  `json:"seams"`
	Stations   *chanceResult       `json:"stations,omitempty"` // gaps and flushes of all seams
	Points     []pointChangeResult `json:"points,omitempty"`
	Notes      []string            `json:"notes"`
	Cautions   []string            `json:"cautions"`
	Units      map[string]string   `json:"units"`
	Files      []string            `json:"files,omitempty"`
}

type surfaceChange struct {
	Reach     num             `json:"reach_mm"`
	Limit     num             `json:"least_that_matters_mm"`
	Samples   int             `json:"samples"`
	Spacing   num             `json:"sample_spacing_mm"`
	Changed   num             `json:"share_changed"`
	Same      num             `json:"share_not_changed"`
	Undecided num             `json:"share_undecided"`
	Unseen    num             `json:"share_not_compared"`
	Mean      num             `json:"mean_mm"`
	RMS       num             `json:"rms_mm"`
	Regions   []changedResult `json:"regions"`
	Specks    int             `json:"specks"`
}

type seamChangeResult struct {
	Name     string                `json:"name"`
	Why      string                `json:"why_not_compared,omitempty"`
	Gaps     *chanceResult         `json:"gaps,omitempty"`
	Flushes  *chanceResult         `json:"flushes,omitempty"`
	Stations []stationChangeResult `json:"stations,omitempty"`
}

type stationChangeResult struct {
	Station     int    `json:"station"`
	Along       num    `json:"along_mm"`
	Gap         num    `json:"gap_change_mm"`
	GapU        num    `json:"gap_U_mm"`
	GapChange   string `json:"gap"`
	Flush       num    `json:"flush_change_mm"`
	FlushU      num    `json:"flush_U_mm"`
	FlushChange string `json:"flush"`
}

func changeOf(c *Change, summary bool) *changeResults {
	s := c.Surface
	seen := s.Share[deviation.NotCompared] < 1
	share := func(d deviation.Decision) num { return num{s.Share[d], mmDecimals, true} }
	out := &changeResults{
		Format: Format, Tool: toolName, Version: c.Version, Kind: "comparison", Titles: c.Titles, Inspection: inspectionResult{c.Identity().InspectionSHA256},
		Both:   [2]inspectionResult{{c.InspectionSHA256[0]}, {c.InspectionSHA256[1]}},
		Inputs: []inputResult{}, Noise: [2]num{mm(c.Noise[0]), mm(c.Noise[1])}, Seams: []seamChangeResult{}, Notes: list(c.Notes), Cautions: Cautions(),
		Surface: surfaceChange{
			Reach: mm(c.Reach), Limit: mm(s.Limit), Samples: len(c.Samples.Mesh.Vertices), Spacing: mm(c.Samples.Spacing),
			Changed: share(deviation.Changed), Same: share(deviation.NotChanged), Undecided: share(deviation.Undecidable), Unseen: share(deviation.NotCompared),
			Mean: num{s.Mean, mmDecimals, seen}, RMS: num{s.RMS, mmDecimals, seen}, Regions: []changedResult{}, Specks: s.Regions.Specks,
		},
		Units: map[string]string{
			"length": "mm", "U": "expanded, k = 2", "change": "the second result less the first: positive, the second stands prouder",
			"share": "of the reference's area", "samples": "places on the reference at which both scans are measured",
		},
	}
	for _, in := range c.Inputs {
		out.Inputs = append(out.Inputs, inputResult(in))
	}
	for k, p := range c.Placements {
		if p != nil {
			out.Placements[k] = placementOf(p)
		}
	}
	for k := range s.Regions.List {
		out.Surface.Regions = append(out.Surface.Regions, changedOf(k, &s.Regions.List[k], c.Samples.Mesh))
	}
	for _, seam := range c.Seams {
		one := []SeamChange{seam}
		r := seamChangeResult{Name: seam.Name, Why: seam.Why, Gaps: chanceOf(ChanceOf(one, true, false)), Flushes: chanceOf(ChanceOf(one, false, true))}
		for _, st := range seam.Stations {
			if !summary {
				r.Stations = append(r.Stations, stationChangeResult{st.Index, mm(st.Along), val(st.Gap), valU(st.Gap), st.GapDecision.String(), val(st.Flush), valU(st.Flush), st.FlushDecision.String()})
			}
		}
		out.Seams = append(out.Seams, r)
	}
	out.Stations = chanceOf(ChanceOf(c.Seams, true, true))
	for k := range c.Points {
		out.Points = append(out.Points, pointChangeOf(&c.Points[k]))
	}
	return out
}

// ChangeSummaryJSON returns a comparison's results.json without its stations and list of files.
func ChangeSummaryJSON(c *Change) ([]byte, error) { return marshal(changeOf(c, true)) }

// differences draws the reference in the colours of the change.
func (w *writer) differences(c *Change) error {
	if len(c.Views) == 0 {
		return nil
	}
	s := c.Surface
	known := make([]bool, len(s.Difference))
	for i := range known {
		known[i] = s.Decision[i] != deviation.NotCompared
	}
	scale := shade.NewScale(verdict.Tolerance{Lo: -s.Limit, Hi: s.Limit})
	model, err := soon(w.ctx, func() *shade.Model {
		m := shade.NewModel(c.Samples.Mesh, c.Samples.Normals)
		m.Paint(s.Difference, known, scale)
		return m
	})
	if err != nil {
		return err
	}
	called := changesCalled(c)
	return w.drawViews(0.5, 0.95, "difference", model, c.Samples.Mesh.Bounds(), c.Views, len(called) > 0, func(pic *shade.Picture, cam shade.Camera, view string) *image.RGBA {
		info := changeInfo(c, view)
		info.CallOuts = called
		return chart.Heat(pic, cam, scale, info, chart.Light(), pictureScale)
	})
}

func changesCalled(c *Change) []chart.CallOut {
	var out []chart.CallOut
	for k := range c.Surface.Regions.List {
		r := &c.Surface.Regions.List[k]
		if len(out) == mostCalled {
			break
		}
		out = append(out, chart.CallOut{At: c.Samples.Mesh.Vertices[r.Peak], Label: strconv.Itoa(k + 1), Text: signed(r.Value.V) + " mm"})
	}
	return out
}

func changeInfo(c *Change, view string) chart.HeatInfo {
	s := c.Surface
	info := chart.HeatInfo{Title: c.Title(), View: view,
		Ruler: chart.RulerWords{Title: "change, mm", High: "now prouder", Inside: "does not matter", Low: "now lower"}}
	add := func(label, value string) { info.Lines = append(info.Lines, chart.Line{Label: label, Value: value}) }
	add("changed", fixed(100*s.Share[deviation.Changed], 1)+" %")
	add("not changed", fixed(100*s.Share[deviation.NotChanged], 1)+" %")
	add("undecided", fixed(100*s.Share[deviation.Undecidable], 1)+" %")
	add("not seen by both", fixed(100*s.Share[deviation.NotCompared], 1)+" %")
	if s.Share[deviation.NotCompared] < 1 {
		add("mean change", signed(s.Mean)+" mm")
		add("RMS change", fixed(s.RMS, 2)+" mm")
	}
	lowest, highest := 0.0, 0.0
	for _, d := range s.Difference {
		lowest, highest = min(lowest, d), max(highest, d)
	}
	info.Lowest, info.Highest = verdict.Value{V: lowest, OK: true}, verdict.Value{V: highest, OK: true}
	add("samples", grouped(len(s.Difference)))
	add("first: "+c.Titles[0], "noise "+fixed(c.Noise[0], 3)+" mm")
	add("second: "+c.Titles[1], "noise "+fixed(c.Noise[1], 3)+" mm")
	return info
}
