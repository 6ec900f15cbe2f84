package align

import (
	"context"
	"fmt"
	"math"

	"shutline/mesh/geom"
	"shutline/mesh/pages"
	"shutline/mesh/parallel"
)

const (
	// heldFloor: eigenvalues of the mean JᵀJ under this hold nothing (see moveFloor).
	heldFloor = moveFloor

	// heldSigma in mm at half the diagonal: a direction that is known no better
	// than this has no number, since it would not serve for gaps of a few mm.
	heldSigma = 1.0

	// knownTo in mm at half the diagonal: no direction is said to be known better; our choice, a tenth of a wavelength of light.
	knownTo = 0.00005

	// involved: an axis motion takes part in a direction that is not held when
	// it makes up more than this share of it. Two hundredths of a slide of 1 mm
	// is 0.02 mm, the placement error aimed for.
	involved = 0.02
)

// held is what a set of pairs says about the six motions.
type held struct {
	centre     geom.Vec
	covariance sym6 // mm and radians about the centre, free rows 0
	free       [6]bool
	full       sym6      // mm and radians about the centre, of the directions that are held, no row emptied
	notHeld    []vec6    // unit directions, turns in mm at the lever
	looseSigma []float64 // mm, of each of them; infinite where nothing holds it
	loose      []FreeMotion
	lever      float64
	values     vec6    // eigenvalues of the sum of w JᵀJ, ascending
	weakest    [6]vec6 // and the unit directions that belong to them
	directions [6]Direction
	shape      shapes
}

// counting returns the pairs that carry weight, their weighted middle and half the diagonal of their box, mm, and the sum of the weights.
func counting(pairs []pair, scales *[2]float64) (used []pair, centre geom.Vec, lever, total float64) {
	n := 0
	for i := range pairs {
		if pairs[i].weight(pairs[i].r, scales) > 0 {
			n++
		}
	}
	used = pages.Make[pair](n)[:0] // grown, it would be copied again and again: 100 MB for a million points
	var sum geom.Vec
	box := geom.EmptyBox()
	for i := range pairs {
		if w := pairs[i].weight(pairs[i].r, scales); w > 0 {
			used = append(used, pairs[i])
			sum = sum.AddScaled(w, pairs[i].at)
			total += w
			box = box.Extend(pairs[i].at)
		}
	}
	if n == 0 {
		return nil, centre, 0, 0
	}
	return used, sum.Scale(1 / total), max(box.Diagonal()/2, math.SmallestNonzeroFloat64), total
}

// holdOf analyses the pairs that carry weight at a resting pose.
func holdOf(r *rest, ref *reference, threads int) held {
	scales, most := &r.scales, heldSigma
	if r.heldTo > 0 {
		most = r.heldTo
	}
	h := held{free: [6]bool{true, true, true, true, true, true}}
	used, centre, lever, total := counting(r.pairs, scales)
	if len(used) == 0 {
		return h
	}
	h.centre, h.lever = centre, lever
	var a sym6
	curvature := 0.0
	js := pages.Make[vec6](len(used))
	for i := range used {
		js[i] = jacobian(used[i].at, used[i].n, h.centre, h.lever)
		a.addOuter(used[i].weight(used[i].r, scales), &js[i])
		curvature += used[i].curvature(scales)
	}
	a.mirror()
	var vectors [6]vec6
	h.values, vectors = eigen6(&a)
	h.weakest = vectors
	// The slope of the influence, not the weight, is the loss's second
	// derivative; never taken for less than half of the weights' sum, as it would
	// be where the residuals crowd at the scale.
	gain := max(curvature/total, 0.5)
	var scores [len(clusterSizes)][]vec6
	_ = parallel.Chunks(context.Background(), len(scores)+1, 1, threads, nil, func(_, task, _, _ int) {
		if task < len(scores) {
			scores[task] = cellScores(used, js, scales, 2*clusterSizes[task]*h.lever)
		} else {
			h.shape = shapesOf(used, 2*h.lever)
		}
	})
	spread := clusterSpread(&scores, &vectors)
	addMisfit(&spread, used, js, scales, &h.shape, &vectors)
	addChords(&spread, used, js, scales, ref, &vectors)
	var keep []int
	loosest := 0.0
	for k, v := range vectors {
		curve := gain * h.values[k]
		spread[k][k] += float64(knownTo * curve * (knownTo * curve))
		sigma := math.Sqrt(spread[k][k]) / curve
		if h.values[k] <= heldFloor*total || !(sigma <= most) {
			h.notHeld = append(h.notHeld, v)
			if h.values[k] <= heldFloor*total || math.IsNaN(sigma) {
				sigma = math.Inf(1)
			}
			h.looseSigma = append(h.looseSigma, sigma)
			loosest = max(loosest, min(sigma, describeReach))
			continue
		}
		keep = append(keep, k)
	}
	h.heldByBorders(r)
	for i := range 6 {
		share := 0.0
		for _, v := range h.notHeld {
			share += float64(v[i] * v[i])
		}
		h.free[i] = math.Sqrt(share) > involved
	}
	for _, a := range keep {
		for _, b := range keep {
			f := spread[a][b] / (gain * h.values[a] * gain * h.values[b])
			for i := range 6 {
				for j := range 6 {
					h.covariance[i][j] += float64(f * vectors[a][i] * vectors[b][j])
				}
			}
		}
	}
	h.directions = h.independent()
	h.inUnits()
	h.loose = h.freeMotions(loosest)
	return h
}

// heldByBorders adds the covariance of motions that borders hold to within heldSigma, and takes them from those that are not held.
func (h *held) heldByBorders(r *rest) {
	if r.borders == nil || len(h.notHeld) == 0 {
		return
	}
	all := r.borders(h)
	if all == nil {
		return
	}
	k := len(h.notHeld)
	rows := make([][]float64, k)
	for i := range rows {
		rows[i] = append([]float64(nil), all[i][:k]...)
	}
	values, vectors := geom.EigenSymmetric(rows)
	var left []vec6
	for e, mix := range vectors {
		var v vec6
		for i, d := range h.notHeld {
			for c := range 6 {
				v[c] += float64(mix[i] * d[c])
			}
		}
		if values[e] > heldSigma*heldSigma {
			left = append(left, v)
			continue
		}
		h.covariance.addOuter(values[e], &v)
	}
	h.covariance.mirror()
	h.notHeld = left
}

// curvature is the derivative of the pair's influence r·w(r), where the offset of the region around it changes with it.
func (p *pair) curvature(scales *[2]float64) float64 {
	u2 := float64(p.r / scales[p.class] * (p.r / scales[p.class]))
	if u2 >= 1 || p.trust == 0 {
		return 0
	}
	v := 1 - u2
	return p.weight(0, scales) * v * (1 - float64(5*u2) + float64(p.fall/p.trust*v))
}

// addMisfit adds the covariance of offsets in shape that all points of a patch
// share and that no residual shows once the fit has spread them.
func addMisfit(spread *sym6, used []pair, js []vec6, scales *[2]float64, shape *shapes, directions *[6]vec6) {
	type patch struct {
		class pairClass
		key   regionKey
	}
	at := map[patch]int{}
	var sums []vec6
	for i := range used {
		p := &used[i]
		axis := regionOf(p.at, p.n, 1).side % 3
		m := shape[p.class][axis]
		if m.size == 0 {
			continue
		}
		key := patch{p.class, regionOf(p.at, p.n, m.patch)}
		k, ok := at[key]
		if !ok {
			k = len(sums)
			at[key] = k
			sums = append(sums, vec6{})
		}
		w := p.weight(p.r, scales) * m.size
		for c := range 6 {
			sums[k][c] += float64(w * dot6(&directions[c], &js[i]))
		}
	}
	var s sym6
	for i := range sums {
		s.addOuter(1, &sums[i])
	}
	s.mirror()
	for i := range 6 {
		for j := range 6 {
			spread[i][j] += s[i][j]
		}
	}
}

// inUnits counts turns in radians and empties the rows of free motions.
func (h *held) inUnits() {
	for i := range 6 {
		for j := range 6 {
			if i >= 3 {
				h.covariance[i][j] /= h.lever
			}
			if j >= 3 {
				h.covariance[i][j] /= h.lever
			}
		}
	}
	h.full = h.covariance
	for i := range 6 {
		for j := range 6 {
			if h.free[i] || h.free[j] {
				h.covariance[i][j] = 0
			}
		}
	}
}

// freeMotions describes the directions that are not held, each known no better
// than loosest mm: the least known of them, and no more than pairs reach.
func (h *held) freeMotions(loosest float64) []FreeMotion {
	var out []FreeMotion
	for _, v := range slidesAndTurns(h.notHeld) {
		m := FreeMotion{Shift: geom.Vec{X: v[0], Y: v[1], Z: v[2]}, Turn: geom.Vec{X: v[3], Y: v[4], Z: v[5]}.Scale(1 / h.lever), Sigma: loosest}
		m.Words = motionWords(m.Shift, m.Turn, h.centre, h.lever)
		out = append(out, m)
	}
	return out
}

// motionWords names a motion: "slide along X", "turn about an axis along Z through (0, 0, 0) mm".
func motionWords(shift, turn, centre geom.Vec, lever float64) string {
	slides, axis := axisOf(shift, turn, centre, lever)
	if slides {
		return "slide along " + axis
	}
	return "turn about an axis along " + axis
}

// axisOf tells a slide from a turn, in radians about the centre and counted at the
// lever, both mm, and names the axis of either.
func axisOf(shift, turn, centre geom.Vec, lever float64) (slides bool, words string) {
	if turn.Norm()*lever < involved {
		return true, axisWords(shift.Unit())
	}
	through := centre.Add(turn.Cross(shift).Scale(1 / turn.Norm2()))
	return false, fmt.Sprintf("%s through (%.0f, %.0f, %.0f) mm", axisWords(turn.Unit()), through.X, through.Y, through.Z)
}

// slidesAndTurns mixes directions so that as many as can be are pure slides,
// and the turns among the rest carry no slide that is already named.
func slidesAndTurns(directions []vec6) []vec6 {
	n := len(directions)
	if n == 0 {
		return nil
	}
	turn := make([][]float64, n)
	for i := range turn {
		turn[i] = make([]float64, n)
		for j := range n {
			for k := 3; k < 6; k++ {
				turn[i][j] += float64(directions[i][k] * directions[j][k])
			}
		}
	}
	_, mixes := geom.EigenSymmetric(turn)
	out := make([]vec6, n)
	for i, mix := range mixes {
		for j, d := range directions {
			for k := range 6 {
				out[i][k] += float64(mix[j] * d[k])
			}
		}
	}
	return out
}

// axisWords names a direction: an axis where it is one within 2 degrees, else
// its components, with the greatest made positive.
func axisWords(d geom.Vec) string {
	const near = 0.9994 // cos 2°
	big := 0
	for k := range 3 {
		if math.Abs(d.At(k)) > math.Abs(d.At(big)) {
			big = k
		}
	}
	if d.At(big) < 0 {
		d = d.Neg()
	}
	if d.At(big) > near {
		return [...]string{"X", "Y", "Z"}[big]
	}
	round := func(v float64) float64 { return math.Round(v*100)/100 + 0 }
	return fmt.Sprintf("(%.2f, %.2f, %.2f)", round(d.X), round(d.Y), round(d.Z))
}
