package align

import "sort"

// weightRun is how many weights are summed between two sums that are kept.
const weightRun = 512

// weights draw indices with a chance in proportion to a weight.
type weights struct {
	of       []float64
	before   []float64 // the sum before every run
	total    float64
	positive int
}

func newWeights(of []float64) *weights {
	w := &weights{of: of, before: make([]float64, 0, len(of)/weightRun+1)}
	for i, v := range of {
		if i%weightRun == 0 {
			w.before = append(w.before, w.total)
		}
		w.total += v
		if v > 0 {
			w.positive++
		}
	}
	return w
}

// draw returns about n different indices, ascending, drawn with a chance in
// proportion to their weight: one from each of n equal shares of the cumulative
// weight, at a place that the seed decides. All are returned when n covers them.
func (w *weights) draw(n int, seed uint64) []int32 {
	if n >= w.positive {
		all := make([]int32, 0, w.positive)
		for i, v := range w.of {
			if v > 0 {
				all = append(all, int32(i))
			}
		}
		return all
	}
	picked := make([]int32, 0, n)
	step := w.total / float64(n)
	i, sum := 0, 0.0 // the next weight to be added, and the sum before it
	for k := range n {
		next := step * (float64(k) + unitHash(seed, uint64(k)))
		if run := sort.Search(len(w.before), func(b int) bool { return w.before[b] > next }) - 1; run*weightRun > i {
			i, sum = run*weightRun, w.before[run]
		}
		for i < len(w.of) && sum <= next {
			sum += w.of[i]
			i++
		}
		if last := int32(i - 1); sum > next && (len(picked) == 0 || picked[len(picked)-1] != last) {
			picked = append(picked, last)
		}
	}
	return picked
}
