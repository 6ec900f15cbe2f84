package pieces

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"shutline/deviation/align"
	"shutline/mesh/geom"
)

// Marker is a named point that several pieces, or pieces and the reference, have.
type Marker struct {
	Name  string
	Seen  []Sighting
	Sigma float64 // mm, standard uncertainty of each coordinate; 0: DefaultMarkerSigma
}

// Sighting is where a piece has a marker.
type Sighting struct {
	Piece int      // by index; the number of pieces for the reference
	At    geom.Vec // mm, in the piece's own frame
}

// DefaultMarkerSigma in mm is what the centre of a stuck-on target is read to by hand-held scanners
// (common practice).
const DefaultMarkerSigma = 0.1

const (
	// contradictChance: a marker that others as good as stated leave out by so much so seldom contradicts them.
	contradictChance = 1e-3
	// contradictSigmas: and by so many standard uncertainties at least.
	contradictSigmas = 5.0
	// contradictGain: leaving it out must lessen what is left by this factor; else the
	// pieces, and not the marker, are at fault.
	contradictGain = 4.0
	// stillContradicts, chi-square for each degree of freedom: markers that leave more without the worst of them are at odds by more than it.
	stillContradicts = contradictSigmas * contradictSigmas
	// heldShare of a sighting's variance must be checked by others for it to be judged.
	heldShare = 0.01
)

func (m *Marker) sigma() float64 {
	if m.Sigma > 0 {
		return m.Sigma
	}
	return DefaultMarkerSigma
}

// checkMarkers refuses markers that name no piece, and those that contradict one another.
func checkMarkers(markers []Marker, nodes int, name func(int) string) error {
	names := map[string]bool{}
	for i := range markers {
		m := &markers[i]
		if names[m.Name] {
			return refusal("marker %q is given twice; give it once, with all pieces that have it", m.Name)
		}
		names[m.Name] = true
		at := map[int]bool{}
		for _, s := range m.Seen {
			if s.Piece < 0 || s.Piece >= nodes {
				return refusal("marker %q is on piece %d of %d", m.Name, s.Piece+1, nodes)
			}
			if at[s.Piece] {
				return refusal("marker %q is given twice in %s; give it once", m.Name, name(s.Piece))
			}
			at[s.Piece] = true
			if !s.At.IsFinite() {
				return refusal("marker %q has a coordinate in %s that is no number", m.Name, name(s.Piece))
			}
		}
	}
	return nil
}

// common returns the markers that two nodes both have.
func common(markers []Marker, a, b int) (pairs []align.Pair) {
	for _, m := range markers {
		var pa, pb *geom.Vec
		for k := range m.Seen {
			switch m.Seen[k].Piece {
			case a:
				pa = &m.Seen[k].At
			case b:
				pb = &m.Seen[k].At
			}
		}
		if pa != nil && pb != nil {
			pairs = append(pairs, align.Pair{Scan: *pa, Reference: *pb})
		}
	}
	return pairs
}

// Scale is by what factor lengths were measured too long.
type Scale struct {
	Factor float64
	Sigma  float64 // standard uncertainty of the factor
	Chi2   float64 // of the lengths about it
	DoF    int
}

// ScaleOf returns the factor that explains measured lengths by nominal ones, mm, each with its standard
// uncertainty u: Σ w m L / Σ w L² with w = 1/u².
func ScaleOf(measured, nominal, u []float64) Scale {
	var top, bottom float64
	for k := range measured {
		w := 1 / float64(u[k]*u[k])
		top += float64(float64(w*measured[k]) * nominal[k])
		bottom += float64(float64(w*nominal[k]) * nominal[k])
	}
	s := Scale{Factor: top / bottom, Sigma: 1 / math.Sqrt(bottom), DoF: len(measured) - 1}
	for k := range measured {
		e := (measured[k] - float64(s.Factor*nominal[k])) / u[k]
		s.Chi2 += float64(e * e)
	}
	return s
}

// scaleBetween returns by what factor one node's markers lie farther apart than another's; ok is false
// with fewer than two.
func scaleBetween(pairs []align.Pair, sigma float64) (Scale, bool) {
	var measured, nominal, u []float64
	for i := range pairs {
		for j := range i {
			l := pairs[i].Reference.Dist(pairs[j].Reference)
			if l > 0 {
				measured, nominal = append(measured, pairs[i].Scan.Dist(pairs[j].Scan)), append(nominal, l)
				u = append(u, 2*sigma) // two ends on two pieces
			}
		}
	}
	if len(measured) == 0 {
		return Scale{}, false
	}
	return ScaleOf(measured, nominal, u), true
}

// startByMarkers lays nodes on one another by markers alone, three or more at a time, beginning
// with the first of the nodes laid. It adds what it laid to laid.
func startByMarkers(markers []Marker, poses []geom.Rigid, laid []bool) {
	for again := true; again; {
		again = false
		for k := range poses {
			for b := 0; b < len(poses) && !laid[k]; b++ {
				if !laid[b] {
					continue
				}
				pairs := common(markers, k, b)
				if len(pairs) < 3 {
					continue
				}
				fit, err := align.FitPairs(pairs, geom.EmptyBox())
				if err != nil {
					continue
				}
				poses[k], laid[k], again = poses[b].After(fit.ReferenceFromScan), true, true
			}
		}
	}
}

// contradiction looks for markers that contradict the others, by the markers alone: each is left out in
// turn, and by how far the others put it elsewhere is compared with its uncertainty. It
// returns a sentence, "" for none.
//
// Leaving one observation out of a linear least squares changes chi-square by vᵀ S⁻¹ v, v its
// residual and S that one's covariance (Baarda 1968).
func contradiction(markers []Marker, poses []geom.Rigid, fixed []bool, name func(int) string) string {
	g, of := graphOf(markers, nil, poses, fixed)
	if len(g.sights) == 0 {
		return ""
	}
	g.solve()
	type finding struct {
		sight  int
		chi2   float64
		moved  float64
		chance float64
	}
	var worst finding
	var all []finding
	for k := range g.sights {
		chi2, away, rank := g.leftOut(k)
		if rank == 0 {
			continue
		}
		f := finding{k, chi2, away, ChiSquareTail(chi2, rank)}
		all = append(all, f)
		if chi2 > worst.chi2 {
			worst = f
		}
	}
	if len(all) == 0 || worst.chance*float64(len(all)) > contradictChance || worst.moved < contradictSigmas*g.sights[worst.sight].sigma {
		return ""
	}
	if left := g.solution.chi2 - worst.chi2; left*contradictGain > g.solution.chi2 && left > 2*float64(g.solution.dof) {
		return "" // no single marker explains it
	}
	// Those that cannot be told from the worst are named with it.
	var names, where []string
	for _, f := range all {
		if f.chi2 < worst.chi2*(1-1e-6) {
			continue
		}
		m, z := &markers[of[f.sight]], g.sights[f.sight]
		if q := fmt.Sprintf("%q", m.Name); !slices.Contains(names, q) {
			names = append(names, q)
		}
		if w := name(z.node); !slices.Contains(where, w) {
			where = append(where, w)
		}
	}
	if left := g.solution.chi2 - worst.chi2; len(names) == 1 && left > stillContradicts*float64(max(g.solution.dof, 1)) {
		return fmt.Sprintf("markers contradict one another, %s the most: in %s it lies %.2f mm from where the others put it, of which %.2f mm (k = 2) are its uncertainty, and without it the others still disagree: check all their coordinates, and whether two have exchanged names",
			names[0], strings.Join(where, " or "), worst.moved, 2*g.sights[worst.sight].sigma)
	}
	if len(names) == 1 {
		return fmt.Sprintf("marker %s contradicts the others: in %s it lies %.2f mm from where they put it, of which %.2f mm (k = 2) are its uncertainty; check its coordinates, or leave it out",
			names[0], strings.Join(where, " or "), worst.moved, 2*g.sights[worst.sight].sigma)
	}
	return fmt.Sprintf("markers %s contradict one another in %s by %.2f mm, of which %.2f mm (k = 2) are their uncertainty; check their coordinates, or add a marker that tells which is wrong",
		strings.Join(names, ", "), strings.Join(where, " and "), worst.moved, 2*g.sights[worst.sight].sigma)
}

// frame sets the graph's centre and lever from its points.
func (g *graph) frame() {
	box := geom.BoxOf(g.points)
	if !box.Empty() {
		g.centre, g.lever = box.Center(), max(box.Diagonal()/2, 1)
	}
}

// leftOut returns by how much chi-square falls when a sight is left out, how far, in mm, the others
// then put it elsewhere, and how many of its three coordinates they check.
func (g *graph) leftOut(k int) (chi2, away float64, rank int) {
	s := g.solution
	z := &g.sights[k]
	first := len(s.covariance) - 3*len(g.points)
	p := g.poses[z.node].Apply(z.at)
	v := p.Sub(g.points[z.point])
	var rows [3][]float64
	for axis := range 3 {
		full := make([]float64, len(s.covariance))
		column, value := g.sightRow(s.column[z.node], first+3*z.point, p, axis)
		for i, c := range column {
			full[c] = value[i]
		}
		rows[axis] = full
	}
	spread := make([][]float64, 3)
	for a := range 3 {
		spread[a] = make([]float64, 3)
		for b := range 3 {
			sum := 0.0
			for i, x := range rows[a] {
				if x == 0 {
					continue
				}
				for j, y := range rows[b] {
					if y != 0 {
						sum += float64(float64(x*s.covariance[i][j]) * y)
					}
				}
			}
			spread[a][b] = -sum
			if a == b {
				spread[a][b] += float64(z.sigma * z.sigma)
			}
		}
	}
	values, vectors := geom.EigenSymmetric(spread)
	var moved geom.Vec
	for i, e := range vectors {
		if values[i] < heldShare*z.sigma*z.sigma {
			continue
		}
		rank++
		d := geom.Vec{X: e[0], Y: e[1], Z: e[2]}
		along := d.Dot(v)
		chi2 += float64(along*along) / values[i]
		moved = moved.AddScaled(along*z.sigma*z.sigma/values[i], d)
	}
	return chi2, moved.Norm(), rank
}
