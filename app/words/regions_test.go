package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh"
	"shutline/mesh/geom"
)

// Thirds are named after vehicle axes (ISO 4130: x rearward, y to the right, z
// up) and only along sides on which a hand would look for one.
func TestThirdsAreNamedWhereAxesAreKnown(t *testing.T) {
	side := geom.Box{Hi: geom.Vec{X: 2400, Y: 140, Z: 900}}
	w := words.Writer{}
	for _, c := range []struct {
		at   geom.Vec
		want string
	}{
		{geom.Vec{X: 100, Y: 130, Z: 850}, "the front upper third"},
		{geom.Vec{X: 2399, Z: 10}, "the rear lower third"},
		{geom.Vec{X: 1200, Z: 10}, "the lower third"},
		{geom.Vec{X: 100, Z: 450}, "the front third"},
		{geom.Vec{X: 1200, Z: 450}, "the middle"},
		{geom.Vec{X: -50, Z: 2000}, "the front upper third"},
	} {
		require.Equal(t, c.want, w.Thirds(c.at, side))
	}
	bonnet := geom.Box{Hi: geom.Vec{X: 1200, Y: 1500, Z: 200}}
	require.Equal(t, "the front left third", w.Thirds(geom.Vec{X: 10, Y: 10, Z: 199}, bonnet))
	require.Empty(t, words.Writer{OwnFrame: true}.Thirds(geom.Vec{}, side), "a frame that is not known has no front")
	require.Empty(t, w.Thirds(geom.Vec{}, geom.Box{}))
}

// outcome is a comparison of one vertex at x 100, z 850 of a side, with regions as given.
func outcome(list []deviation.Cluster) *app.Outcome {
	m := &mesh.Mesh{Vertices: []geom.Vec{{X: 100, Y: 20, Z: 850}, {}, {X: 2400, Y: 140, Z: 900}}}
	figures := deviation.Figures{OK: true}
	i := inspection.Default("s.stl", "r.stl")
	i.Scan.Noise = 0.03
	return &app.Outcome{
		Inspection: i, Parts: &app.Parts{Mirrored: m}, Placed: &app.Placed{Mesh: m},
		Compared: &app.Compared{
			Field:    &deviation.Field{Deviation: make([]float64, 3), State: make([]deviation.State, 3)},
			Summary:  deviation.Summary{AreaWeighted: figures, U: deviation.UFigures{OK: true, P50: 0.0612, P95: 0.08, Noise: 0.03}},
			Clusters: deviation.Clusters{List: list, Specks: 3, SpecksArea: 12},
		},
	}
}

func TestTheWorstPlacesAreToldWithWhereAndHowLarge(t *testing.T) {
	low := deviation.Cluster{State: deviation.BeyondByU, Area: 9050, Size: [2]float64{180.2, 60.4}, Mean: -0.7, Value: verdict.Value{V: -1.12, U: 0.06, OK: true}, HasU: true, Centre: geom.Vec{X: 90, Z: 800}}
	proud := low
	proud.Value.V, proud.Mean, proud.Size, proud.Area = 0.9, 0.6, [2]float64{12, 0.2}, 80
	said := found(words.Writer{}.Surface(outcome([]deviation.Cluster{low, proud, {State: deviation.BeyondWithinU}})))
	require.Contains(t, said, "Place 1, in the front upper third, 180 × 60 mm (90 cm²), lies up to 1.12 ± 0.06 mm low, 0.70 mm on average; its lowest point is at x 100, y 20, z 850 mm.")
	require.Contains(t, said, "Place 2, in the front upper third, 12 × under 1 mm (80 mm²), stands up to 0.90 ± 0.06 mm proud")
	require.Contains(t, said, "One further place reads beyond the tolerance, but too few of its connected points do by more than their uncertainty: whether it is out of tolerance is undecided.")
	require.Contains(t, said, "Specks of one or two points beyond the tolerance: 3, together 12 mm²")
	require.Contains(t, said, "A point's deviation is known to ± 0.061 mm (k = 2), at 95 % of the points to ± 0.080 mm or better, with the scanner's stated noise of 0.030 mm.")
	rougher := outcome([]deviation.Cluster{low})
	rougher.Inspection.Scan.Noise = 0.002 // believed to be a slip: U counts with 0.030 mm
	said = found(words.Writer{}.Surface(rougher))
	require.Contains(t, said, "with a noise of 0.030 mm as its points scatter, not the one stated.")
	require.NotContains(t, said, "stated noise of")

	many := make([]deviation.Cluster, 9)
	for k := range many {
		many[k] = low
	}
	require.Contains(t, found(words.Writer{}.Surface(outcome(many))), "3 more places are out of tolerance by more than their uncertainty; clusters.csv has them.")
	unknown := outcome([]deviation.Cluster{low})
	w := words.Writer{OwnFrame: true}
	require.Contains(t, found(w.Surface(unknown)), "Place 1, 180 × 60 mm (90 cm²), lies up to")
}

func TestPointsAreTold(t *testing.T) {
	o := outcome(nil)
	tol := verdict.Tolerance{Lo: -0.5, Hi: 0.5}
	o.Compared.Points = []app.Point{
		{Spec: inspection.Point{Name: "A", HasTolerance: true, Tolerance: tol}, Spot: deviation.Spot{Value: verdict.Value{V: 0.12, U: 0.03, OK: true}}, Verdict: verdict.Conforms},
		{Spec: inspection.Point{Name: "B", HasTolerance: true, Tolerance: tol}, Spot: deviation.Spot{State: deviation.NoScan, Why: "only 2 measured points of the scan lie within 5 mm of it"}, Verdict: verdict.Undecided},
		{Spec: inspection.Point{Name: "C"}, Spot: deviation.Spot{Value: verdict.Value{V: -0.2, U: 0.004, OK: true}}},
	}
	o.Compared.Points = append(o.Compared.Points, app.Point{Spec: inspection.Point{Name: "D", Radius: 11.4, HasTolerance: true, Tolerance: tol},
		Spot: deviation.Spot{Value: verdict.Value{V: 0.1, U: 2.1, OK: true}, Shape: 2.04}, Verdict: verdict.Undecided})
	c := words.Writer{}.Surface(o)
	said := found(c)
	require.Contains(t, said, "The points within 11.4 mm differ by 2.0 mm in shape: an edge or a step lies in the radius; make radius smaller.")
	require.Contains(t, said, "The shape within its radius of 11.4 mm makes it, no noise: make radius smaller.")
	require.NotContains(t, said, "less noise")
	require.Contains(t, said, "The point A reads 0.12 ± 0.03 mm (allowed −0.50 mm to +0.50 mm): conforms.")
	require.Contains(t, said, "The point B has no value: only 2 measured points of the scan lie within 5 mm of it.")
	require.Contains(t, said, "The point C reads −0.200 ± 0.004 mm.")
	require.Equal(t, verdict.Undecided, c.Verdict, "the stage is as its worst point")
}

// A point that is not on the part has no value however much is scanned: what is advised is to mend its place.
func TestAPointFarFromThePartIsToBeMended(t *testing.T) {
	o := outcome(nil)
	o.Compared.Verdict = verdict.Conforms
	far := app.Point{Spec: inspection.Point{Name: "P1", HasTolerance: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}},
		Spot: deviation.Spot{State: deviation.OffReference, Why: "the reference lies further from it than the reach of 10 mm: its nearest point is 331.0 mm away, at x 1.0, y 2.0, z 3.0 mm"}, Verdict: verdict.Undecided}
	o.Compared.Points = []app.Point{far}
	c := words.Writer{}.Surface(o)
	require.Equal(t, verdict.Undecided, c.Verdict)
	require.Equal(t, []string{"The point P1 does not lie on the part, as said above: mend its place (at) in the inspection file, in mm in the reference's frame. A digit, a sign or an axis may have slipped; scanning more gives it no value.", "Go on to Seams."}, c.Next)
	other := far
	other.Spec.Name = "P2"
	unseen := far
	unseen.Spec.Name, unseen.Spot.State = "P3", deviation.NoScan
	o.Compared.Points = append(o.Compared.Points, other, unseen)
	c = words.Writer{}.Surface(o)
	require.Contains(t, c.Next[0], "The points P1 and P2 do not lie on the part")
	require.Contains(t, c.Next[1], "scan what is hatched", "for the one that is on the part and was not scanned")
}

func TestAChangeIsTold(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 900, Z: 600}}}
	c := &app.Change{Samples: &deviation.Samples{Mesh: m}, Surface: &deviation.Change{Limit: 0.25, Share: [4]float64{0.05, 0.7, 0.05, 0.2}, Mean: 0.02, RMS: 0.3}}
	require.Equal(t, "No connected place on the surface has changed by more than its uncertainty, only specks", words.Writer{}.Change(c).Headline, "20 % differ")
	still := *c.Surface
	still.Share = [4]float64{0.05, 0.9, 0.05, 0}
	require.Equal(t, "No place on the surface has changed by more than its uncertainty", words.Writer{}.Change(&app.Change{Samples: c.Samples, Surface: &still}).Headline)
	c.Surface.Regions.List = []deviation.Cluster{{Area: 3000, Size: [2]float64{70, 50}, Mean: 0.6, Value: verdict.Value{V: 1.2, U: 0.05, OK: true}, Centre: geom.Vec{X: 850, Z: 580}, Peak: 1}}
	card := words.Writer{}.Change(c)
	require.Equal(t, "One place on the surface has changed", card.Headline)
	require.Contains(t, found(card), "Place 1, in the rear upper third, 70 × 50 mm (30 cm²), is up to 1.20 ± 0.05 mm prouder than before, 0.60 mm on average")
	require.Contains(t, found(card), "70.0 % has surely not changed by 0.25 mm or more, 5.0 % is undecided, 20.0 % differs")
	c.Surface.Share = [4]float64{1, 0, 0, 0}
	require.Equal(t, "No place is seen by both scans, so nothing could be compared", words.Writer{}.Change(c).Headline)

	ok := func(v, u float64) verdict.Value { return verdict.Value{V: v, U: u, OK: true} }
	seam := app.SeamChange{Name: "wing to door", Stations: []app.StationChange{
		{Index: 1, Gap: ok(1.1, 0.05), GapBefore: ok(2.9, 0.03), GapAfter: ok(4, 0.04), GapDecision: deviation.Changed, FlushDecision: deviation.NotCompared},
		{Index: 2, Gap: ok(0.1, 0.05), GapDecision: deviation.NotChanged, Flush: ok(0, 0.4), FlushDecision: deviation.Undecidable},
	}}
	said := found(words.Writer{}.ChangedSeam(seam))
	require.Contains(t, said, "Gap: changed at 1 stations, not changed at 1, undecided at 0, without a number at 0. Most at station 1: from 2.90 ± 0.03 mm to 4.00 ± 0.04 mm, a change of 1.10 ± 0.05 mm.")
	require.Contains(t, said, "Flush: changed at 0 stations, not changed at 0, undecided at 1, without a number at 1.")
	require.Equal(t, "Not compared: only the first inspection has it", words.Writer{}.ChangedSeam(app.SeamChange{Why: "only the first inspection has it"}).Headline)
}

func TestAPointUnseenInOneResultIsSaidOfThatOne(t *testing.T) {
	ok := verdict.Value{V: 0.1, U: 0.02, OK: true}
	card := words.Writer{}.ChangedPoints([]app.PointChange{
		{Name: "A", After: ok, StateBefore: "no-scan", StateAfterwards: "measured"},
		{Name: "B", Before: ok, StateBefore: "measured", StateAfterwards: "placement-free"},
		{Name: "C", StateBefore: "off-reference", StateAfterwards: "off-reference"},
		{Name: "D", StateBefore: "no-scan", StateAfterwards: "placement-free"},
	})
	require.Equal(t, "A has no deviation in the first result: the scan has too few points around it.\n"+
		"B has no deviation in the second result: the placement may move along the surface's normal there.\n"+
		"C has no deviation in either result: the reference lies further from it than the reach.\n"+
		"D has no deviation in either result: in the first the scan has too few points around it, in the second the placement may move along the surface's normal there.", found(card))
}

// Where the scan drifts by more over a panel than a deviation is known to, that is said, as no U of a deviation holds it; else nothing is.
func TestDriftThatNoDeviationHoldsIsSaid(t *testing.T) {
	said := func(perMetre float64) string {
		o := outcome(nil)
		o.Growth = &worth.Growth{OK: true, A: 0.1, PerMetre: perMetre, Size: 2400, Span: 2400}
		var all strings.Builder
		for _, f := range (words.Writer{}).Surface(o).Found {
			all.WriteString(f.Text + "\n")
		}
		return all.String()
	}
	require.Contains(t, said(2), "The scan's own drift is in none of these ±: over 1000 mm the scan is good to ± 2.1 mm only.")
	require.NotContains(t, said(0.05), "drift")
}
