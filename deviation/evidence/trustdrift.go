package evidence

import (
	"image"
	"strconv"

	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/drift"
	"shutline/deviation/length"
	"shutline/deviation/scanplan"
	"shutline/deviation/shade"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Taken is the what-if view: the surface once the drift's shapes are taken out of the scan.
type Taken struct {
	Field   *deviation.Field
	Summary deviation.Summary
	Mesh    *mesh.Mesh
	Normals []geom.Vec
	Words   string // what was taken out
}

const (
	driftHeader = "term,held,size_mm,size_U_mm,value,value_U,unit,seen,share,share_following,why,k"
	worthHeader = "row,name,over_mm,error_mm,U_mm,mm_per_m,counts,good_to_mm,why"
)

// shareDecimals of shares of variance.
const shareDecimals = 6

func driftTable(r *Record) []byte {
	t := newTable(driftHeader)
	for _, x := range driftOf(r.Drift).Terms {
		t.row(x.Term, yes(x.Held), x.Size.String(), x.SizeU.String(), x.Value.String(), x.ValueU.String(), x.Unit, yes(x.Seen), x.Share.String(), x.Following.String(), x.Why, "2")
	}
	return t.bytes()
}

func yes(b bool) string { return strconv.FormatBool(b) }

type driftResult struct {
	OK             bool        `json:"ok"`
	Why            string      `json:"why,omitempty"`
	Centre         [3]num      `json:"centre_mm"`
	Axes           [3][3]num   `json:"axes"`
	Size           [3]num      `json:"size_mm"`
	Terms          []termValue `json:"terms"`
	RMS            num         `json:"rms_mm"`
	RMSFollowing   num         `json:"rms_following_mm"`
	Left           num         `json:"rms_left_mm"`
	Total          num         `json:"share"`
	TotalFollowing num         `json:"share_following"`
	Aside          num         `json:"area_set_aside"`
	Cell           num         `json:"cell_mm"`
	Shape          num         `json:"own_shape_mm"`
	Reach          num         `json:"own_shape_reach_mm"`
}

type termValue struct {
	Term      string `json:"term"`
	Held      bool   `json:"held"`
	Size      num    `json:"size_mm"`
	SizeU     num    `json:"size_U_mm"`
	Value     num    `json:"value"`
	ValueU    num    `json:"value_U"`
	Unit      string `json:"unit"`
	Seen      bool   `json:"seen"`
	Share     num    `json:"share"`
	Following num    `json:"share_following"`
	Why       string `json:"why,omitempty"`
}

func driftOf(r *drift.Result) *driftResult {
	if r == nil {
		return nil
	}
	n := func(v float64) num { return num{v, mmDecimals, r.OK} }
	vec := func(v geom.Vec) [3]num { return [3]num{n(v.X), n(v.Y), n(v.Z)} }
	out := &driftResult{OK: r.OK, Why: r.Why, Centre: vec(r.Frame.Centre), Terms: []termValue{},
		RMS: n(r.RMS), RMSFollowing: n(r.RMSFollowing), Left: n(r.Left), Total: n(r.Total), TotalFollowing: n(r.TotalFollowing),
		Aside: n(r.Aside), Cell: n(r.Cell), Shape: n(r.Shape), Reach: num{r.Reach, mmDecimals, r.OK && r.Reach > 0}}
	for k := range 3 {
		out.Axes[k], out.Size[k] = vec(r.Frame.Axes[k]), n(r.Frame.Size[k])
	}
	if !r.OK {
		return out
	}
	for k := range r.Terms {
		x := &r.Terms[k]
		share := func(v float64) num { return num{v, shareDecimals, x.Held} }
		out.Terms = append(out.Terms, termValue{x.Kind.String(), x.Held, val(x.Size), valU(x.Size), val(x.Value), valU(x.Value), x.Kind.Unit(), x.Seen,
			share(x.Share), share(x.ShareFollowing), x.Why})
	}
	return out
}

// worthTable lists what tells of the scan, what follows, and what it is good for.
func worthTable(r *Record) []byte {
	t := newTable(worthHeader)
	w := worthOf(r)
	for _, x := range w.Tellers {
		t.row("teller", guarded(x.Name), x.Over.String(), x.Error.String(), x.U.String(), x.PerMetre.String(), yes(x.Counts), "", x.Why)
	}
	t.row("growth", "A", "", "", "", "", "", w.A.String(), w.Why)
	t.row("growth", "per metre", "1000", "", "", "", "", w.PerMetre.String(), w.Why)
	t.row("growth", "grows up to", w.Span.String(), "", "", "", "", "", w.Why)
	for _, u := range w.Uses {
		t.row("use", u.Name, u.Over.String(), "", "", "", "", u.Good.String(), u.Why)
	}
	return t.bytes()
}

type worthResult struct {
	OK       bool           `json:"ok"`
	Why      string         `json:"why,omitempty"`
	A        num            `json:"A_mm"`
	PerMetre num            `json:"per_metre_mm"`
	K        num            `json:"K"`
	Factor   num            `json:"factor"`
	Tellers  []tellerResult `json:"tellers"`
	Uses     []useResult    `json:"good_for"`
	Span     num            `json:"grows_up_to_mm"`
}

type tellerResult struct {
	Kind     string `json:"kind"`
	Name     string `json:"name"`
	Error    num    `json:"error_mm"`
	U        num    `json:"U_mm"`
	Over     num    `json:"over_mm"`
	PerMetre num    `json:"mm_per_m"`
	Counts   bool   `json:"counts"`
	Why      string `json:"why,omitempty"`
}

type useResult struct {
	Name string `json:"name"`
	Over num    `json:"over_mm"`
	Good num    `json:"good_to_mm"`
	Why  string `json:"why,omitempty"`
}

func worthOf(r *Record) *worthResult {
	g := r.Growth
	if g == nil {
		return nil
	}
	n := func(v float64) num { return num{v, mmDecimals, g.OK} }
	out := &worthResult{OK: g.OK, Why: g.Why, A: n(g.A), PerMetre: n(g.PerMetre), K: num{g.K(), 0, g.K() > 0}, Factor: n(g.Factor), Tellers: []tellerResult{}, Uses: []useResult{}, Span: n(g.Span)}
	for _, x := range g.Tellers {
		has := x.Over > 0
		out.Tellers = append(out.Tellers, tellerResult{x.Kind.String(), x.Name, mm(x.Error), mm(x.U), num{x.Over, mmDecimals, has}, num{x.PerMetre, mmDecimals, has}, x.Counts, x.Why})
	}
	for _, u := range r.Uses {
		out.Uses = append(out.Uses, useResult{u.Name, num{u.Over, mmDecimals, u.Over > 0}, val(u.Good), u.Why})
	}
	return out
}

type scaleResult struct {
	Lengths int   `json:"lengths"`
	PPM     num   `json:"ppm"`
	U       num   `json:"ppm_U"`
	Chi2    num   `json:"chi_square"`
	DoF     int   `json:"degrees_of_freedom"`
	P       num   `json:"chance"`
	Common  *bool `json:"one_scale_explains_them"`
}

// scaleOf is the scale that the known lengths tell; nil without any.
func scaleOf(s length.Scale) *scaleResult {
	if !s.PPM.OK {
		return nil
	}
	out := &scaleResult{Lengths: s.Lengths, PPM: num{s.PPM.V, ppmDecimals, true}, U: num{s.PPM.U, ppmDecimals, true},
		Chi2: num{s.Chi2, mmDecimals, s.DoF > 0}, DoF: s.DoF, P: num{s.P, mmDecimals, s.DoF > 0}}
	if s.DoF > 0 {
		out.Common = &s.Common
	}
	return out
}

type planResult struct {
	OK      bool        `json:"ok"`
	Why     string      `json:"why,omitempty"`
	Wanted  num         `json:"wanted_mm"`
	Error   num         `json:"seen_mm"`
	Path    num         `json:"seen_after_mm"`
	Power   num         `json:"power"`
	Fitted  bool        `json:"power_fitted"`
	Chosen  *wayResult  `json:"chosen"`
	Ways    []wayResult `json:"ways"`
	Overlap num         `json:"overlap_mm"`
	Bar     num         `json:"scale_bar_mm"`
	Steps   []string    `json:"steps"`
}

type wayResult struct {
	Pieces int    `json:"pieces"`
	Start  string `json:"start"`
	Hold   string `json:"held_by"`
	Path   num    `json:"path_mm"`
	FarEnd num    `json:"far_end_mm"`
	Length num    `json:"length_mm"`
	Joins  bool   `json:"joins"`
}

func wayOf(p scanplan.Prediction) wayResult {
	return wayResult{p.Pieces, p.Start.String(), p.Hold.String(), mm(p.Path), mm(p.FarEnd), mm(p.Length), p.Joins}
}

func planOf(p *scanplan.Plan) *planResult {
	if p == nil {
		return nil
	}
	g := p.Growth.OK
	out := &planResult{OK: p.OK, Why: p.Why, Wanted: mm(p.Wanted), Error: num{p.Growth.Error, mmDecimals, g}, Path: num{p.Growth.Path, mmDecimals, g},
		Power: num{p.Growth.Power, mmDecimals, g}, Fitted: p.Growth.Fitted, Ways: []wayResult{}, Overlap: num{p.Overlap, mmDecimals, p.Overlap > 0},
		Bar: num{p.Bar, mmDecimals, p.Bar > 0}, Steps: list(p.Steps)}
	for _, w := range p.Tried {
		out.Ways = append(out.Ways, wayOf(w))
	}
	if len(p.Tried) > 0 {
		c := wayOf(p.Chosen)
		out.Chosen = &c
	}
	return out
}

// whatIf draws the surface with the drift taken out, each picture marked as no result.
func (w *writer) whatIf() error {
	t, s := w.r.Taken, w.r.Surface
	if t == nil || s == nil {
		return nil
	}
	known := make([]bool, len(t.Field.State))
	for i, state := range t.Field.State {
		known[i] = state == deviation.Measured
	}
	scale := shade.NewScale(s.Tolerance)
	model, err := soon(w.ctx, func() *shade.Model {
		m := shade.NewModel(t.Mesh, t.Normals)
		m.Paint(t.Field.Deviation, known, scale)
		return m
	})
	if err != nil {
		return err
	}
	for _, view := range s.Views {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		cam, ok := shade.ViewOf(view, t.Mesh.Bounds(), float64(heatWidth)/heatHeight)
		if !ok {
			continue // the view was refused for the measured surface already
		}
		img, err := soon(w.ctx, func() *image.RGBA {
			pic := shade.RenderStill([]*shade.Model{model}, roomFor(cam, heatWidth, heatHeight, false), shade.LightTheme(), heatWidth, heatHeight, w.o.Threads)
			return w.marked(pic, cam, scale, view)
		})
		if err != nil {
			return err
		}
		if err := w.footed("heat-"+view+"-drift-taken-out.png", img); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) marked(pic *shade.Picture, cam shade.Camera, scale shade.Scale, view string) *image.RGBA {
	t := w.r.Taken
	f, _ := t.Summary.Figures()
	info := chart.HeatInfo{Title: titleOf(w.r), View: view, Mark: "WHAT IF, NO RESULT: taken out " + t.Words}
	if f.OK {
		info.Lines = []chart.Line{
			{Label: "in tolerance", Value: fixed(100*f.ShareInTolerance, 1) + " %"},
			{Label: "RMS", Value: fixed(f.RMS, 2) + " mm"},
		}
		if was, _ := w.r.Surface.Summary.Figures(); was.OK {
			info.Lines = append(info.Lines, chart.Line{Label: "as measured", Value: fixed(100*was.ShareInTolerance, 1) + " %, RMS " + fixed(was.RMS, 2) + " mm"})
		}
	}
	return chart.Heat(pic, roomFor(cam, heatWidth, heatHeight, false), scale, info, chart.Light(), pictureScale)
}
