package gapflush_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func rolledJoint(length float64) *bodywork.Joint {
	return bodywork.NewJoint(bodywork.JointOptions{
		Edge: [2]bodywork.JointEdge{{Radius: 1.5}, {Radius: 1.5}}, Gap: 4, Flush: 0.5, Length: length, Width: 40, Spacing: 1.2, Noise: 0.01, Jitter: 0.2, Seed: 1,
	})
}

// Worked by hand: a step of 2 mm aside and 0.5 mm along is 2.06 mm long, of which 0.5 mm go along: a share of 0.24. An arc of 100 mm
// radius loses, over chords of 20 mm, 1 - sin(0.1)/0.1 = 0.2 %.
func TestStraightness(t *testing.T) {
	require.InDelta(t, 1, gapflush.Straightness([]geom.Vec{{}, {Y: 300}}), 1e-12)
	var zigzag, arc []geom.Vec
	for k := range 400 {
		zigzag = append(zigzag, geom.Vec{X: float64(2 * (k % 2)), Y: 0.5 * float64(k)})
		w := math.Pi * float64(k) / 399
		arc = append(arc, geom.Vec{X: 100 * math.Cos(w), Y: 100 * math.Sin(w)})
	}
	require.InDelta(t, 0.5/math.Hypot(2, 0.5), gapflush.Straightness(zigzag), 0.02)
	require.InDelta(t, math.Sin(0.1)/0.1, gapflush.Straightness(arc), 1e-4)
	require.Zero(t, gapflush.Straightness([]geom.Vec{{}, {Y: 15}}), "too short to tell")
	require.Zero(t, gapflush.Straightness([]geom.Vec{{}, {}}), "no path")
}

func TestASlantwiseOrWaveringPathIsSaid(t *testing.T) {
	m := rolledJoint(120).Mesh
	said := func(path []geom.Vec) string {
		return strings.Join(measure(t, m, gapflush.DefaultSeam("s", path), gapflush.Settings{}).Notes, "\n")
	}
	straight := said([]geom.Vec{{Y: 5}, {Y: 115}})
	require.NotContains(t, straight, "slantwise")
	require.NotContains(t, straight, "to and fro")
	tan := math.Tan(15 * math.Pi / 180)
	require.Contains(t, said([]geom.Vec{{X: -20 * tan, Y: 40}, {X: 20 * tan, Y: 80}}), "The path runs slantwise to the gap, by 15°")
	var wavering []geom.Vec
	for k := range 56 { // 0.5 mm either side every 2 mm: 2.24 mm for 2
		wavering = append(wavering, geom.Vec{X: 0.5 - float64(k%2), Y: 5 + 2*float64(k)})
	}
	// 110 mm of seam by 123 mm of path.
	require.Contains(t, said(wavering), "The path runs to and fro: of its 123 mm, 1")
}

// Turned over, the panels' hems bend outward by their faces: side A is then at +x and flush has the other sign of the
// truth's, so that no number may be given.
func TestAScanInsideOutHasNoNumbers(t *testing.T) {
	j := rolledJoint(120)
	seam := gapflush.DefaultSeam("s", []geom.Vec{{Y: 5}, {Y: 115}})
	for _, st := range measure(t, turnedOver(j.Mesh), seam, gapflush.Settings{}).Stations {
		require.Equal(t, gapflush.TwoSkins, st.State)
		require.False(t, st.Gap.OK || st.Flush.OK || st.Angle.OK)
		why, do := st.Reason()
		require.Equal(t, "The faces look inward: by them the edges of both panels bend outward.", why)
		require.Equal(t, "Turn the scan's faces round (its winding) in the program that made it.", do)
	}
	// A stretch of which the edges were not seen is turned over with the rest.
	m := turnedOver(j.Mesh)
	kept := m.Faces[:0]
	for _, f := range m.Faces {
		if c := m.Vertices[f[0]]; math.Abs(c.Y-60) > 18 || c.Z > -0.4 && (c.Z > 0.1 || c.X < 0) {
			kept = append(kept, f)
		}
	}
	m.Faces = kept
	r := measure(t, m, seam, gapflush.Settings{})
	for _, st := range r.Stations {
		require.False(t, st.Gap.OK || st.Flush.OK, "%s: %s", st.State, st.Why)
	}
	require.Empty(t, r.Sides(), "which side is which hangs on what is outside")
	// Arcs of 50 degrees of small hems rise so little that no station tells it by itself; those beside it tell it with it.
	for _, noise := range []float64{0.02, 0.05} {
		for _, seen := range [][2]float64{{50, 50}, {180, 55}} {
			p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1, 1}, Gap: 5, Flush: 1, Length: 100, Spacing: 0.8, Jitter: 0.4, Noise: noise, Seed: 18, Seen: [2]float64{seen[0] * math.Pi / 180, seen[1] * math.Pi / 180}})
			for _, st := range measure(t, turnedOver(p.Mesh), s, gapflush.Settings{}).Stations {
				require.Equal(t, gapflush.TwoSkins, st.State, "%v mm, %v: %s", noise, seen, st.Why)
				require.False(t, st.Flush.OK || st.Angle.OK)
			}
			for _, st := range measure(t, p.Mesh, s, gapflush.Settings{}).Stations {
				require.Equal(t, gapflush.Measured, st.State, "%v mm, %v: %s", noise, seen, st.Why)
			}
		}
	}
	// Edges of which next to nothing was seen keep their flush.
	p, s := piece(bodywork.SeamPieceOptions{Radius: [2]float64{1.5, 1.5}, Gap: 4, Flush: 0.5, Length: 100, Seen: [2]float64{15 * math.Pi / 180, 15 * math.Pi / 180}})
	for _, st := range measure(t, p.Mesh, s, gapflush.Settings{}).Stations {
		require.Equal(t, gapflush.NoseUnseen, st.State, st.Why)
		require.True(t, st.Flush.OK)
	}
}
