package evidence

import (
	"bytes"
	"encoding/json"
	"math"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/mesh"
)

// Format is the version of results.json's layout.
const Format = 1

// toolName stands in results.json, so that a file of that name can be told from another program's.
const toolName = "shutline"

// results is results.json. Field order is file order.
type results struct {
	Format     int               `json:"format"`
	Tool       string            `json:"tool"`
	Version    string            `json:"version"`
	Title      string            `json:"title"`
	Verdict    *string           `json:"verdict"`
	Inspection inspectionResult  `json:"inspection"`
	Inputs     []inputResult     `json:"inputs"`
	Placement  *placementResult  `json:"placement"`
	Placements []placementRow    `json:"placements,omitempty"`
	Mirror     *mirrorResult     `json:"mirror,omitempty"`
	Surface    *surfaceResult    `json:"surface"`
	Seams      []seamResult      `json:"seams"`
	Paths      []pathResult      `json:"paths,omitempty"`
	Lengths    []lengthResult    `json:"lengths"`
	Scale      *scaleResult      `json:"scale,omitempty"`
	Closure    *closureResult    `json:"closure,omitempty"`
	Joined     *joinedResult     `json:"pieces,omitempty"`
	Drift      *driftResult      `json:"drift,omitempty"`
	Worth      *worthResult      `json:"worth,omitempty"`
	Plan       *planResult       `json:"plan,omitempty"`
	Sections   []sectionResult   `json:"sections,omitempty"`
	Checks     []checkResult     `json:"checks,omitempty"`
	Points     []pointResult     `json:"points"`
	Defaults   []string          `json:"defaults"`
	Notes      []string          `json:"notes"`
	Cautions   []string          `json:"cautions"`
	Units      map[string]string `json:"units"`
	Files      []string          `json:"files,omitempty"`
}

type inspectionResult struct {
	SHA256 string `json:"sha256"`
}

type inputResult struct {
	Role             string `json:"role"`
	Name             string `json:"name"`
	SHA256           string `json:"sha256"`
	Bytes            int64  `json:"bytes"`
	Format           string `json:"format"`
	Unit             string `json:"unit"`
	UnitSource       string `json:"unit_source"`
	Vertices         int    `json:"vertices"`
	Faces            int    `json:"faces"`
	DroppedNotFinite int    `json:"dropped_not_finite"`
	DroppedNoArea    int    `json:"dropped_no_area"`
}

type placementResult struct {
	Method      string          `json:"method"`
	Matrix      []num           `json:"matrix"`
	RMS         num             `json:"rms_mm"`
	PointsUsed  *int            `json:"points_used"`
	ShareUsed   num             `json:"share_used"`
	Uncertainty map[string]num  `json:"standard_uncertainty"`
	Free        []string        `json:"free"`
	Centre      [3]num          `json:"centre_mm"`
	Ambiguous   bool            `json:"ambiguous"`
	Verified    *verifiedResult `json:"verified"`
	Notes       []string        `json:"notes"`
	Covariance  [][]num         `json:"covariance_mm_deg"`
	NoSigma     string          `json:"no_uncertainty_because,omitempty"`
	Datums      *datumsResult   `json:"datums,omitempty"`
	Pairs       *pairsResult    `json:"pairs,omitempty"`
	Regions     []regionResult  `json:"regions,omitempty"`
	sigma       [6]num
}

// motionNames are the six motions in the order of a placement.
var motionNames = [6]string{"tx", "ty", "tz", "rx", "ry", "rz"}

func placementOf(p *align.Placement) *placementResult {
	out := &placementResult{Method: p.Method, Ambiguous: p.Ambiguous, Notes: list(p.Notes), Free: []string{}, Uncertainty: map[string]num{}}
	out.Matrix = matrixOf(p.ReferenceFromScan)
	out.NoSigma, out.Datums, out.Pairs, out.Regions = p.NoSigma, datumsOf(p.Datums), pairsOf(p.Pairs), regionsOf(p.Regions)
	out.Covariance, out.Verified = covarianceOf(p), verifiedOf(p)
	out.RMS = num{p.RMS, mmDecimals, p.RMSKnown}
	out.ShareUsed = num{p.ShareUsed, mmDecimals, p.RMSKnown}
	if p.RMSKnown {
		out.PointsUsed = &p.PointsUsed
	}
	for k, name := range motionNames {
		known := !p.Free[k] && p.NoSigma == ""
		u, key := num{p.Sigma[k], mmDecimals, known}, "u_"+name+"_mm"
		if k >= 3 {
			u, key = num{p.Sigma[k] * 180 / math.Pi, rotationDecimals, known}, "u_"+name+"_deg"
		}
		out.sigma[k] = u
		out.Uncertainty[key] = u
		if p.Free[k] {
			out.Free = append(out.Free, name)
		}
	}
	out.Centre = mm3(p.Centre)
	return out
}

type surfaceResult struct {
	Reach            num             `json:"reach_mm"`
	Tolerance        [2]num          `json:"tolerance_mm"`
	WantedShare      num             `json:"wanted_share"`
	Verdict          *string         `json:"verdict"`
	Points           map[string]int  `json:"points"`
	Lowest           *spotResult     `json:"lowest"`
	Highest          *spotResult     `json:"highest"`
	AreaWeighted     figuresResult   `json:"area_weighted"`
	Unweighted       figuresResult   `json:"unweighted"`
	ReferenceCovered num             `json:"reference_covered"`
	U                doubtResult     `json:"U"`
	Clusters         []clusterResult `json:"clusters"`
	Specks           int             `json:"specks"`
	SpecksArea       num             `json:"specks_area_mm2"`
	Notes            []string        `json:"notes"`
}

// doubtResult is what is known about the uncertainty of the deviations.
type doubtResult struct {
	Noise   num `json:"noise_mm"`
	P50     num `json:"p50_mm"`
	P95     num `json:"p95_mm"`
	Max     num `json:"max_mm"`
	Without int `json:"points_without"`
}

func doubtOf(s deviation.Summary) doubtResult {
	n := func(v float64) num { return num{v, mmDecimals, s.U.OK} }
	out := doubtResult{n(s.U.Noise), n(s.U.P50), n(s.U.P95), n(s.U.Max), s.U.Without}
	if !s.U.OK {
		out.Without = s.Count[deviation.Measured]
	}
	return out
}

// spotResult is a vertex of surface.csv.
type spotResult struct {
	Vertex    int    `json:"vertex"`
	Point     [3]num `json:"point_mm"`
	Deviation num    `json:"deviation_mm"`
}

// spotsOf finds the measured vertices that lie lowest and stand highest, the first of equal ones; nil for none.
func spotsOf(s *Surface, m *mesh.Mesh) (lowest, highest *spotResult) {
	lo, hi := -1, -1
	for i, state := range s.Field.State {
		if d := s.Field.Deviation[i]; state == deviation.Measured && !mm(d).missing() {
			if lo < 0 || d < s.Field.Deviation[lo] {
				lo = i
			}
			if hi < 0 || d > s.Field.Deviation[hi] {
				hi = i
			}
		}
	}
	if lo < 0 || m == nil {
		return nil, nil
	}
	spot := func(i int) *spotResult {
		v := m.Vertices[i]
		return &spotResult{i, mm3(v), mm(s.Field.Deviation[i])}
	}
	return spot(lo), spot(hi)
}

type figuresResult struct {
	Mean  num `json:"mean_mm"`
	SD    num `json:"sd_mm"`
	RMS   num `json:"rms_mm"`
	Min   num `json:"min_mm"`
	Max   num `json:"max_mm"`
	P025  num `json:"p2.5_mm"`
	P50   num `json:"p50_mm"`
	P975  num `json:"p97.5_mm"`
	Share num `json:"share_in_tolerance"`
}

// figureNames are the rows of surface-summary.csv, in the order of list.
var figureNames = [...]string{"mean_mm", "sd_mm", "rms_mm", "min_mm", "max_mm", "p2.5_mm", "p50_mm", "p97.5_mm", "share_in_tolerance"}

func figuresOf(f deviation.Figures) figuresResult {
	n := func(v float64) num { return num{v, mmDecimals, f.OK} }
	return figuresResult{n(f.Mean), n(f.SD), n(f.RMS), n(f.Min), n(f.Max), n(f.P025), n(f.P50), n(f.P975), n(f.ShareInTolerance)}
}

func (f figuresResult) list() [9]num {
	return [...]num{f.Mean, f.SD, f.RMS, f.Min, f.Max, f.P025, f.P50, f.P975, f.Share}
}

func surfaceOf(s *Surface, m *mesh.Mesh) *surfaceResult {
	out := &surfaceResult{
		Reach: mm(s.Reach), Tolerance: [2]num{mm(s.Tolerance.Lo), mm(s.Tolerance.Hi)},
		WantedShare: num{s.Share, mmDecimals, s.HasShare}, Verdict: present(s.Verdict),
		Points:       map[string]int{},
		AreaWeighted: figuresOf(s.Summary.AreaWeighted), Unweighted: figuresOf(s.Summary.Unweighted),
		ReferenceCovered: mm(s.Summary.ReferenceCovered), U: doubtOf(s.Summary), Notes: list(s.Field.Notes),
	}
	for _, state := range countOrder {
		out.Points[state.String()] = s.Summary.Count[state]
	}
	out.Lowest, out.Highest = spotsOf(s, m)
	out.Clusters = []clusterResult{}
	for k := range s.Clusters.List {
		out.Clusters = append(out.Clusters, clusterOf(k, &s.Clusters.List[k], m))
	}
	out.Specks, out.SpecksArea = s.Clusters.Specks, mm(s.Clusters.SpecksArea)
	return out
}

type lengthResult struct {
	Name     string  `json:"name"`
	Measured num     `json:"measured_mm"`
	MU       num     `json:"measured_U_mm"`
	Known    num     `json:"known_mm"`
	KnownU   num     `json:"known_U_mm"`
	Error    num     `json:"error_mm"`
	ErrorPPM num     `json:"error_ppm"`
	U        num     `json:"U_mm"`
	Allowed  num     `json:"allowed_mm"`
	Verdict  *string `json:"verdict"`
	Why      string  `json:"why,omitempty"`

	Between string       `json:"between"`
	Ends    *[2][3]num   `json:"ends_mm,omitempty"`
	Budget  []budgetLine `json:"budget,omitempty"`
}

func lengthOf(l Length) lengthResult {
	out := lengthResult{l.Name, val(l.Measured), valU(l.Measured), val(l.Known), valU(l.Known), val(l.Error),
		num{l.ErrorPPM, ppmDecimals, l.Error.OK}, valU(l.Error), val(l.Allowed), present(l.Verdict), l.Why, l.Between, nil, nil}
	if l.Measured.OK {
		out.Ends = &[2][3]num{}
		for k, p := range l.Ends {
			out.Ends[k] = mm3(p)
		}
		for _, b := range l.Budget {
			out.Budget = append(out.Budget, budgetLine{b.Source, mm(b.U)})
		}
	}
	return out
}

// list keeps an empty list from becoming null.
func list(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

// resultsOf gathers results.json; a summary leaves the stations out.
func resultsOf(r *Record, summary bool) *results {
	out := &results{
		Format: Format, Tool: toolName, Version: r.Version, Title: r.Title, Verdict: present(r.Verdict),
		Inspection: inspectionResult{r.InspectionSHA256},
		Inputs:     []inputResult{}, Seams: []seamResult{}, Lengths: []lengthResult{},
		Defaults: list(r.Defaults), Notes: list(r.Notes), Cautions: Cautions(),
		Units: map[string]string{
			"length": "mm", "angle": "degrees", "U": "expanded, k = 2",
			"standard_uncertainty": "k = 1",
			"budget":               "standard uncertainties, k = 1; U is twice the root of the sum of their squares",
			"matrix":               "row by row; carries a point of the scan's file (in mm) into the reference's frame: p_ref = R p_scan + t",
			"points":               "positions are in the reference's frame, without a reference in the scan's own",
			"measured":             "stations with a gap; others may still have a flush",
			"deviation":            "positive: the scan stands proud of the reference",
			"flush":                "positive: the other panel stands proud of the master",
		},
	}
	for _, in := range r.Inputs {
		out.Inputs = append(out.Inputs, inputResult(in))
	}
	if r.Placement != nil {
		out.Placement = placementOf(r.Placement)
		out.Placements, out.Mirror = placementRows(r), mirrorOf(r.Mirror)
	}
	if r.Surface != nil {
		out.Surface = surfaceOf(r.Surface, r.Mesh)
	}
	for _, p := range r.Paths {
		out.Paths = append(out.Paths, pathOf(p))
	}
	names := seamFiles(r)
	for k, s := range r.Seams {
		out.Seams = append(out.Seams, seamOf(s, summary))
		out.Seams[k].Picture = seamPicture(names[k])
	}
	for _, c := range r.Checks {
		out.Checks = append(out.Checks, checkOf(c))
	}
	names = sectionFiles(r)
	for k, c := range r.Sections {
		one := sectionOf(c)
		if c.Missing == "" {
			one.Table = "section-" + names[k] + ".csv"
		}
		out.Sections = append(out.Sections, one)
	}
	for _, l := range r.Lengths {
		out.Lengths = append(out.Lengths, lengthOf(l))
	}
	out.Closure = closureOf(r.Closure)
	out.Joined = joinedOf(r.Joined)
	out.Scale, out.Drift, out.Worth, out.Plan = scaleOf(r.Scale), driftOf(r.Drift), worthOf(r), planOf(r.Plan)
	out.Points = []pointResult{}
	for _, p := range r.Points {
		out.Points = append(out.Points, pointOf(p))
	}
	return out
}

// SummaryJSON returns results.json without its stations and list of files.
func SummaryJSON(r *Record) ([]byte, error) { return marshal(resultsOf(r, true)) }

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(v)
	return b.Bytes(), err
}
