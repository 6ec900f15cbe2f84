package align

import (
	"errors"
	"fmt"
	"math"

	"shutline/mesh/geom"
)

// ErrPairs is the sentinel of point pairs that determine no motion.
var ErrPairs = errors.New("the point pairs determine no motion")

// collinearShare is how small the second principal spread of the points may be
// beside the first before the turn about their line counts as undetermined:
// points read off a screen to 1 mm over 1 m leave 1e-3, squared 1e-6.
const collinearShare = 1e-6

// Pairs returns the rigid motion that brings the scan points closest to their
// partners on the reference in the sense of least squares, and the RMS distance
// left, in mm. It never mirrors and never scales. It needs three pairs or more
// that do not lie on one line.
//
// Based on: Horn, "Closed-form solution of absolute orientation using unit
// quaternions" (1987): the greatest eigenvector of a 4 by 4 matrix is always a
// proper turn, so that no determinant needs to be mended afterwards.
func Pairs(scan, reference []geom.Vec) (referenceFromScan geom.Rigid, rms float64, err error) {
	g, _, _, err := fitPairs(scan, reference)
	if err != nil {
		return geom.Identity(), 0, err
	}
	return g, pairRMS(g, 1, scan, reference), nil
}

// Similarity is Pairs with a free scale c: reference = c R scan + t. It serves
// to report a scale error beside a rigid fit; nothing is ever placed with it.
//
// Based on: Umeyama, "Least-squares estimation of transformation parameters
// between two point patterns" (1991).
func Similarity(scan, reference []geom.Vec) (referenceFromScan geom.Rigid, scale, rms float64, err error) {
	g, gain, variance, err := fitPairs(scan, reference)
	if err != nil {
		return geom.Identity(), 0, 0, err
	}
	scale = gain / variance
	g.T = meanOf(reference).Sub(g.ApplyDir(meanOf(scan)).Scale(scale))
	return g, scale, pairRMS(g, scale, scan, reference), nil
}

// fitPairs returns the rigid fit, the covariance along it (Umeyama's tr DS)
// and the variance of the scan points.
func fitPairs(scan, reference []geom.Vec) (g geom.Rigid, gain, variance float64, err error) {
	if len(scan) != len(reference) {
		return g, 0, 0, fmt.Errorf("align: %d scan points but %d reference points: %w", len(scan), len(reference), ErrPairs)
	}
	if len(scan) < 3 {
		return g, 0, 0, fmt.Errorf("align: %d point pairs, three or more are needed: %w", len(scan), ErrPairs)
	}
	for i := range scan {
		if !scan[i].IsFinite() || !reference[i].IsFinite() {
			return g, 0, 0, fmt.Errorf("align: pair %d has a coordinate that is not finite: %w", i+1, ErrPairs)
		}
	}
	for _, side := range []struct {
		name   string
		points []geom.Vec
	}{{"scan", scan}, {"reference", reference}} {
		if onLine(side.points) {
			return g, 0, 0, fmt.Errorf("align: the %s points of the pairs lie on one line, so the turn about it is unknown; add a pair off the line: %w", side.name, ErrPairs)
		}
	}
	ms, mr := meanOf(scan), meanOf(reference)
	var s geom.Mat3 // covariance, rows scan, columns reference
	for i := range scan {
		p, q := scan[i].Sub(ms), reference[i].Sub(mr)
		variance += p.Norm2()
		for r := range 3 {
			for c := range 3 {
				s[r][c] += float64(p.At(r) * q.At(c))
			}
		}
	}
	turn, gain := hornTurn(s)
	g = geom.Rigid{R: turn}
	g.T = mr.Sub(g.ApplyDir(ms))
	return g, gain, variance, nil
}

// hornTurn returns the turn that gains most of a covariance, and the gain.
func hornTurn(s geom.Mat3) (geom.Mat3, float64) {
	n := [][]float64{
		{s[0][0] + s[1][1] + s[2][2], s[1][2] - s[2][1], s[2][0] - s[0][2], s[0][1] - s[1][0]},
		{0, s[0][0] - s[1][1] - s[2][2], s[0][1] + s[1][0], s[2][0] + s[0][2]},
		{0, 0, -s[0][0] + s[1][1] - s[2][2], s[1][2] + s[2][1]},
		{0, 0, 0, -s[0][0] - s[1][1] + s[2][2]},
	}
	for r := range 4 {
		for c := range r {
			n[r][c] = n[c][r]
		}
	}
	values, vectors := geom.EigenSymmetric(n)
	q := vectors[3]
	w, x, y, z := q[0], q[1], q[2], q[3]
	m := geom.Mat3{
		{1 - 2*(float64(y*y)+float64(z*z)), 2 * (float64(x*y) - float64(w*z)), 2 * (float64(x*z) + float64(w*y))},
		{2 * (float64(x*y) + float64(w*z)), 1 - 2*(float64(x*x)+float64(z*z)), 2 * (float64(y*z) - float64(w*x))},
		{2 * (float64(x*z) - float64(w*y)), 2 * (float64(y*z) + float64(w*x)), 1 - 2*(float64(x*x)+float64(y*y))},
	}
	return m, values[3]
}

func meanOf(points []geom.Vec) geom.Vec {
	var s geom.Vec
	for _, p := range points {
		s = s.Add(p)
	}
	return s.Scale(1 / float64(len(points)))
}

func onLine(points []geom.Vec) bool {
	values, _ := principalAxes(points)
	return !(values[1] > collinearShare*values[2])
}

// principalAxes returns the eigenvalues of the points' scatter, ascending, and the axes.
func principalAxes(points []geom.Vec) ([3]float64, [3]geom.Vec) {
	m := meanOf(points)
	a := [][]float64{{0, 0, 0}, {0, 0, 0}, {0, 0, 0}}
	for _, p := range points {
		d := p.Sub(m)
		for r := range 3 {
			for c := range 3 {
				a[r][c] += float64(d.At(r) * d.At(c))
			}
		}
	}
	values, vectors := geom.EigenSymmetric(a)
	var axes [3]geom.Vec
	for i, v := range vectors {
		axes[i] = geom.Vec{X: v[0], Y: v[1], Z: v[2]}
	}
	return [3]float64(values), axes
}

func pairRMS(g geom.Rigid, scale float64, scan, reference []geom.Vec) float64 {
	s := 0.0
	for i := range scan {
		s += g.ApplyDir(scan[i]).Scale(scale).Add(g.T).Sub(reference[i]).Norm2()
	}
	return math.Sqrt(s / float64(len(scan)))
}
