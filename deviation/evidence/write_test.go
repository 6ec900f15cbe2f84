package evidence_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// record is a small inspection of a plate with n by n squares.
func record(n int) *evidence.Record {
	m := &mesh.Mesh{}
	for y := range n + 1 {
		for x := range n + 1 {
			m.Vertices = append(m.Vertices, geom.Vec{X: float64(10 * x), Y: 0.5, Z: float64(10 * y)})
		}
	}
	at := func(x, y int) uint32 { return uint32(y*(n+1) + x) }
	for y := range n {
		for x := range n {
			m.Faces = append(m.Faces, [3]uint32{at(x, y), at(x+1, y), at(x+1, y+1)}, [3]uint32{at(x, y), at(x+1, y+1), at(x, y+1)})
		}
	}
	f := &deviation.Field{Deviation: make([]float64, len(m.Vertices)), State: make([]deviation.State, len(m.Vertices)), Covered: 0.75}
	for i := range f.Deviation {
		f.Deviation[i] = 0.001 * float64(i%1000-500)
	}
	f.State[1], f.Deviation[1] = deviation.BeyondReach, 0
	f.State[2], f.Deviation[2] = deviation.FacingAway, 0
	f.Deviation[3] = -1e-9
	f.Budget = make([]deviation.Budget, len(f.State))
	f.Budget[4].Placement = -1
	f.Expand(0.03, 1)
	ok := func(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }
	seam := func(name string) *gapflush.Result {
		return &gapflush.Result{
			Seam: gapflush.DefaultSeam(name, []geom.Vec{{}, {Z: 50}}), Measured: 1, GapMean: ok(4.25, 0.1), Verdict: verdict.Undecided,
			Stations: []gapflush.Station{
				{Index: 1, Along: 12.5, State: gapflush.Measured, Gap: ok(4.25, 0.1), Flush: ok(-0.5, 0.05), Angle: ok(math.Pi/6, 0), GapVerdict: verdict.Conforms,
					Side: [2]gapflush.SideFit{{NoseState: gapflush.Seen}, {NoseState: gapflush.Carried}}, GapBudget: []gapflush.BudgetLine{{Source: "fit of A", U: 0.02}}},
				{Index: 2, Along: 37.5, State: gapflush.NoseUnseen, Why: "too little", Flush: ok(math.NaN(), math.Inf(1)), FlushVerdict: verdict.Undecided},
			},
		}
	}
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	judged := func(name string) *gapflush.Result {
		r := seam(name)
		r.Seam.Gap = gapflush.Target{Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
		return r
	}
	return &evidence.Record{
		Version: "test", Title: "=cmd()", InspectionSHA256: strings.Repeat("a", 64),
		Inputs:    []evidence.Input{{Role: "scan", Name: "scan.stl", SHA256: strings.Repeat("b", 64), Unit: "mm", UnitSource: "stated"}},
		Placement: &align.Placement{Method: "best-fit", ReferenceFromScan: geom.Identity(), RMS: 0.03, RMSKnown: true, PointsUsed: 7, ShareUsed: 0.5, Sigma: [6]float64{0.01, 0.02, 0.03, 1e-5, 2e-5, 0}, Free: [6]bool{false, false, false, false, false, true}},
		Surface:   &evidence.Surface{Field: f, Summary: deviation.Summarise(f, m.VertexAreas(), tol), Reach: 10, Tolerance: tol, Views: []string{"left"}},
		Seams:     []*gapflush.Result{judged("=Wing to Door"), judged("=wing+to door")}, SeamPictures: []string{"all", "worst"},
		Lengths: []evidence.Length{{Name: "@overall", Measured: ok(100.1, 0.05), Known: ok(100, 0.02), Error: ok(0.1, 0.06), ErrorPPM: 1000, Verdict: verdict.Conforms}, {Name: "none", Why: "no surface"}},
		Verdict: verdict.Undecided, Mesh: m,
	}
}

func write(t *testing.T, r *evidence.Record, dir string, o evidence.Options) {
	t.Helper()
	require.NoError(t, evidence.Write(context.Background(), r, dir, o))
}

func read(t *testing.T, dir, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name))
	require.NoError(t, err)
	return string(data)
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	out := []string{}
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWritesTheContractsFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "results")
	write(t, record(4), dir, evidence.Options{})
	require.Equal(t, []string{
		"clusters.csv", "heat-left.png", "lengths.csv", "placement.csv", "results.json", "run.json", "seam--wing-to-door-2.png", "seam--wing-to-door.png", "seams.csv",
		"station--wing-to-door-001.png", "station--wing-to-door-002.png", "station--wing-to-door-2-001.png", "station--wing-to-door-2-002.png", "stations-budget.csv", "stations.csv", "surface-summary.csv", "surface.csv", "uncertainty-left.png",
	}, names(t, dir))
	require.Equal(t, "m00,m01,m02,m03,m10,m11,m12,m13,m20,m21,m22,m23,m30,m31,m32,m33,rms_mm,points_used,share_used,u_tx_mm,u_ty_mm,u_tz_mm,u_rx_deg,u_ry_deg,u_rz_deg,k\r\n"+
		"1,0,0,0,0,1,0,0,0,0,1,0,0,0,0,1,0.030000,7,0.500000,0.010000,0.020000,0.030000,0.000572958,0.001145916,,1\r\n", read(t, dir, "placement.csv"))
	require.Equal(t, "seam,station,along_mm,x_mm,y_mm,z_mm,gap_mm,gap_U_mm,feeler_mm,flush_mm,flush_U_mm,gap_nominal_mm,flush_nominal_mm,gap_verdict,flush_verdict,nose_a,nose_b,state,angle_deg,feeler_U_mm,gap_tolerance_lo_mm,gap_tolerance_hi_mm,flush_tolerance_lo_mm,flush_tolerance_hi_mm,k\r\n"+
		"'=Wing to Door,1,12.500000,0.000000,0.000000,0.000000,4.250000,0.100000,,-0.500000,0.050000,,,conforms,,seen,carried,measured,30.000000,,-1.000000,1.000000,,,2\r\n"+
		"'=Wing to Door,2,37.500000,0.000000,0.000000,0.000000,,,,,,,,,undecided,unseen,unseen,nose-unseen,,,-1.000000,1.000000,,,2\r\n",
		strings.SplitAfter(read(t, dir, "stations.csv"), "nose-unseen,,,-1.000000,1.000000,,,2\r\n")[0])
	require.Equal(t, "seam,stations,measured,gap_mean_mm,gap_min_mm,gap_max_mm,taper_mm_per_100mm,flush_mean_mm,flush_min_mm,flush_max_mm,taper_verdict,verdict,with_gap,with_flush,gap_mean_U_mm,gap_min_U_mm,gap_max_U_mm,taper_U_mm_per_100mm,flush_mean_U_mm,flush_min_U_mm,flush_max_U_mm,k,sides,why,picture,verdict_of\r\n"+
		"'=Wing to Door,2,1,4.250000,,,,,,,,undecided,1,2,0.100000,,,,,,,2,,,seam--wing-to-door.png,gap: conforms; flush: undecided; 1 of 2 stations without a number: undecided\r\n'=wing+to door,2,1,4.250000,,,,,,,,undecided,1,2,0.100000,,,,,,,2,,,seam--wing-to-door-2.png,gap: conforms; flush: undecided; 1 of 2 stations without a number: undecided\r\n", read(t, dir, "seams.csv"))
	require.Equal(t, "name,measured_mm,known_mm,error_mm,error_ppm,U_mm,allowed_mm,verdict,between,measured_U_mm\r\n"+
		"'@overall,100.100000,100.000000,0.100000,1000.000,0.060000,,conforms,,0.050000\r\nnone,,,,,,,,,\r\n", read(t, dir, "lengths.csv"))
	require.Equal(t, "figure,area_weighted,unweighted\r\nmeasured,,23\r\nbeyond-reach,,1\r\noff-edge,,0\r\nfacing-away,,1\r\n",
		strings.SplitAfter(read(t, dir, "surface-summary.csv"), "facing-away,,1\r\n")[0])
	rows := strings.Split(read(t, dir, "surface.csv"), "\r\n")
	require.Equal(t, "vertex,x_mm,y_mm,z_mm,deviation_mm,state,U_mm", rows[0])
	require.Equal(t, "0,0.000000,0.500000,0.000000,-0.500000,measured,0.060000", rows[1])
	require.Equal(t, "1,10.000000,0.500000,0.000000,,beyond-reach,", rows[2])
	require.Equal(t, "3,30.000000,0.500000,0.000000,0.000000,measured,0.060000", rows[4])
	require.Equal(t, "4,40.000000,0.500000,0.000000,-0.496000,measured,", rows[5], "no uncertainty is an empty cell")
	require.Len(t, rows, 1+25+1)
	require.Contains(t, read(t, dir, "surface-summary.csv"), "noise_mm,,0.030000\r\nU_p50_mm,,0.060000\r\nU_p95_mm,,0.060000\r\nU_max_mm,,0.060000\r\nwithout_U,,1\r\n")
}

// A region and two points, one without a value: as rows, as JSON, and with text that a spreadsheet must not run.
func TestRegionsAndPointsAreWritten(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "r")
	r := record(4)
	r.Surface.Clusters = deviation.Clusters{Specks: 2, SpecksArea: 1.5, List: []deviation.Cluster{{
		State: deviation.BeyondByU, Verdict: verdict.DoesNotConform, Points: 7, Core: 7, Area: 120.5, Mean: -0.75, Excess: 33, Peak: 6,
		Value: verdict.Value{V: -1.25, U: 0.06, OK: true}, HasU: true, Size: [2]float64{20, 10},
	}}}
	r.Points = []evidence.Point{
		{Name: "=A", At: geom.Vec{X: 1, Y: 2, Z: 3}, Radius: 5, HasTolerance: true, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}, Verdict: verdict.Conforms,
			Spot: deviation.Spot{Value: verdict.Value{V: 0.125, U: 0.02, OK: true}, Points: 31, Foot: geom.Vec{X: 1, Y: 0.5, Z: 3}}},
		{Name: "B", Radius: 4, Spot: deviation.Spot{State: deviation.OffReference, Why: "too far"}},
	}
	write(t, r, dir, evidence.Options{})
	require.Equal(t, "cluster,state,verdict,area_mm2,length_mm,width_mm,peak_mm,peak_U_mm,mean_mm,x_mm,y_mm,z_mm,vertex,points,excess_mm3\r\n"+
		"1,beyond-by-U,does not conform,120.500000,20.000000,10.000000,-1.250000,0.060000,-0.750000,10.000000,0.500000,10.000000,6,7,33.000000\r\n", read(t, dir, "clusters.csv"))
	require.Equal(t, "name,x_mm,y_mm,z_mm,deviation_mm,U_mm,tolerance_lo_mm,tolerance_hi_mm,verdict,state,radius_mm,points,k\r\n"+
		"'=A,1.000000,2.000000,3.000000,0.125000,0.020000,-0.500000,0.500000,conforms,measured,5.000000,31,2\r\n"+
		"B,0.000000,0.000000,0.000000,,,,,,off-reference,4.000000,0,2\r\n", read(t, dir, "points.csv"))
	var got map[string]any
	require.NoError(t, json.Unmarshal([]byte(read(t, dir, "results.json")), &got))
	require.Equal(t, "too far", got["points"].([]any)[1].(map[string]any)["why"])
	require.EqualValues(t, 2, got["surface"].(map[string]any)["specks"])
	require.EqualValues(t, -1.25, got["surface"].(map[string]any)["clusters"].([]any)[0].(map[string]any)["peak_mm"])
}

func TestResultsHoldEverythingAndNoNumberThatIsNone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "r")
	write(t, record(4), dir, evidence.Options{})
	var got map[string]any
	text := read(t, dir, "results.json")
	require.NoError(t, json.Unmarshal([]byte(text), &got))
	require.EqualValues(t, 1, got["format"])
	require.Equal(t, "undecided", got["verdict"])
	require.Equal(t, []any{"rz"}, got["placement"].(map[string]any)["free"])
	require.Nil(t, got["placement"].(map[string]any)["standard_uncertainty"].(map[string]any)["u_rz_deg"])
	require.Len(t, got["cautions"], 3)
	// Vertex 0 has −0.5 mm, vertex 3 −1e-9 mm, and the others are between.
	surface := got["surface"].(map[string]any)
	require.Equal(t, map[string]any{"vertex": 0.0, "point_mm": []any{0.0, 0.5, 0.0}, "deviation_mm": -0.5}, surface["lowest"])
	require.Equal(t, map[string]any{"vertex": 3.0, "point_mm": []any{30.0, 0.5, 0.0}, "deviation_mm": 0.0}, surface["highest"], "−1e-9 is written as 0")
	station := got["seams"].([]any)[0].(map[string]any)["stations"].([]any)
	require.Nil(t, station[1].(map[string]any)["flush_mm"])
	require.Equal(t, "fit of A", station[0].(map[string]any)["gap_budget"].([]any)[0].(map[string]any)["source"])
	require.NotContains(t, text, dir)
	for _, name := range names(t, dir) {
		if filepath.Ext(name) == ".csv" {
			cells, err := csv.NewReader(strings.NewReader(read(t, dir, name))).ReadAll()
			require.NoError(t, err, name)
			for _, row := range cells {
				for _, cell := range row {
					require.NotContains(t, []string{"NaN", "+Inf", "-Inf", "Inf"}, cell)
				}
			}
		}
	}
}

func TestSameBytesForAnyThreadsAndFolder(t *testing.T) {
	a, b := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "other", "b")
	r := record(300) // 90,601 vertices, eleven runs of rows
	write(t, r, a, evidence.Options{Threads: 1})
	write(t, r, b, evidence.Options{Threads: 3})
	require.Equal(t, names(t, a), names(t, b))
	for _, name := range names(t, a) {
		if name != "run.json" {
			require.True(t, bytes.Equal([]byte(read(t, a, name)), []byte(read(t, b, name))), name)
		}
	}
}

func TestStaleFilesGoForeignOnesStay(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "r")
	r := record(4)
	write(t, r, dir, evidence.Options{})
	require.NoError(t, os.WriteFile(filepath.Join(dir, "my notes.txt"), []byte("x"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "station-mine-001.png"), []byte("x"), 0o600))
	r.SeamPictures = []string{"none", "none"}
	r.Surface.Views = nil
	write(t, r, dir, evidence.Options{})
	require.Equal(t, []string{
		"clusters.csv", "lengths.csv", "my notes.txt", "placement.csv", "results.json", "run.json", "seam--wing-to-door-2.png", "seam--wing-to-door.png", "seams.csv",
		"station-mine-001.png", "stations-budget.csv", "stations.csv", "surface-summary.csv", "surface.csv",
	}, names(t, dir))
}

func TestAnEditedListOfFilesRemovesNothingElse(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "r")
	r := record(4)
	write(t, r, dir, evidence.Options{})
	outside := filepath.Join(top, "keep.csv")
	require.NoError(t, os.WriteFile(outside, []byte("x"), 0o600))
	text := strings.Replace(read(t, dir, "results.json"), `"surface.csv"`, `"surface.csv", "../keep.csv", "heat-../../keep.png"`, 1)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "results.json"), []byte(text), 0o600))
	write(t, r, dir, evidence.Options{})
	require.FileExists(t, outside)
}

func TestOtherResultsAreRefused(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "r")
	r := record(4)
	write(t, r, dir, evidence.Options{})
	before := read(t, dir, "results.json")
	var refused *evidence.WriteError
	for name, change := range map[string]func(*evidence.Record){
		"inspection": func(r *evidence.Record) { r.InspectionSHA256 = strings.Repeat("c", 64) },
		"scan":       func(r *evidence.Record) { r.Inputs[0].SHA256 = strings.Repeat("c", 64) },
		"reference":  func(r *evidence.Record) { r.Inputs = append(r.Inputs, evidence.Input{Role: "reference"}) },
	} {
		other := record(4)
		change(other)
		err := evidence.Write(context.Background(), other, dir, evidence.Options{})
		require.ErrorAs(t, err, &refused, name)
		require.ErrorContains(t, err, "--replace")
		require.ErrorAs(t, evidence.CheckFolder(other, dir, false), &refused)
		require.NoError(t, evidence.CheckFolder(other, dir, true))
		require.Equal(t, before, read(t, dir, "results.json"))
	}
	r.InspectionSHA256 = strings.Repeat("d", 64)
	write(t, r, dir, evidence.Options{Replace: true})
	require.NotEqual(t, before, read(t, dir, "results.json"))
}

func TestForeignFoldersAreRefused(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, evidence.CheckFolder(record(4), dir, false), "an empty folder is fine")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "results.json"), []byte(`{"format": 1}`), 0o600))
	err := evidence.Write(context.Background(), record(4), dir, evidence.Options{})
	require.ErrorContains(t, err, "the folder holds other files (results.json)")
	require.Equal(t, []string{"results.json"}, names(t, dir))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.txt"), []byte("x"), 0o600))
	write(t, record(4), dir, evidence.Options{Replace: true})
	require.FileExists(t, filepath.Join(dir, "a.txt"))
}

func TestFoldersThatCannotBe(t *testing.T) {
	file := filepath.Join(t.TempDir(), "f")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	var refused *evidence.WriteError
	require.ErrorAs(t, evidence.Write(context.Background(), record(4), file, evidence.Options{Replace: true}), &refused)
	require.ErrorContains(t, refused, "is a file")
	require.ErrorAs(t, evidence.CheckFolder(record(4), filepath.Join(file, "below"), false), &refused)
	require.ErrorAs(t, evidence.Write(context.Background(), record(4), filepath.Join(file, "below"), evidence.Options{}), &refused)
}

func TestALinkToNothingIsRefusedBeforeTheWork(t *testing.T) {
	link := filepath.Join(t.TempDir(), "link")
	require.NoError(t, os.Symlink("nowhere", link))
	var refused *evidence.WriteError
	require.ErrorAs(t, evidence.CheckFolder(record(4), link, true), &refused)
	require.ErrorContains(t, refused, "is a link to a folder that does not exist")
}

// stopping is a context that ends after a number of looks at it.
type stopping struct {
	context.Context
	left int
}

func (s *stopping) Err() error {
	if s.left--; s.left < 0 {
		return context.Canceled
	}
	return nil
}

func TestInterruptedAnywhereLeavesNothing(t *testing.T) {
	top := t.TempDir()
	r := record(4)
	r.Seams, r.SeamPictures = r.Seams[:1], []string{"none"}
	finished := false
	for looks := 0; !finished; looks++ {
		require.Less(t, looks, 200)
		err := evidence.Write(&stopping{context.Background(), looks}, r, filepath.Join(top, "a", "b"), evidence.Options{Threads: 1})
		if finished = err == nil; !finished {
			require.ErrorIs(t, err, context.Canceled)
			require.Empty(t, names(t, top))
		}
	}
	// The same over results that are there: they stay whole.
	dir := filepath.Join(top, "a", "b")
	before := names(t, dir)
	r.Title = "changed"
	for looks := range 3 {
		require.ErrorIs(t, evidence.Write(&stopping{context.Background(), looks}, r, dir, evidence.Options{Threads: 1}), context.Canceled)
		require.Equal(t, before, names(t, dir))
		require.NotContains(t, read(t, dir, "results.json"), "changed")
	}
}

// A seam that there was no path for stands in every account, with the reason and without a number.
func TestASeamWithoutAPathIsWritten(t *testing.T) {
	r := record(4)
	none := gapflush.NotMeasured(gapflush.DefaultSeam("hood", nil), "its points lie on one another; write two different points on the gap")
	r.Seams, r.SeamPictures = append(r.Seams, none), append(r.SeamPictures, "all")
	dir := filepath.Join(t.TempDir(), "results")
	write(t, r, dir, evidence.Options{})
	const why = "no value, because its points lie on one another; write two different points on the gap"
	require.Contains(t, read(t, dir, "seams.csv"), "\r\nhood,0,0,,,,,,,,,undecided,0,0,,,,,,,,2,,\""+why+"\",seam-hood.png,\r\n")
	require.NotContains(t, read(t, dir, "stations.csv"), "hood")
	var run struct {
		NotMeasured []struct{ Seam, Why string } `json:"not_measured"`
	}
	require.NoError(t, json.Unmarshal([]byte(read(t, dir, "run.json")), &run))
	require.Len(t, run.NotMeasured, 1)
	require.Equal(t, "hood", run.NotMeasured[0].Seam)
	require.Equal(t, why, run.NotMeasured[0].Why)
	var results struct {
		Seams []struct {
			Name, Verdict, Why string
			Count              int                       `json:"station_count"`
			Mean               *struct{ Value *float64 } `json:"gap_mean_mm"`
		}
	}
	require.NoError(t, json.Unmarshal([]byte(read(t, dir, "results.json")), &results))
	last := results.Seams[len(results.Seams)-1]
	require.Equal(t, why, last.Why)
	require.Equal(t, "undecided", last.Verdict)
	require.Zero(t, last.Count)
	require.Nil(t, last.Mean.Value)
	require.Contains(t, names(t, dir), "seam-hood.png")
}
