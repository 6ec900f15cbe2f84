package gapflush_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// tally gathers errors against the exact truth.
type tally struct {
	gap, carried, flush  []float64
	inGap, inFlush, n, m int
	wrong                []string
	refused, measurable  int
}

func percentile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	return s[int(p*float64(len(s)-1)+0.5)]
}

func TestDemoJob(t *testing.T) {
	job, err := bodywork.Van(context.Background(), bodywork.Options{}, nil)
	require.NoError(t, err)
	truth, err := job.ScanStations(context.Background(), nil)
	require.NoError(t, err)
	placed := job.Scan.Moved(job.ReferenceFromScan)
	var sum tally
	i := 0
	for _, spec := range job.Seams {
		seam := gapflush.DefaultSeam(spec.Name, spec.Path)
		seam.Radius, seam.Master, seam.Every = spec.Radius, gapflush.Side(spec.Master), bodywork.StationEvery
		start := time.Now()
		r, err := gapflush.Measure(context.Background(), placed, job.Reference, seam, gapflush.Settings{}, nil)
		require.NoError(t, err)
		if os.Getenv("V") != "" {
			fmt.Println(spec.Name, len(r.Stations), time.Since(start), r.Notes)
		}
		for _, st := range r.Stations {
			tr := truth[i]
			i++
			require.InDelta(t, tr.Along, st.Along, 1e-6)
			sum.add(spec.Name, &st, &tr)
		}
	}
	if os.Getenv("V") != "" {
		fmt.Printf("seen gap p95 %.3f (%d) carried %.3f (%d) flush %.3f (%d) in U gap %d/%d flush %d/%d refused %d of %d\n", percentile(sum.gap, .95), len(sum.gap), percentile(sum.carried, .95), len(sum.carried), percentile(sum.flush, .95), len(sum.flush), sum.inGap, sum.n, sum.inFlush, sum.m, sum.refused, sum.measurable)
	}
	// The goals the tool was built to.
	require.Empty(t, sum.wrong)
	require.LessOrEqual(t, percentile(sum.gap, .95), 0.10)
	require.LessOrEqual(t, percentile(sum.carried, .95), 0.20)
	require.LessOrEqual(t, percentile(sum.flush, .95), 0.06)
	require.GreaterOrEqual(t, float64(sum.inGap), 0.9*float64(sum.n))
	require.GreaterOrEqual(t, float64(sum.inFlush), 0.9*float64(sum.m))
	require.LessOrEqual(t, float64(sum.refused), 0.1*float64(sum.measurable))
}

// addDemo measures a demo job at the true placement with what the demo's
// inspection leaves to the reference, and adds it up.
func (s *tally) addDemo(t *testing.T, size int, seed uint64, withReference bool) {
	t.Helper()
	s.addDemoEvery(t, size, seed, withReference, bodywork.StationEvery)
}

// addDemoEvery has stations that stand closer, an odd number where there is one usually, and adds those that stand
// where these do.
func (s *tally) addDemoEvery(t *testing.T, size int, seed uint64, withReference bool, every float64) {
	t.Helper()
	ctx := context.Background()
	job, err := bodywork.Van(ctx, bodywork.Options{Size: size, Seed: seed}, nil)
	require.NoError(t, err)
	truth, err := job.ScanStations(ctx, nil)
	require.NoError(t, err)
	placed, ref := job.Scan.Moved(job.ReferenceFromScan), job.Reference
	if !withReference {
		ref = nil
	}
	for _, spec := range job.Seams {
		seam := gapflush.DefaultSeam(spec.Name, spec.Path)
		seam.Master, seam.Every = gapflush.Side(spec.Master), every
		r, err := gapflush.Measure(ctx, placed, ref, seam, gapflush.Settings{}, nil)
		require.NoError(t, err)
		step := int(bodywork.StationEvery / every)
		for k := step / 2; k < len(r.Stations); k += step {
			tr := &truth[k/step]
			require.InDelta(t, tr.Along, r.Stations[k].Along, 1e-6)
			s.add(spec.Name, &r.Stations[k], tr)
		}
		truth = truth[gapflush.StationsOn(seam.Path, bodywork.StationEvery):]
	}
}

// Stations that stand close together begin from those looked at first; each has a gap and a flush within U, or a state, as
// those that stand apart have.
func TestDemoWithStationsCloseTogether(t *testing.T) {
	var apart, close tally
	for _, seed := range []uint64{5, 6} {
		apart.addDemo(t, 130_000, seed, seed == 5)
		close.addDemoEvery(t, 130_000, seed, seed == 5, 1)
	}
	require.Empty(t, close.wrong)
	require.GreaterOrEqual(t, float64(close.inGap), 0.9*float64(close.n))
	require.GreaterOrEqual(t, float64(close.inFlush), 0.9*float64(close.m))
	require.LessOrEqual(t, percentile(close.carried, .95), 0.20)
	require.InDelta(t, apart.n, close.n, 0.05*float64(apart.n))
	require.InDelta(t, apart.m, close.m, 0.05*float64(apart.m))
}

// Without a reference the faces' curvature is the seam's own and the radius what
// its well-seen edges show; both errors are shared by a whole seam, so one scan
// proves little: eight are gathered, and two fine ones.
func TestDemoWithoutReference(t *testing.T) {
	for _, c := range []struct {
		size  int
		seeds []uint64
	}{{70_000, []uint64{1, 2, 3, 4, 5, 6, 7, 8}}, {bodywork.DefaultSize, []uint64{3, 4}}} {
		var sum tally
		for _, seed := range c.seeds {
			sum.addDemo(t, c.size, seed, false)
		}
		require.Empty(t, sum.wrong)
		require.GreaterOrEqual(t, float64(sum.inGap), 0.9*float64(sum.n))
		require.GreaterOrEqual(t, float64(sum.inFlush), 0.9*float64(sum.m))
		require.LessOrEqual(t, percentile(sum.carried, .95), 0.20)
		require.LessOrEqual(t, float64(sum.refused), 0.1*float64(sum.measurable))
	}
}

// At every size the demo's stations, of two scans each since coarse ones give few, have a gap and a flush within U, or a state;
// finer scans are measured at more stations.
func TestDemoAtEverySize(t *testing.T) {
	last := -1
	for _, size := range []int{20_000, 40_000, 70_000, 130_000} {
		var sum tally
		sum.addDemo(t, size, 91, true)
		sum.addDemo(t, size, 92, true)
		require.Empty(t, sum.wrong)
		require.GreaterOrEqual(t, float64(sum.inGap), 0.9*float64(sum.n), "%d triangles", size)
		require.GreaterOrEqual(t, float64(sum.inFlush), 0.9*float64(sum.m), "%d triangles", size)
		require.GreaterOrEqual(t, sum.n, last, "%d triangles are measured at fewer stations than fewer are", size)
		last = sum.n
	}
	require.Positive(t, last)
}

func (s *tally) add(name string, st *gapflush.Station, tr *bodywork.StationTruth) {
	line := fmt.Sprintf("%s %d %s truth gap %.3f flush %.3f seen %.0f %.0f pts %v", name, st.Index, st.State, tr.Gap, tr.Flush, tr.SeenTo[0]*57.3, tr.SeenTo[1]*57.3, tr.ArcPoints)
	if os.Getenv("V") == "2" {
		fmt.Printf("%s | gap %.3f±%.3f (%+.3f) flush %.3f±%.3f (%+.3f) r %.2f %.2f seen %.0f %.0f n %d %d %v %v %s\n", line, st.Gap.V, st.Gap.U, st.Gap.V-tr.Gap, st.Flush.V, st.Flush.U, st.Flush.V-tr.Flush,
			st.Side[0].Radius, st.Side[1].Radius, st.Side[0].SeenTo*57.3, st.Side[1].SeenTo*57.3, st.Side[0].EdgePoints, st.Side[1].EdgePoints, st.Side[0].NoseState, st.Side[1].NoseState, st.Why)
	}
	if tr.State == "measured" && tr.Clear {
		s.measurable++
		if !st.Gap.OK {
			s.refused++
		}
	}
	if st.Gap.OK && tr.State != "measured" && tr.Clear {
		s.wrong = append(s.wrong, line+" has a number")
	}
	if st.Gap.OK {
		e := math.Abs(st.Gap.V - tr.Gap)
		s.n++
		if e <= st.Gap.U {
			s.inGap++
		}
		if e > 3*st.Gap.U {
			s.wrong = append(s.wrong, fmt.Sprintf("%s GAP %.3f±%.3f err %+.3f", line, st.Gap.V, st.Gap.U, st.Gap.V-tr.Gap))
		}
		if st.Side[0].NoseState == gapflush.Seen && st.Side[1].NoseState == gapflush.Seen {
			s.gap = append(s.gap, e)
		} else {
			s.carried = append(s.carried, e)
		}
	}
	if st.Flush.OK {
		e := math.Abs(st.Flush.V - tr.Flush)
		s.m++
		s.flush = append(s.flush, e)
		if e <= st.Flush.U {
			s.inFlush++
		}
		if e > 3*st.Flush.U {
			s.wrong = append(s.wrong, fmt.Sprintf("%s FLUSH %.3f±%.3f err %+.3f", line, st.Flush.V, st.Flush.U, st.Flush.V-tr.Flush))
		}
	}
}
