package align

import "math"

const (
	// chordPart of what the greater ends of edges ask for beyond what was taken ([surface.Skin.On]) is the standard deviation
	// of what was taken, alike over patches of side chordPatch diagonals; and chordAll of it is the same
	// wherever skin, or a feature, is. On a smooth side and a van of 20 to 200 thousand triangles the truth
	// then lies in the region as often as is stated.
	chordPart  = 0.48
	chordPatch = 1.0 / 12
	chordAll   = 0.2

	// chordFacet in diagonals: facets of this size err by those parts, finer ones by less, with the power 1.5 of their
	// size: what they leave of a line is then small beside the stretch over which a fit averages. Our choice: with
	// 60 and 200 thousand triangles, 0.0033 and 0.0018 diagonals, the residuals' own scatter was seen to tell nearly all.
	chordFacet = 1.0 / 200
)

// addChords adds the covariance that the reference's facets leave. The skin over a facet may rise by as much
// as the greater of what its corners' normals ask for. Along a rollover or a line that share is much the same
// everywhere, and no residual shows it once the fit has given way.
func addChords(spread *sym6, used []pair, js []vec6, scales *[2]float64, ref *reference, directions *[6]vec6) {
	size := min(math.Sqrt(2*ref.area/float64(len(ref.mesh.Faces)))/(chordFacet*ref.diag), 1)
	size *= math.Sqrt(size)
	var one [2]vec6
	at := map[regionKey]int{}
	var patches []vec6
	for i := range used {
		p := &used[i]
		left := p.left
		if left == 0 {
			continue
		}
		key := regionOf(p.at, p.n, chordPatch*ref.diag)
		k, ok := at[key]
		if !ok {
			k = len(patches)
			at[key] = k
			patches = append(patches, vec6{})
		}
		w := p.weight(p.r, scales) * size
		for c := range 6 {
			d := w * dot6(&directions[c], &js[i])
			one[p.class][c] += float64(d * left * chordAll)
			patches[k][c] += float64(d * left * chordPart)
		}
	}
	var s sym6
	for i := range one {
		s.addOuter(1, &one[i])
	}
	for i := range patches {
		s.addOuter(1, &patches[i])
	}
	s.mirror()
	for i := range 6 {
		for j := range 6 {
			spread[i][j] += s[i][j]
		}
	}
}
