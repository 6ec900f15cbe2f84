package mesh

import (
	"context"
	"slices"
)

// sortRun is how many are sorted between two looks at the context: some milliseconds.
const sortRun = 1 << 14

// sortStable is slices.SortStableFunc for what may be very long: it returns ctx's error
// within some milliseconds.
func sortStable[T any](ctx context.Context, a []T, compare func(x, y T) int) error {
	if len(a) <= sortRun {
		slices.SortStableFunc(a, compare)
		return nil
	}
	for lo := 0; lo < len(a); lo += sortRun {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		slices.SortStableFunc(a[lo:min(lo+sortRun, len(a))], compare)
	}
	from, to := a, make([]T, len(a))
	for run := sortRun; run < len(a); run *= 2 {
		for lo := 0; lo < len(a); lo += 2 * run {
			mid, hi := min(lo+run, len(a)), min(lo+2*run, len(a))
			i, j := lo, mid
			for k := lo; k < hi; k++ {
				if k%sortRun == 0 && ctx.Err() != nil {
					return ctx.Err()
				}
				if j == hi || i < mid && compare(from[i], from[j]) <= 0 {
					to[k] = from[i]
					i++
				} else {
					to[k] = from[j]
					j++
				}
			}
		}
		from, to = to, from
	}
	if &from[0] != &a[0] {
		copy(a, from)
	}
	return nil
}
