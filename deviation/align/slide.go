package align

import (
	"context"

	"shutline/mesh"
	"shutline/mesh/geom"
)

const (
	slideDirections = 3
	// slideStep and slideReach in diagonals: the edges of a pose that is off by
	// half a step (8 mm on a body side) still pair with their own partners; a
	// bent scan of a smooth side was seen to settle 0.05 diagonals off.
	slideStep  = 0.006
	slideReach = 0.06
	// fineStep and fineReach: about a pose that another one rivals, where the narrow basin may lie between two steps.
	fineStep    = 0.0012
	fineReach   = 0.012
	fineRivals  = 3
	slidePoints = 700
	slideScales = 6
)

// slides walks from the best poses along the directions that skin holds weakly,
// to both sides, lets every station come to rest and returns them with their
// scores. The basin of a shut line is narrow and lies in a long valley along
// which smooth skin can slide; descent alone does not find it.
func (f *fit) slides(ctx context.Context, best []candidate, progress mesh.Progress) ([]candidate, error) {
	return f.walk(ctx, best, slideStep, slideReach, progress)
}

// walkFinely looks closely about the poses that rival one another by a slide, and returns what it then knows of the best.
func (f *fit) walkFinely(ctx context.Context, known found, progress mesh.Progress) (found, error) {
	var from []candidate
	for _, r := range known.rivals[:min(fineRivals, len(known.rivals))] {
		from = append(from, candidate{g: r.g})
	}
	slid, err := f.walk(ctx, from, fineStep, fineReach, progress)
	if err != nil {
		return known, err
	}
	slid = distinct(slid, f.search.box, rivalApart, keepSlid)
	for _, r := range known.rivals {
		slid = append(slid, candidate{g: r.g})
	}
	rivals, err := f.verify(ctx, slid, nil)
	if err != nil {
		return known, err
	}
	return f.known(ctx, rivals, nil)
}

func (f *fit) walk(ctx context.Context, best []candidate, step, reach float64, progress mesh.Progress) ([]candidate, error) {
	points := f.drawInner(slidePoints, seedSlide)
	var starts []candidate
	for _, b := range best {
		pairs := make([]pair, len(points))
		if err := f.matcher.pairUp(ctx, b.g, points, judgeScales[0], pairs); err != nil {
			return nil, err
		}
		for _, v := range f.matcher.weakDirections(pairs) {
			for k := step; k <= reach; k += step {
				for _, side := range [2]float64{1, -1} {
					x := v
					for i := range x {
						x[i] *= side * k * f.ref.diag
					}
					starts = append(starts, candidate{g: moveBy(b.g, x, f.ref.centre, f.ref.diag/2)})
				}
			}
		}
	}
	scales := fallingScales(exactFirst*f.ref.diag, judgeScales[1], slideScales)
	first, rest := scales[:slideScales/2], scales[slideScales/2:]
	few := everyOther(points)
	err := f.eachPose(ctx, len(starts), progress.Part(0, 0.5), func(m *matcher, k int) (err error) {
		starts[k].g, err = m.descend(ctx, starts[k].g, few, first)
		return err
	})
	if err != nil {
		return nil, err
	}
	// Most stations about a pose that is held come back to it.
	starts = distinct(starts, f.search.box, sameOfScale*first[len(first)-1], len(starts))
	return f.descendAll(ctx, starts, points, rest, progress.Part(0.5, 1))
}

// sameOfScale times the scale that pairs were last let go of at: poses nearer than this come to rest at one place.
const sameOfScale = 0.1

// scored judges a pose on the points.
func (m *matcher) scored(ctx context.Context, g geom.Rigid, points []point) (candidate, error) {
	return m.descendScored(ctx, g, points, nil)
}

// weakDirections returns the directions, weakest first, along which the skin's
// pairs by themselves are held weakly; none for a solid with faces all round.
func (m *matcher) weakDirections(pairs []pair) []vec6 {
	m.classify(pairs)
	lever := m.ref.diag / 2
	var a sym6
	for i := range pairs {
		if pairs[i].state == paired && pairs[i].class == skinClass {
			j := jacobian(pairs[i].at, pairs[i].n, m.ref.centre, lever)
			a.addOuter(1, &j)
		}
	}
	a.mirror()
	values, vectors := eigen6(&a)
	var out []vec6
	for k := range slideDirections {
		if values[k] < weakShare*values[5] {
			out = append(out, vectors[k])
		}
	}
	return out
}
