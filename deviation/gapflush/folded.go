package gapflush

import (
	"context"
	"fmt"
	"slices"

	"shutline/mesh/geom"
)

// mostExchanged is of how many points of a path any two are exchanged to see whether it then runs one way; of more, only
// neighbours are.
const mostExchanged = 24

// surelyShorter is by how much, mm, a path must be shorter than another that is as good.
const surelyShorter = 1.0

// folded says that the path folds over itself, and which two of its points bring that about when they are exchanged: a length
// along such a path is none along the gap, so that it tells no taper.
func (j *job) folded(ctx context.Context) error {
	if !slices.Contains(j.walked.back, true) {
		return nil
	}
	j.result.Folded = true
	typed := j.set.Typed
	if typed == nil {
		typed = j.seam.Path
	}
	pair, err := misplaced(ctx, typed)
	if err != nil {
		return err
	}
	j.result.Misplaced = pair
	if pair[1] == 0 {
		return nil
	}
	j.note("%s: exchanged with one another, the path runs one way. As it is, it folds over itself, so that no taper is given.", inWrongOrder(pair))
	return nil
}

func inWrongOrder(pair [2]int) string {
	return fmt.Sprintf("Points %d and %d of the path seem to be in the wrong order", pair[0], pair[1])
}

// misplaced returns the numbers, from 1, of the two points that make a path run one way, and as short as any others do, when
// they are exchanged; zeros where it does as it is, or where no two do. The error is the context's.
func misplaced(ctx context.Context, path []geom.Vec) (pair [2]int, err error) {
	turns := func(path []geom.Vec) (bool, float64, error) {
		p, err := newPolyline(path)
		if err != nil {
			return true, 0, nil
		}
		w, err := walk(ctx, p)
		if err != nil {
			return true, 0, err
		}
		for n := 1; n < len(path); n++ {
			if path[n].Dist(path[n-1]) <= besides {
				return true, 0, nil // one place that was typed twice, as of a path there and back
			}
		}
		return slices.Contains(w.back, true), p.full, nil
	}
	back, best, err := turns(path)
	if err != nil || !back {
		return pair, err
	}
	trial := slices.Clone(path)
	farthest := len(path) - 1
	if len(path) > mostExchanged {
		farthest = 1
	}
	// The nearest first: exchanging those that lie as far from the middle as one another may turn the path round as a whole.
	for apart := 1; apart <= farthest; apart++ {
		for a := 0; a+apart < len(path); a++ {
			b := a + apart
			trial[a], trial[b] = trial[b], trial[a]
			back, long, err := turns(trial)
			trial[a], trial[b] = trial[b], trial[a]
			if err != nil {
				return [2]int{}, err
			}
			if !back && long < best-surelyShorter {
				pair, best = [2]int{a + 1, b + 1}, long
			}
		}
	}
	return pair, nil
}

// refuseFolded says of the stations without a number about points in the wrong order that this is why: there the path runs twice along
// a stretch, and from point to point beside the gap, so that what it meets there says nothing of the scan.
func (j *job) refuseFolded(stations []Station) {
	pair := j.result.Misplaced
	if pair[1] == 0 {
		return
	}
	from, to := 0.0, 0.0
	if j.set.Typed == nil {
		// The path from the point before the first of them to the one behind the other.
		along := j.seam.From
		for n, p := range j.seam.Path {
			if n > 0 {
				along += p.Dist(j.seam.Path[n-1])
			}
			if n+1 == max(pair[0]-1, 1) {
				from = along
			}
			if n+1 <= pair[1]+1 {
				to = along
			}
		}
	}
	for i := range stations {
		st := &stations[i]
		if st.State == Measured || st.State == NoseUnseen || !(st.walkedBefore() || st.Along >= from && st.Along <= to) {
			continue
		}
		st.State, st.Why = OffPath, with(inWrongOrder(pair)+", so that it folds over itself here.", doOrder)
	}
}

// walkedBefore reports whether a station has no number as the path was there before.
func (s *Station) walkedBefore() bool {
	_, do := s.Reason()
	return do == doOneWay || do == doEndBefore || do == doOrder
}

// Retraced reports whether a station has no number as the path folds over itself there.
func (s *Station) Retraced() bool { return s.State == OffPath && s.walkedBefore() }
