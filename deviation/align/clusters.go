package align

import "math"

// clusterSizes, in diagonals: the sizes of the cells inside which residuals may
// depend on one another in any way; from the scanner's smoothing to a whole wing.
var clusterSizes = [...]float64{1.0 / 800, 1.0 / 200, 1.0 / 50, 1.0 / 12}

const (
	// edgeShare of the growth from one of those sizes to the next is what the next still misses: sizes some 4 times as
	// great leave a quarter of what is missing.
	edgeShare = 1.0 / 3

	// pooledBeyond standard deviations of all directions' growth together are no chance.
	pooledBeyond = 2
	// growthAlike: how far apart the directions' growths are, as a part of what they have in common: noise along a line hangs
	// together less than over a face. Our choice.
	growthAlike = 1.0 / 3

	// correlationCells is the fewest cells from which the correlations between
	// directions are taken; fewer make chance ones of a tenth and more.
	correlationCells = 100
)

// clusterSpread returns the covariance of the score Σ w r J, in the basis of the
// directions, with residuals that may be correlated in any way inside a cell:
// the sum over cells of the cell's own score times itself. Independent noise
// alone is the smallest cell. A larger cell counts where its sums are greater by more
// than the chance of so many cells, in one direction or in all together.
//
// Based on: Liang & Zeger, "Longitudinal data analysis using generalized linear
// models" (1986), the cluster-robust sandwich. A variance from few cells is itself known
// poorly, which Student's distribution allows for (GUM, annex G).
func clusterSpread(bySize *[len(clusterSizes)][]vec6, directions *[6]vec6) sym6 {
	var g growth
	var out sym6
	for _, scores := range bySize {
		if len(scores) <= 6 {
			continue // six fitted motions leave so few cells no freedom
		}
		s, cells := scoreSums(scores, directions)
		g.take(&s, &cells)
		if out[0][0] == 0 || len(scores) >= correlationCells {
			out = s
		}
	}
	var d vec6
	for k := range 6 {
		if out[k][k] > 0 {
			d[k] = math.Sqrt(g.variance[k]/out[k][k]) * studentOverNormal(g.freedom[k])
		}
	}
	for i := range 6 {
		for j := range 6 {
			out[i][j] *= d[i] * d[j]
		}
	}
	return out
}

// scoreSums returns the sum over cells of their scores' squares and products along the directions, and how many equal
// cells would scatter as each of the squares does.
func scoreSums(scores []vec6, directions *[6]vec6) (s sym6, cells vec6) {
	correction := float64(len(scores)) / float64(len(scores)-6)
	var fourth vec6
	for i := range scores {
		var turned vec6
		for k := range directions {
			turned[k] = dot6(&directions[k], &scores[i])
			square := float64(turned[k] * turned[k])
			fourth[k] += float64(square * square)
		}
		s.addOuter(correction, &turned)
	}
	s.mirror()
	for k := range 6 {
		if fourth[k] > 0 {
			square := s[k][k] / correction
			cells[k] = float64(square*square) / fourth[k]
		}
		cells[k] = max(cells[k], 2)
	}
	return s, cells
}

// growth follows the variances of the scores from one size of cells to the next.
type growth struct {
	variance vec6 // as far as it is taken
	freedom  vec6 // degrees of freedom that it is known with
	last     vec6 // of the size before, as summed
}

// take takes the sums of the next size of cells where they are no chance.
func (g *growth) take(s *sym6, cells *vec6) {
	if g.variance == (vec6{}) {
		for k := range 6 {
			g.variance[k], g.freedom[k], g.last[k] = s[k][k], cells[k], s[k][k]
		}
		return
	}
	var own, weight vec6
	sum, total := 0.0, 0.0
	for k := range 6 {
		if g.variance[k] > 0 {
			own[k], weight[k] = s[k][k]/g.variance[k]-1, float64(cells[k]/2)
			total += weight[k]
			sum += float64(own[k] * weight[k])
		}
	}
	common := 0.0
	if total > 0 && sum > pooledBeyond*math.Sqrt(total) {
		common = sum / total
	}
	for k := range 6 {
		grown, freedom := own[k], cells[k]
		if common > 0 {
			// The mean of both, by what each is known to (empirical Bayes: Morris 1983).
			prior := 1 / float64(growthAlike*common*(growthAlike*common))
			grown = (float64(own[k]*weight[k]) + float64(common*prior)) / (weight[k] + prior)
			freedom += 2 * prior
		}
		if grown > 0 && (common > 0 || float64(own[k]*own[k]*weight[k]) > 1) {
			// Neighbours on either side of a cell's border are still missing: a share that falls as one
			// over the cell's size, and that the growth since the size before tells (Richardson 1911).
			taken := float64(g.variance[k] * (1 + grown))
			g.variance[k] = taken + float64(max(taken-g.last[k], 0)*edgeShare)
			g.freedom[k] = min(g.freedom[k], freedom)
		}
		g.last[k] = s[k][k]
	}
}

// studentOverNormal is how much farther Student's distribution reaches than the normal one to hold 95 %, by the
// expansion of Fisher & Cornish (1960).
func studentOverNormal(freedom float64) float64 {
	const z = 1.959964
	if !(freedom > 0) {
		return 1
	}
	const first = z*z + 1
	const second = 5*z*z*z*z + 16*z*z + 3
	return 1 + first/(4*freedom) + second/float64(96*freedom*freedom)
}

// cellScores sums the scores by cubic cells of the given size, in the order in
// which the cells are first met.
func cellScores(used []pair, js []vec6, scales *[2]float64, size float64) []vec6 {
	at := map[[3]int32]int{}
	var scores []vec6
	for i := range used {
		key := cellOf(used[i].at, size)
		k, ok := at[key]
		if !ok {
			k = len(scores)
			at[key] = k
			scores = append(scores, vec6{})
		}
		wr := used[i].weight(used[i].r, scales) * used[i].r
		for c := range 6 {
			scores[k][c] += float64(wr * js[i][c])
		}
	}
	return scores
}
