package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
)

// Repeatability: the same seam scanned so many times, with other noise and other places of
// the points each time, and the limits of the standard deviation of its gaps, mm.
const (
	rescans         = 30
	repeatSeen      = 0.025
	repeatPartly    = 0.05
	repeatPartlyDeg = 60
)

// runRepeat prints how far gaps and flushes of the same seam scatter from scan to scan.
func runRepeat(ctx context.Context, out io.Writer, seeds []int, threads int) (missed bool, err error) {
	w := tabwriter.NewWriter(out, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "the same seam scanned %d times, noise 0.05 mm\tstations\tsd of gap mm\tgoal\tsd of flush mm\tlargest of gap\t\n", rescans)
	for _, c := range []struct{ seen, goal float64 }{{0, repeatSeen}, {repeatPartlyDeg, repeatPartly}} {
		gap, flush, largest, n := 0.0, 0.0, 0.0, 0
		for _, seed := range seeds {
			of, err := rescan(ctx, bodywork.DrawnOptions{Radius: [2]float64{1, 3}, Noise: 0.05, Seen: c.seen * degree, Spacing: 0.8, Length: 200}, uint64(seed), threads)
			if err != nil {
				return true, err
			}
			for _, s := range of {
				gap += float64(s[0] * s[0])
				flush += float64(s[1] * s[1])
				largest = max(largest, s[0])
				n++
			}
		}
		sd := math.Sqrt(gap / float64(max(n, 1)))
		name, mark := "noses seen", ""
		if c.seen > 0 {
			name = fmt.Sprintf("%.0f degrees seen", c.seen)
		}
		if n == 0 || sd > c.goal {
			mark, missed = "MISSED", true
		}
		fmt.Fprintf(w, "%s\t%d\t%.4f\t%.3f\t%.4f\t%.4f\t%s\n", name, n, sd, c.goal, math.Sqrt(flush/float64(max(n, 1))), largest, mark)
	}
	return missed, w.Flush()
}

// rescan measures one drawn seam many times; of each station it returns the standard
// deviations of gap and flush over the scans that gave them.
func rescan(ctx context.Context, o bodywork.DrawnOptions, seed uint64, threads int) (sd [][2]float64, err error) {
	var values [][2][]float64
	for i := range rescans {
		t := bodywork.Rescanned(o, seed, uint64(i))
		r, err := gapflush.Measure(ctx, t.Scan, t.Reference, trialSeam(t), gapflush.Settings{Threads: threads}, nil)
		if err != nil {
			return nil, err
		}
		if values == nil {
			values = make([][2][]float64, len(r.Stations))
		}
		for k := range r.Stations {
			if st := &r.Stations[k]; st.Gap.OK {
				values[k][0] = append(values[k][0], st.Gap.V)
				values[k][1] = append(values[k][1], st.Flush.V)
			}
		}
	}
	for _, v := range values {
		if len(v[0]) >= rescans/2 {
			sd = append(sd, [2]float64{spreadOf(v[0]), spreadOf(v[1])})
		}
	}
	return sd, nil
}

// spreadOf is the standard deviation of values, with one less than their number.
func spreadOf(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += float64((x - mean) * (x - mean))
	}
	return math.Sqrt(sum / float64(len(v)-1))
}
