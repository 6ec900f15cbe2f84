package chart

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// The letters stand on the sides that the stations' directions say, and their texts apart from all others.
func TestSeamsAreDrawnWithTheirSides(t *testing.T) {
	m, _, _ := skin(240)
	model := shade.NewModel(m, nil)
	for name, toB := range map[string]float64{"as-walked": 1, "turned": -1} {
		seam := seamOf(27)
		for i := range seam.Stations {
			st := &seam.Stations[i]
			st.P, st.U, st.A = m.Vertices[(i+2)*240/30*241+60], geom.Vec{Y: -1}, geom.Vec{X: toB}
		}
		seam.Verdict = 0
		cam, ok := HeatCamera("left", model.Box(), 1600, 900, 1.25)
		require.True(t, ok)
		pic := shade.RenderStill([]*shade.Model{model}, cam, shade.LightTheme(), 1600, 900, 0)
		img := Seams(pic, cam, SeamsInfo{Title: "scan.stl", View: "left", Seams: []*gapflush.Result{seam}, OwnFrame: true}, Light(), 1.25)
		keep(t, "seams-"+name, img)
		// Rings in the colours of the sides, left of the panel: the view is from the left, so that +x is at its right.
		th := Light()
		x := map[[3]uint8][]int{}
		for py := range 900 {
			for px := range 1600 - 290 {
				c := img.RGBAAt(px, py)
				x[[3]uint8{c.R, c.G, c.B}] = append(x[[3]uint8{c.R, c.G, c.B}], px)
			}
		}
		mean := func(c [3]uint8) float64 {
			require.NotEmpty(t, x[c], "%s: a side is not marked", name)
			sum := 0
			for _, v := range x[c] {
				sum += v
			}
			return float64(sum) / float64(len(x[c]))
		}
		a, b := mean([3]uint8{th.Line.R, th.Line.G, th.Line.B}), mean([3]uint8{th.Second.R, th.Second.G, th.Second.B})
		require.Positive(t, toB*(b-a), "%s: A at %.0f, B at %.0f", name, a, b)
	}
}

func TestTheSeamPlotSaysWhichSideIsWhich(t *testing.T) {
	r := seamOf(12)
	require.Empty(t, sidesLine(r), "no direction is known")
	for i := range r.Stations {
		r.Stations[i].A = geom.Vec{X: 0.9, Y: 0.4}
	}
	require.Equal(t, "side A, wing: toward −x     side B, sliding door: toward +x", sidesLine(r))
	for i := range r.Stations {
		r.Stations[i].A = geom.Vec{X: -0.9, Y: 0.4}
	}
	require.Equal(t, "side A, wing: toward +x     side B, sliding door: toward −x", sidesLine(r))
	s := drawSeam(2000, 1100, Light(), 2, r, -1)
	keep(t, "seam-sides", s.img)
	noOverlap(t, s)

	st := r.Stations[0]
	require.Equal(t, ", toward +x", stationWay(&st, 0))
	require.Equal(t, ", toward −x", stationWay(&st, 1))
	noOverlap(t, drawStation(1600, 1100, Light(), 2, r.Seam, &st))
	noOverlap(t, drawStation(340, 240, Light(), 1, r.Seam, &st))
}
